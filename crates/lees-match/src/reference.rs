//! Setting the shift axis: the NMR solvent's own lines, TMS, water and the product's signals must agree.
//!
//! A single line never decides alone when the axis would have to move far: every offset that would put some line on
//! an anchor is scored by all anchors together (Harris et al., Pure Appl. Chem. 2001, 73, 1795, for the scale itself).

use lees_core::check::Reference;
use lees_core::{Line, LineKind, Ppm, Product, ShiftAxis};
use lees_process::Processed;

use crate::MatchError;
use crate::settings::Settings;
use crate::table::{NmrSolvent, ResidualLine, Tables};

/// The axis and what it rests on.
#[derive(Debug, Clone)]
pub(crate) struct Settled<'t> {
    /// The NMR solvent, when it is known.
    pub solvent: Option<&'t NmrSolvent>,
    /// The referenced axis.
    pub axis: ShiftAxis,
    /// What was used; `None` when the axis was left as it came.
    pub reference: Option<Reference>,
    /// What a careful reader should know.
    pub warnings: Vec<String>,
}

/// Lines offered to an anchor: the tallest.
const MOST_LINES: usize = 120;
/// A line this near to an anchor's place, in ppm, stands on it.
const ON_ANCHOR: f64 = 0.008;
/// An axis that is off by less than this, in ppm, is an ordinary one.
const ORDINARY: f64 = 0.06;
/// Score from which an offset is believed.
const LEAST_SCORE: f64 = 2.0;
/// The best offset must beat any other by this much.
const LEAST_LEAD: f64 = 1.0;
/// NMR solvents tried when neither label nor flag names one.
const USUAL: [&str; 8] = ["CDCl3", "DMSO-d6", "acetone-d6", "CD3CN", "CD3OD", "CD2Cl2", "C6D6", "D2O"];

/// Finds NMR solvent and axis.
///
/// # Errors
/// When the settings name an NMR solvent that is in no table.
pub(crate) fn settle<'t>(
    processed: &Processed,
    product: Option<&Product>,
    tables: &'t Tables,
    settings: &Settings,
) -> Result<Settled<'t>, MatchError> {
    let mut warnings = Vec::new();
    let named = match &settings.solvent {
        Some(name) => Some(tables.require_nmr_solvent(name)?),
        None => from_label(processed, tables, &mut warnings),
    };
    let lines = tallest(&processed.lines);
    let believed = match named {
        Some(solvent) => best(solvent, &lines, product, processed).map(|found| (solvent, found)),
        None => guess(tables, &lines, product, processed),
    };
    let axis = processed.spectrum.axis;
    let Some((solvent, found)) = believed else {
        warnings.push(match named {
            Some(solvent) => format!(
                "no line of the spectrum could be told to be the residual signal of {}: the shift axis was left as it came",
                solvent.name
            ),
            None => "the NMR solvent could not be told from the spectrum: name it with --solvent".to_owned(),
        });
        return Ok(Settled { solvent: named, axis, reference: None, warnings });
    };
    if named.is_none() {
        warnings.push(format!("the NMR solvent is not stated; the spectrum fits {}", solvent.name));
    }
    if found.offset.abs() > ORDINARY {
        warnings.push(format!(
            "the shift axis was off by {:+.3} ppm; {} lines agree on the correction",
            found.offset, found.agreeing
        ));
    }
    let reference = Reference {
        signal: found.signal,
        observed: Ppm(found.expected - found.offset),
        expected: Ppm(found.expected),
        applied: Ppm(found.offset),
    };
    Ok(Settled {
        solvent: Some(solvent),
        axis: axis.moved(Ppm(found.offset)),
        reference: Some(reference),
        warnings,
    })
}

fn from_label<'t>(
    processed: &Processed,
    tables: &'t Tables,
    warnings: &mut Vec<String>,
) -> Option<&'t NmrSolvent> {
    let label = processed.spectrum.acquisition.solvent.as_deref()?;
    let known = tables.nmr_solvent(label);
    if known.is_none() {
        warnings.push(format!("the file's solvent label `{label}` is no known NMR solvent"));
    }
    known
}

fn tallest(lines: &[Line]) -> Vec<Line> {
    let mut sorted: Vec<Line> = lines.iter().filter(|l| l.kind == LineKind::Signal).cloned().collect();
    sorted.sort_by(|a, b| b.height.total_cmp(&a.height).then(b.shift.0.total_cmp(&a.shift.0)));
    sorted.truncate(MOST_LINES);
    sorted
}

/// An offset and what speaks for it.
struct Offset {
    offset: f64,
    score: f64,
    agreeing: usize,
    signal: String,
    expected: f64,
}

