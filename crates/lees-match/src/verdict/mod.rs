//! The decision: guarded acceptance against the limits, in sentences.
//!
//! A content counts as under a limit when the upper end of its 95 % interval is, as over it when the lower end is (guarded
//! acceptance and rejection, JCGM 106:2012); between, it is undecided, and what would decide it is said.

mod reason;

use lees_core::check::{Check, Estimate, Finding, LimitStatus, Verdict};

use crate::advice;
use crate::decide::what_would_decide;
use crate::digits::{content, with_interval};
use crate::finding::is_thin;
use crate::interval::conformance;
use crate::limits::Limits;
use crate::table::Tables;
use crate::uncertainty::quadrature;
use crate::unseen::Unseen;

/// Where an estimate stands against a limit, both in wt%.
///
/// ```
/// use lees_core::check::{Estimate, LimitStatus};
/// use lees_match::verdict::status;
/// let found = Estimate { value: 0.40, low: 0.34, high: 0.46, u: 0.03 };
/// assert_eq!(status(&found, Some(0.50)), LimitStatus::Below);
/// assert_eq!(status(&found, Some(0.45)), LimitStatus::Undecided);
/// assert_eq!(status(&found, Some(0.30)), LimitStatus::Above);
/// assert_eq!(status(&found, None), LimitStatus::NoLimit);
/// ```
#[must_use]
pub fn status(estimate: &Estimate, limit_wt_percent: Option<f64>) -> LimitStatus {
    match limit_wt_percent {
        None => LimitStatus::NoLimit,
        Some(limit) if estimate.high <= limit => LimitStatus::Below,
        Some(limit) if estimate.low > limit => LimitStatus::Above,
        Some(_) => LimitStatus::Undecided,
    }
}

/// Holds every finding and the total against the limits and writes verdict, reasons, advice and cautions into `check`.
///
/// What was not found counts with what would have been seen: it widens the total, and decides where the chemist set a limit of
/// its own.
///
/// ```
/// use lees_core::{LimitSet, MassFraction, Measurement, check::Verdict};
/// use lees_match::{Settings, identify, limits::Limits, table::Tables, verdict::decide};
/// use lees_process::{Workspace, process};
/// use lees_spin::simulate::{Recipe, simulate};
/// let text = "formula = 'C16H16N2O2S'\nsignals = '8.79 (s, 1H), 7.87 (d, 1H), 7.47 (d, 1H), 7.41 (d, 1H), \
///             6.66 (dd, 1H), 6.55 (d, 1H), 3.46 (q, 4H), 1.25 (t, 6H)'";
/// let dye = lees_format::product::parse(text, "dye.toml").expect("a product");
/// let made = Measurement::Spectrum(simulate(&Recipe::wet_dye()).expect("a sound recipe").spectrum);
/// let processed = process(&made, &Default::default(), &mut Workspace::new()).expect("a spectrum");
/// let tables = Tables::bundled();
/// let mut check = identify(&processed, Some(&dye), tables, &Settings::default())?;
/// assert_eq!(check.verdict, Verdict::Undecided, "no limit, nothing to decide");
/// let total: MassFraction = "0.5 wt%".parse().expect("a mass fraction");
/// decide(&mut check, &Limits::resolve(&LimitSet { total: Some(total), ..LimitSet::default() }, None, tables)?, tables);
/// assert_eq!(check.verdict, Verdict::NeedsDrying);
/// # Ok::<(), lees_match::MatchError>(())
/// ```
pub fn decide(check: &mut Check, limits: &Limits, tables: &Tables) {
    decide_in_doubt(check, limits, tables, Doubts::default());
}

/// Doubts about the spectrum itself, in sentences.
#[derive(Default)]
pub(crate) struct Doubts {
    /// Why names and contents may be wrong: nothing is decided.
    pub blurred: Option<String>,
    /// Why something may stand there unrecognised: it is not called dry.
    pub blind: Vec<String>,
}

/// As [`decide`], with doubts about the spectrum itself.
pub(crate) fn decide_in_doubt(check: &mut Check, limits: &Limits, tables: &Tables, doubts: Doubts) {
    let unseen = Unseen::of(check);
    check.total.wt_percent = unseen.total();
    mark(check, limits, tables);
    let mut said = Sentences {
        blurred: doubts.blurred.into_iter().collect(),
        undecided: doubts.blind,
        ..Sentences::default()
    };
    said.missing_solvent(check);
    said.missing_description(check);
    said.missing_limits(check, limits);
    said.findings(check, limits, tables);
    said.total(check, &unseen);
    said.unseen(check, limits, tables);
    said.unmeasured(check, limits);
    said.hidden(check, &unseen);
    check.verdict = said.verdict();
    said.unexplained(check);
    said.joint(check);
    said.beyond_sight(check, limits, tables);
    check.reasons = said.reasons();
    check.advice = advice::advice(check, tables);
    check.cautions = advice::cautions(check, tables);
    check.cautions.append(&mut said.cautions);
}

