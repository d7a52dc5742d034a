//! The journal line: the product's signals as papers print them.
//!
//! `1H NMR (400 MHz, CDCl3) δ 8.43 (s, 1H), 7.39 (d, J = 9.0 Hz, 1H), ...`: nucleus, frequency, solvent, then each
//! signal with shift, pattern, coupling constants and protons, ranges for multiplets, impurities left out. This is
//! the form of the ACS guidelines for the *Journal of Organic Chemistry* and *Organic Letters* (from memory); RSC
//! papers put the protons first.

use lees_core::check::{Check, Finding, ProductFound, ProductSignal, SignalState};
use lees_core::{Multiplet, Multiplicity, ShiftRange};

use crate::{ReportError, clean, number};

/// A second multiplet in a signal's stretch counts as part of it from this share of the largest one's area.
const SHARE: f64 = 0.1;

/// A known compound claims a multiplet in its stretch unless it is so many times larger than its own signal.
const CLAIM: f64 = 2.0;

/// In which order a signal's bracket is filled.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Order {
    /// `(d, J = 9.0 Hz, 1H)`, as ACS journals print it.
    #[default]
    PatternFirst,
    /// `(1H, d, J = 9.0 Hz)`, as RSC journals often print it.
    ProtonsFirst,
}

/// House style of a journal line.
#[derive(Debug, Clone, PartialEq)]
pub struct ListingStyle {
    /// Decimals of shifts, 2 or 3 in papers.
    pub shift_decimals: u8,
    /// Decimals of coupling constants, 1 in papers.
    pub coupling_decimals: u8,
    /// Order within a bracket.
    pub order: Order,
    /// Whether signals run from high shift to low.
    pub descending: bool,
    /// Whether ranges run from high shift to low.
    pub ranges_descend: bool,
    /// What stands between the ends of a range; typographers want an en dash.
    pub dash: String,
    /// What stands between signals.
    pub separator: String,
    /// Whether the line starts with nucleus, frequency and solvent.
    pub heading: bool,
    /// Whether the residual solvents follow as a sentence.
    pub residuals: bool,
    /// All protons of the compound, to scale areas by when no product was described.
    pub total_protons: Option<f64>,
}

impl Default for ListingStyle {
    fn default() -> Self {
        Self {
            shift_decimals: 2,
            coupling_decimals: 1,
            order: Order::PatternFirst,
            descending: true,
            ranges_descend: true,
            dash: "\u{2013}".to_owned(),
            separator: ", ".to_owned(),
            heading: true,
            residuals: false,
            total_protons: None,
        }
    }
}

/// One signal ready to print.
struct Entry {
    range: ShiftRange,
    multiplicity: Multiplicity,
    couplings: Vec<f64>,
    protons: f64,
}

/// The journal line of the product's signals as measured, ended by a full stop; with `residuals`, a sentence more.
///
/// Shifts, patterns and coupling constants come from the spectrum; protons are the measured ones rounded to whole
/// numbers, or the expected ones where they could not be measured. Expected signals that are missing are left out.
///
/// ```
/// use lees_report::listing::{ListingStyle, line};
/// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/checked_dye.rs")); }
/// # use made::*;
/// let style = ListingStyle { residuals: true, ..ListingStyle::default() };
/// let text = line(&checked_dye(), &style)?;
/// assert!(text.starts_with("1H NMR (400 MHz, CDCl3) δ 8.79 (s, 1H)"), "{text}");
/// assert!(text.contains("Residual solvents seen: 2-propanol"), "{text}");
/// # Ok::<(), lees_report::ReportError>(())
/// ```
///
/// # Errors
/// [`ReportError::NoProtons`] when neither a product nor the number of its protons is known.
pub fn line(check: &Check, style: &ListingStyle) -> Result<String, ReportError> {
    let mut entries = entries(check, style)?;
    entries.sort_by(|a, b| b.range.centre().0.total_cmp(&a.range.centre().0));
    if !style.descending {
        entries.reverse();
    }
    let body: Vec<_> = entries.iter().map(|entry| text(entry, style)).collect();
    let heading = if style.heading { heading(check) } else { String::new() };
    let mut line = format!("{heading}{}.", body.join(&style.separator));
    if let Some(sentence) = residuals(check).filter(|_| style.residuals) {
        line.push(' ');
        line.push_str(&sentence);
    }
    Ok(line)
}

/// The residual volatiles as a sentence, each with what it may be instead; `None` when there are none.
#[must_use]
pub(crate) fn residuals(check: &Check) -> Option<String> {
    let names: Vec<_> = check.volatiles.iter().map(residual).collect();
    (!names.is_empty()).then(|| format!("Residual solvents seen: {}.", names.join(", ")))
}