/// The NMR solvent whose anchors fit best, when it is clearly the best.
fn guess<'t>(
    tables: &'t Tables,
    lines: &[Line],
    product: Option<&Product>,
    processed: &Processed,
) -> Option<(&'t NmrSolvent, Offset)> {
    let mut found: Vec<(&NmrSolvent, Offset)> = USUAL
        .iter()
        .filter_map(|name| tables.nmr_solvent(name))
        .filter_map(|solvent| Some((solvent, best(solvent, lines, product, processed)?)))
        .filter(|(_, offset)| offset.offset.abs() < ORDINARY)
        .collect();
    found.sort_by(|a, b| b.1.score.total_cmp(&a.1.score).then(a.0.index.cmp(&b.0.index)));
    let lead = found.get(1).map_or(f64::INFINITY, |second| found[0].1.score - second.1.score);
    (lead > LEAST_LEAD / 2.0).then(|| found.into_iter().next()).flatten()
}

/// The best offset for a solvent, or `None` when none is believed or two are as good.
fn best(
    solvent: &NmrSolvent,
    lines: &[Line],
    product: Option<&Product>,
    processed: &Processed,
) -> Option<Offset> {
    let mut tried: Vec<Offset> = Vec::new();
    for line in lines {
        for anchor in solvent.residual.iter().filter(|a| a.signal != "OH" || solvent.residual.len() == 1) {
            let offset = anchor.shift.0 - line.shift.0;
            let signal = format!("{} in {}", anchor.species, solvent.name);
            tried.push(judge(offset, signal, anchor.shift.0, solvent, lines, product, processed));
        }
        let signal = "TMS".to_owned();
        tried.push(judge(-line.shift.0, signal, 0.0, solvent, lines, product, processed));
    }
    tried.sort_by(|a, b| b.score.total_cmp(&a.score).then(a.offset.abs().total_cmp(&b.offset.abs())));
    let top = tried.first()?;
    let other = tried.iter().find(|t| (t.offset - top.offset).abs() > 2.0 * ON_ANCHOR);
    let lead = other.map_or(f64::INFINITY, |o| top.score - o.score);
    let sure = top.score >= LEAST_SCORE && (lead >= LEAST_LEAD || top.offset.abs() < ORDINARY);
    sure.then(|| tried.swap_remove(0))
}

fn judge(
    offset: f64,
    signal: String,
    expected: f64,
    solvent: &NmrSolvent,
    lines: &[Line],
    product: Option<&Product>,
    processed: &Processed,
) -> Offset {
    let field = processed.spectrum.axis.field().0;
    let on = |shift: f64, within: f64| lines.iter().any(|l| (l.shift.0 + offset - shift).abs() < within);
    let residual = solvent
        .residual
        .iter()
        .map(|anchor| residual_score(anchor, offset, lines, field, processed.shape.fwhm().0))
        .fold(0.0, f64::max);
    let tms = if on(0.0, ON_ANCHOR) && !lines.iter().any(|l| l.shift.0 + offset < -0.6) { 2.0 } else { 0.0 };
    let water = if solvent.water.is_some_and(|w| on(w.0, 0.06)) { 0.7 } else { 0.0 };
    let product = product.map_or(0.0, |p| 5.0 * product_share(p, offset, lines));
    let far = if offset.abs() < ORDINARY { 2.5 * offset.abs() / ORDINARY } else { 3.0 + 0.3 * offset.abs() };
    let agreeing = [residual, tms, water].iter().filter(|s| **s > 0.0).count();
    Offset { offset, score: residual + tms + water + product - far, agreeing, signal, expected }
}

/// How well the lines about an anchor look like it.
fn residual_score(anchor: &ResidualLine, offset: f64, lines: &[Line], field: f64, width: f64) -> f64 {
    let at = |shift: f64, within: f64| {
        lines
            .iter()
            .filter(|l| (l.shift.0 + offset - shift).abs() < within)
            .map(|l| l.area)
            .fold(0.0, f64::max)
    };
    let centre = at(anchor.shift.0, ON_ANCHOR);
    if centre <= 0.0 {
        return 0.0;
    }
    let spacing = anchor.j_hd.map_or(0.0, |j| j.0.abs());
    if anchor.deuterons == 0 || spacing < 0.9 * width {
        return 2.5;
    }
    let ratio = if anchor.deuterons == 1 { 1.0 } else { 2.0 / 3.0 };
    let side = |sign: f64| at(anchor.shift.0 + sign * spacing / field, 0.4 / field) / centre;
    let near = |r: f64| (r / ratio).ln().abs() < 0.5;
    if near(side(1.0)) && near(side(-1.0)) { 4.0 } else { 1.0 }
}

/// Share of the product's expected signals that have a line where they should.
fn product_share(product: &Product, offset: f64, lines: &[Line]) -> f64 {
    let seen = product
        .signals
        .iter()
        .filter(|signal| {
            let range = signal.range.widened(Ppm(0.02));
            lines.iter().any(|l| range.contains(Ppm(l.shift.0 + offset)))
        })
        .count();
    seen as f64 / product.signals.len().max(1) as f64
}