/// Fills in limits, status and conformance.
fn mark(check: &mut Check, limits: &Limits, tables: &Tables) {
    let sums = shared_sums(&check.volatiles, limits, tables);
    let residual = check.input.solvent.as_deref().and_then(|label| tables.nmr_solvent(label));
    let own_lines = residual.and_then(|solvent| solvent.protio.as_deref());
    let not_counted = check
        .not_counted
        .iter_mut()
        .map(|entry| &mut entry.finding)
        .filter(|finding| finding.name == "water" && own_lines != Some("water"));
    for finding in check.volatiles.iter_mut().chain(not_counted) {
        let limit = tables.compound(&finding.name).and_then(|compound| limits.of(compound));
        let Some(estimate) = finding.wt_percent else { continue };
        finding.limit_wt_percent = limit.as_ref().map(|limit| limit.fraction.wt_percent());
        let entry = limit.and_then(|limit| limit.shared_entry);
        let judged =
            entry.and_then(|entry| sums.iter().find(|(name, _)| *name == entry)).map_or(estimate, |s| s.1);
        finding.status = status(&judged, finding.limit_wt_percent);
        finding.conformance =
            finding.limit_wt_percent.map(|limit| conformance(judged.value, judged.u, limit));
    }
    // how much of it is the batch's nobody knows: less than all of it may be over the limit, or none
    let over = |finding: &&mut Finding| finding.status == LimitStatus::Above;
    for finding in check.not_counted.iter_mut().map(|entry| &mut entry.finding).filter(over) {
        (finding.status, finding.conformance) = (LimitStatus::Undecided, None);
    }
    check.total.limit_wt_percent = limits.total.map(|total| total.wt_percent());
    if let Some(total) = &check.total.wt_percent {
        check.total.status = status(total, check.total.limit_wt_percent);
    } else if check.total.limit_wt_percent.is_some() {
        check.total.status = LimitStatus::Undecided;
    }
}

/// Sums of findings that stand under one entry of the guideline.
fn shared_sums(volatiles: &[Finding], limits: &Limits, tables: &Tables) -> Vec<(String, Estimate)> {
    let mut sums: Vec<(String, Estimate)> = Vec::new();
    for finding in volatiles {
        let limit = tables.compound(&finding.name).and_then(|compound| limits.of(compound));
        let (Some(entry), Some(one)) = (limit.and_then(|l| l.shared_entry), finding.wt_percent) else {
            continue;
        };
        match sums.iter_mut().find(|(name, _)| *name == entry) {
            Some((_, sum)) => *sum = added(sum, &one),
            None => sums.push((entry, one)),
        }
    }
    sums
}

/// The sum of two independent estimates.
fn added(a: &Estimate, b: &Estimate) -> Estimate {
    let value = a.value + b.value;
    let up = quadrature([a.high - a.value, b.high - b.value]);
    let down = quadrature([a.value - a.low, b.value - b.low]);
    Estimate { value, low: (value - down).max(0.0), high: value + up, u: quadrature([a.u, b.u]) }
}

/// Sentences by their weight on the verdict.
#[derive(Default)]
struct Sentences {
    blurred: Vec<String>,
    above: Vec<String>,
    undecided: Vec<String>,
    below: Vec<String>,
    aside: Vec<String>,
    cautions: Vec<String>,
}

impl Sentences {
    fn verdict(&self) -> Verdict {
        match (self.blurred.is_empty(), self.above.is_empty(), self.undecided.is_empty()) {
            (true, false, _) => Verdict::NeedsDrying,
            (true, true, true) => Verdict::Dry,
            _ => Verdict::Undecided,
        }
    }

    fn reasons(&mut self) -> Vec<String> {
        let mut all = std::mem::take(&mut self.blurred);
        all.append(&mut self.above);
        all.append(&mut self.undecided);
        all.append(&mut self.below);
        all.append(&mut self.aside);
        all
    }