fn residual(finding: &Finding) -> String {
    let shifts: Vec<_> = finding.signals.iter().map(|s| number::shift(s.shift.0)).collect();
    let content =
        finding.wt_percent.as_ref().map(|e| format!("{} wt%, ", number::value(e))).unwrap_or_default();
    let others: String = finding.rivals.iter().map(|rival| format!(" or {}", clean(&rival.name))).collect();
    format!("{}{others} ({content}\u{3b4} {})", clean(&finding.name), shifts.join(", "))
}

fn heading(check: &Check) -> String {
    let field = number::fixed(check.input.field.0, 0);
    let solvent = check.input.solvent.as_deref().map(|s| format!(", {}", clean(s))).unwrap_or_default();
    format!("1H NMR ({field} MHz{solvent}) \u{3b4} ")
}

fn entries(check: &Check, style: &ListingStyle) -> Result<Vec<Entry>, ReportError> {
    match (&check.product, style.total_protons) {
        (Some(product), _) => Ok(expected(check, product)),
        (None, Some(total)) => Ok(scaled(check, total)),
        (None, None) => Err(ReportError::NoProtons),
    }
}

fn expected(check: &Check, product: &ProductFound) -> Vec<Entry> {
    let seen = product.signals.iter().filter(|s| s.state != SignalState::Missing);
    seen.filter_map(|signal| entry(check, signal)).collect()
}

/// An expected signal with the pattern measured in its stretch.
fn entry(check: &Check, signal: &ProductSignal) -> Option<Entry> {
    let inside: Vec<&Multiplet> =
        check.multiplets.iter().filter(|m| signal.range.contains(m.shift)).collect();
    let main = inside.iter().max_by(|a, b| a.area.total_cmp(&b.area))?;
    let parts = inside.iter().filter(|m| m.area > SHARE * main.area).count();
    let measured = signal.found_protons.map(|e| e.value.round()).filter(|n| *n >= 1.0);
    let covered = signal.state == SignalState::Covered;
    let protons = measured.filter(|_| !covered).unwrap_or(signal.protons);
    Some(if parts > 1 && !covered { joined(&inside, protons) } else { single(main, protons) })
}

/// Several multiplets under one expectation are one `m` over all of them.
fn joined(inside: &[&Multiplet], protons: f64) -> Entry {
    let ends = inside.iter().flat_map(|m| [m.range.high, m.range.low]);
    let high = ends.clone().fold(f64::MIN, |x, p| x.max(p.0));
    let low = ends.fold(f64::MAX, |x, p| x.min(p.0));
    let range = ShiftRange { high: lees_core::Ppm(high), low: lees_core::Ppm(low) };
    Entry { range, multiplicity: Multiplicity::multiplet(), couplings: Vec::new(), protons }
}

fn single(multiplet: &Multiplet, protons: f64) -> Entry {
    let open = multiplet.multiplicity.partners().is_none();
    let point = ShiftRange { high: multiplet.shift, low: multiplet.shift };
    Entry {
        range: if open { multiplet.range } else { point },
        multiplicity: multiplet.multiplicity.clone(),
        couplings: multiplet.couplings.iter().map(|(j, _)| j.0).collect(),
        protons,
    }
}

/// Without product: what no known compound claims, scaled to the given number of protons.
fn scaled(check: &Check, total: f64) -> Vec<Entry> {
    let known = check.volatiles.iter().chain(check.not_counted.iter().map(|n| &n.finding));
    let taken: Vec<_> = known.flat_map(|f| f.signals.iter().map(|s| (s.range, s.area))).collect();
    let is_taken = |m: &Multiplet| {
        taken.iter().any(|(range, area)| range.contains(m.shift) && area.is_some_and(|a| m.area < CLAIM * a))
    };
    let own: Vec<_> = check.multiplets.iter().filter(|m| !is_taken(m)).collect();
    let sum: f64 = own.iter().map(|m| m.area).sum();
    let protons = |m: &Multiplet| (m.area / sum * total).round();
    own.iter().filter(|m| protons(m) >= 1.0).map(|m| single(m, protons(m))).collect()
}

fn text(entry: &Entry, style: &ListingStyle) -> String {
    let protons = format!("{}H", number::limit(entry.protons));
    let mut pattern = vec![entry.multiplicity.to_string()];
    if !entry.couplings.is_empty() {
        let j = |j: &f64| number::fixed(*j, i32::from(style.coupling_decimals));
        let all: Vec<_> = entry.couplings.iter().map(j).collect();
        pattern.push(format!("J = {} Hz", all.join(", ")));
    }
    let place = if style.order == Order::ProtonsFirst { 0 } else { pattern.len() };
    pattern.insert(place, protons);
    format!("{} ({})", shift(entry.range, style), pattern.join(", "))
}

fn shift(range: ShiftRange, style: &ListingStyle) -> String {
    let one = |x: f64| number::fixed(x, i32::from(style.shift_decimals));
    let (high, low) = (one(range.high.0), one(range.low.0));
    if high == low {
        return high;
    }
    let (first, second) = if style.ranges_descend { (high, low) } else { (low, high) };
    format!("{first}{}{second}", style.dash)
}