    /// Without the NMR solvent no shift of the tables holds, and nothing was looked for.
    fn missing_solvent(&mut self, check: &Check) {
        if check.input.solvent.is_none() {
            self.undecided.push(
                "The NMR solvent is not known, so no volatile could be looked for: shifts differ from one to another. Name it: --solvent CDCl3, or in the file."
                    .to_owned(),
            );
        }
    }

    fn missing_description(&mut self, check: &Check) {
        match &check.product {
            None => self.undecided.push(
                "No product was described, so contents by mass are not known; give its formula and signals."
                    .to_owned(),
            ),
            Some(product) if product.area_per_proton.is_none() => self.undecided.push(format!(
                "No signal of {} could be measured, so contents by mass are not known.",
                product.name
            )),
            Some(_) => {}
        }
    }

    fn missing_limits(&mut self, check: &Check, limits: &Limits) {
        if !limits.is_empty() {
            return;
        }
        let total = check.total.wt_percent.as_ref().map_or_else(String::new, |total| {
            format!(" The counted volatiles come to {}.", with_interval(total))
        });
        self.undecided.push(format!(
            "No limit was given, so there is nothing to decide; give one for the total or a solvent, or ask for those of ICH Q3C.{total}"
        ));
    }

    fn findings(&mut self, check: &Check, limits: &Limits, tables: &Tables) {
        let water = check.not_counted.iter().map(|entry| &entry.finding);
        let judged = water.filter(|finding| finding.limit_wt_percent.is_some());
        for (finding, counted) in check.volatiles.iter().map(|f| (f, true)).chain(judged.map(|f| (f, false)))
        {
            let Some(estimate) = &finding.wt_percent else { continue };
            let found = format!("{} {}", finding.name, with_interval(estimate));
            let limit = finding.limit_wt_percent.map_or_else(String::new, content);
            let origin = tables
                .compound(&finding.name)
                .and_then(|compound| limits.of(compound))
                .map_or_else(String::new, |limit| limit.origin_words());
            match finding.status {
                LimitStatus::Above if is_thin(finding.evidence) => self.undecided.push(format!(
                    "{found} is over its limit of {limit} wt% ({origin}), but named on low odds: another NMR solvent would tell, or say what was used ({}).",
                    reason::USED
                )),
                LimitStatus::Above => {
                    self.above.push(format!("{found} is over its limit of {limit} wt% ({origin})."));
                }
                LimitStatus::Below => {
                    self.below.push(format!("{found} is under its limit of {limit} wt% ({origin})."));
                }
                LimitStatus::Undecided if !counted => self.undecided.push(format!(
                    "{found}: the limit of {limit} wt% ({origin}) is not above that interval, and how much of it came with the NMR solvent is not known: a spectrum of the NMR solvent alone (--blank FILE) tells."
                )),
                LimitStatus::Undecided => self.undecided.push(format!(
                    "{found}: the limit of {limit} wt% ({origin}) lies within the interval; {}",
                    what_would_decide(finding, check.input.acquisition.scans)
                )),
                LimitStatus::NoLimit => self.without_limit(&found, check, limits),
            }
        }
    }

    /// A volatile that no limit covers must not pass in silence.
    fn without_limit(&mut self, found: &str, check: &Check, limits: &Limits) {
        if check.total.limit_wt_percent.is_none() && !limits.is_empty() {
            self.undecided.push(format!("{found} was found and no limit covers it; give one."));
        }
    }

    fn total(&mut self, check: &Check, unseen: &Unseen) {
        let (Some(total), Some(limit_wt_percent)) = (&check.total.wt_percent, check.total.limit_wt_percent)
        else {
            return;
        };
        let limit = limit_wt_percent;
        let found = format!("All counted volatiles together {}", with_interval(total));
        if check.total.status == LimitStatus::Undecided && unseen.decides(limit) {
            self.undecided.push(reason::unseen_sentence(&found, check, unseen, limit));
            return;
        }
        let limit = content(limit);
        match check.total.status {
            LimitStatus::Above => self.above.push(format!("{found} are over the limit of {limit} wt%.")),
            LimitStatus::Below => self.below.push(format!("{found} are under the limit of {limit} wt%.")),
            LimitStatus::Undecided => {
                let why = reason::why_open(check, total, unseen, limit_wt_percent);
                self.undecided
                    .push(format!("{found}: the limit of {limit} wt% lies within the interval{why}"));
            }
            LimitStatus::NoLimit => {}
        }
    }

    /// Own limits on compounds that were not found.
    fn unseen(&mut self, check: &Check, limits: &Limits, tables: &Tables) {
        for entry in check.not_found.iter().filter(|entry| limits.own_names().any(|name| name == entry.name))
        {
            let limit = tables.compound(&entry.name).and_then(|compound| limits.of(compound));
            let Some(limit) = limit.map(|limit| limit.fraction.wt_percent()) else { continue };
            match entry.at_most_wt_percent {
                Some(most) if most <= limit => self.below.push(format!(
                    "{} was not found: below {} wt%, limit {} wt%.",
                    entry.name,
                    content(most),
                    content(limit)
                )),
                Some(most) => self.undecided.push(format!(
                    "{} was not found, but up to {} wt% could be there and the limit is {} wt%; about {:.0} times as many scans would tell.",
                    entry.name,
                    content(most),
                    content(limit),
                    (most / limit).powi(2).ceil()
                )),
                None => self.undecided.push(format!(
                    "{} was not found, and how much could be there is not known.",
                    entry.name
                )),
            }
        }
    }

    /// Own limits on what was neither measured nor looked for, such as water without a water line.
    fn unmeasured(&mut self, check: &Check, limits: &Limits) {
        let others = check.not_counted.iter().map(|entry| &entry.finding);
        let measured: Vec<&str> = check
            .volatiles
            .iter()
            .chain(others)
            .filter(|finding| finding.limit_wt_percent.is_some())
            .map(|finding| finding.name.as_str())
            .chain(check.not_found.iter().map(|entry| entry.name.as_str()))
            .collect();
        for name in limits.own_names().filter(|name| !measured.contains(name)) {
            self.undecided.push(format!(
                "{name} has a limit, but no line of it could be measured here, and how little would have been seen is not known."
            ));
        }
    }

    /// Usual volatiles that this spectrum could not have shown at the limit on the total.
    fn hidden(&mut self, check: &Check, unseen: &Unseen) {
        if unseen.hidden.is_empty() || check.total.status != LimitStatus::Below {
            return;
        }
        self.undecided.push(format!(
            "Every line of {} lies under the product's signals or outside the recorded range; exclude what was not used (--set 'match.exclude=NAME; NAME'), or take another NMR solvent or a wider range.",
            unseen.hidden.join(", ")
        ));
    }

    fn unexplained(&mut self, check: &Check) {
        let Some(largest) = check.unexplained.iter().max_by(|a, b| a.area.total_cmp(&b.area)) else {
            return;
        };
        let size = largest.relative_protons.map_or_else(String::new, |protons| {
            format!(", {} H per molecule of product", content(protons.value))
        });
        let count = check.unexplained.len();
        let (signals, them) = if count == 1 { ("signal is", "it") } else { ("signals are", "them") };
        let start = if check.verdict == Verdict::Dry { "Dry, but " } else { "" };
        self.aside.push(format!(
            "{start}{count} {signals} explained by neither the product nor a known compound (the largest at {:.2} ppm{size}); drying may not remove {them}.",
            largest.shift.value()
        ));
    }

    /// Several decisions at once are less sure than each.
    fn joint(&mut self, check: &Check) {
        let judged: Vec<f64> = check.volatiles.iter().filter_map(|finding| finding.conformance).collect();
        if check.verdict == Verdict::Dry && judged.len() > 1 {
            let risk: f64 = judged.iter().map(|p| 1.0 - p).sum();
            self.aside.push(format!(
                "The chance that one of these {} contents is over its limit after all is at most {:.1} %.",
                judged.len(),
                100.0 * risk.min(1.0)
            ));
        }
    }

    /// Limits of the guideline that this spectrum cannot reach.
    fn beyond_sight(&mut self, check: &Check, limits: &Limits, tables: &Tables) {
        if !limits.uses_ich() || check.product.is_none() {
            return;
        }
        let blind: Vec<&str> = check
            .not_found
            .iter()
            .filter(|entry| {
                let limit = tables.compound(&entry.name).and_then(|compound| limits.of(compound));
                limit.zip(entry.at_most_wt_percent).is_some_and(|(l, most)| most > l.fraction.wt_percent())
            })
            .map(|entry| entry.name.as_str())
            .collect();
        if !blind.is_empty() {
            if check.verdict == Verdict::Dry {
                self.aside.push(format!(
                    "Dry as far as this spectrum can see: {} of the guideline's volatiles could be over their limit unseen (named under the cautions).",
                    blind.len()
                ));
            }
            self.cautions.push(format!(
                "This spectrum could not have shown these at their ICH Q3C limits, so it says nothing about them: {}.",
                blind.join(", ")
            ));
        }
    }
}
