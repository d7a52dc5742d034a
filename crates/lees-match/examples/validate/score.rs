//! Comparing results with what was planted.

use std::time::Duration;

use lees_core::check::{Check, Estimate, Finding, Verdict};
use lees_match::Explained;
use lees_match::table::Tables;
use lees_spin::simulate::Truth;

use crate::sample::{Form, Sample};

/// One planted volatile and what became of it.
pub(crate) struct Case {
    pub(crate) content: f64,
    pub(crate) field: f64,
    pub(crate) limit: Option<f64>,
    pub(crate) found: bool,
    pub(crate) as_rival: bool,
    pub(crate) error: Option<f64>,
    pub(crate) covered: bool,
    pub(crate) held: Option<bool>,
    /// Error over the stated standard uncertainty.
    pub(crate) pull: Option<f64>,
    pub(crate) strata: Vec<String>,
}

/// Whether a finding is named without the sentence on low odds.
fn is_sure(finding: &Finding) -> bool {
    finding.evidence >= libm::log(20f64)
}

/// Prints the usual volatiles that may hide furthest.
fn show_hidden(check: &Check) {
    let usual = check.not_found.iter().filter(|entry| entry.usual);
    let mut hidden: Vec<(f64, &str)> =
        usual.map(|e| (e.at_most_wt_percent.unwrap_or(f64::INFINITY), e.name.as_str())).collect();
    hidden.sort_by(|a, b| b.0.total_cmp(&a.0));
    println!("   may hide {:.3?}", &hidden[..hidden.len().min(4)]);
}

/// Where an invented line lies this near to a shift of the table, twice the scatter of the shifts planted, no spectrum tells
/// them apart, in ppm.
pub(crate) const ALIKE: f64 = 2.0 * crate::sample::SHIFT_SD;
/// A finding rests on a line this near, in ppm.
const SAME_LINE: f64 = 0.004;

/// Whether every signal that a finding rests on is a line of an unknown impurity, as near to the table's shift as the molecule's
/// own lines are.
fn is_mimicked(finding: &Finding, check: &Check, truth: &Truth) -> bool {
    let (tables, used) = (Tables::bundled(), || finding.signals.iter().filter(|s| s.used));
    let solvent = check.input.solvent.as_deref().and_then(|name| tables.nmr_solvent(name));
    let Some((compound, nmr)) = tables.compound(&finding.name).zip(solvent) else { return false };
    let offset = check.reference.as_ref().map_or(0.0, |reference| reference.applied.0);
    let unknown = || truth.lines.iter().filter(|line| line.compound == "unknown");
    used().count() > 0
        && used().all(|signal| {
            let place = compound.group(&signal.group).and_then(|group| group.shift_in(nmr));
            let near = |ppm: f64| (ppm + offset - signal.shift.0).abs() < SAME_LINE;
            place.is_some_and(|place| (signal.shift.0 - place.centre().0).abs() < ALIKE)
                && unknown().any(|line| near(line.ppm))
        })
}

/// A verdict on the total beside the truth, in wt%.
pub(crate) struct Judged {
    pub(crate) index: u64,
    pub(crate) verdict: Verdict,
    pub(crate) truth: f64,
    pub(crate) limit: f64,
    pub(crate) total: Estimate,
    /// The first reason.
    pub(crate) why: String,
}

impl Judged {
    pub(crate) fn held(&self) -> bool {
        self.total.low <= self.truth && self.truth <= self.total.high
    }

    pub(crate) fn limit_within(&self) -> bool {
        self.total.low <= self.limit && self.limit <= self.total.high
    }
}

/// A sample without volatiles.
pub(crate) struct Bare {
    pub(crate) snr: f64,
    pub(crate) verdict: Verdict,
    /// Volatiles named in it.
    pub(crate) named: usize,
}

/// The score of a run.
#[derive(Default)]
pub(crate) struct Board {
    pub(crate) cases: Vec<Case>,
    pub(crate) findings: usize,
    pub(crate) judged: Vec<Judged>,
    pub(crate) wrong: Vec<String>,
    /// Wrongly named by lines that look like the molecule's own.
    pub(crate) mimics: usize,
    /// Named wrongly, and named at all, at odds of 20 to 1 and better.
    pub(crate) sure: (usize, usize),
    /// Wrong names to be expected if the stated evidence is the logarithm of true odds.
    pub(crate) expected_wrong: f64,
    pub(crate) lost: Vec<String>,
    pub(crate) processing: Duration,
    pub(crate) matching: Duration,
    pub(crate) samples: usize,
    pub(crate) unexplained_false: usize,
    pub(crate) unknown_seen: (usize, usize),
    /// Decoys named, and all that was named with decoys in the tables.
    pub(crate) decoys: (usize, usize),
    pub(crate) sure_decoys: (usize, usize),
    /// The same samples without volatiles.
    pub(crate) bare: Vec<Bare>,
}

impl Board {
    /// Counts the time of one sample.
    pub(crate) fn time(&mut self, processing: Duration, matching: Duration) {
        self.processing += processing;
        self.matching += matching;
        self.samples += 1;
    }

    /// Compares one result with the truth.
    pub(crate) fn add(
        &mut self,
        index: u64,
        sample: &Sample,
        truth: &Truth,
        found: &Explained,
        verbose: bool,
    ) {
        let check = &found.check;
        let mut matched = vec![false; check.volatiles.len()];
        if verbose {
            println!(
                "# {index} {} {} {:.0} MHz snr {:.0} {:?} ref {:?} k u {:?}",
                sample.kind,
                sample.solvent,
                sample.recipe.instrument.field_mhz,
                sample.snr,
                sample.form,
                check.reference.as_ref().map(|r| r.applied.0),
                check.product.as_ref().and_then(|p| p.relative_u),
            );
            for signal in check.product.iter().flat_map(|p| &p.signals) {
                println!(
                    "   product {} found {:?} used {} {:?} {:?}",
                    signal.text,
                    signal.found_protons.map(|e| (e.value * 1e3).round() / 1e3),
                    signal.used,
                    signal.state,
                    signal.note
                );
            }
        }
        if verbose {
            show_hidden(check);
        }
        for planted in &truth.volatiles {
            let content = planted.wt_percent.unwrap_or(0.0);
            let own = check.volatiles.iter().position(|f| f.name == planted.name);
            let rival = check.volatiles.iter().position(|f| f.rivals.iter().any(|r| r.name == planted.name));
            if let Some(k) = own.or(rival) {
                matched[k] = true;
            }
            let finding = own.map(|k| &check.volatiles[k]);
            let case = case(sample, content, finding, rival.is_some(), found, &planted.name);
            if verbose {
                let estimate = finding.and_then(|f| f.wt_percent);
                println!(
                    "   {} {content:.4} -> {:?} limit {:?} {}",
                    planted.name,
                    (
                        estimate.map(|e| (e.value, e.low, e.high)),
                        finding.and_then(|f| f.mole_ratio.map(|e| e.value)),
                        planted.mole_ratio,
                        check.product.as_ref().and_then(|p| p.area_per_proton)
                    ),
                    case.limit,
                    if case.held == Some(false) { "OUTSIDE" } else { "" }
                );
                for part in finding.iter().flat_map(|f| &f.budget) {
                    println!("      {} {:.2} %", part.source, part.percent);
                }
                for s in finding.iter().flat_map(|f| &f.signals) {
                    println!(
                        "      {} {:.3} used {} area {:?} {:?}",
                        s.group, s.shift.0, s.used, s.area, s.note
                    );
                }
            }
            if !case.found && content > 0.1 {
                self.lost.push(format!(
                    "{index}: {} {content:.3} wt% ({}) in {} ({}, {:.0} MHz, snr {:.0})",
                    planted.name,
                    case.limit.map_or_else(|| "no limit".to_owned(), |limit| format!("limit {limit:.3}")),
                    sample.solvent,
                    sample.kind,
                    sample.recipe.instrument.field_mhz,
                    sample.snr
                ));
            }
            self.cases.push(case);
        }
        let limit = check.total.limit_wt_percent;
        if let (Some(total), Some(limit), Some(planted)) =
            (check.total.wt_percent, limit, truth.total_wt_percent)
        {
            let why = check.reasons.first().cloned().unwrap_or_default();
            if verbose && !(total.low <= planted && planted <= total.high) {
                println!(
                    "   TOTAL {index} {:.3} ({:.3} to {:.3}) truth {planted:.3} limit {limit:.3}",
                    total.value, total.low, total.high
                );
            }
            self.judged.push(Judged { index, verdict: check.verdict, truth: planted, limit, total, why });
        }
        self.findings += check.volatiles.len();
        self.sure.1 += check.volatiles.iter().filter(|f| is_sure(f)).count();
        self.expected_wrong +=
            check.volatiles.iter().map(|f| (1.0 + libm::exp(f.evidence)).recip()).sum::<f64>();
        for (_, finding) in check.volatiles.iter().enumerate().filter(|(k, _)| !matched[*k]) {
            if verbose {
                println!(
                    "   WRONG {} {:?} limit {:?}",
                    finding.name,
                    finding.wt_percent.map(|e| (e.value, e.u)),
                    finding.detection_limit_wt_percent
                );
                for s in &finding.signals {
                    println!(
                        "      {} {:.3} used {} area {:?} {:?}",
                        s.group, s.shift.0, s.used, s.area, s.note
                    );
                }
            }
            self.mimics += usize::from(is_mimicked(finding, check, truth));
            self.sure.0 += usize::from(is_sure(finding));
            self.wrong.push(format!(
                "{index}: {} {:.3} wt% evidence {:.1} rivals {:?} in {} ({}; planted {:?}; unknown {})",
                finding.name,
                finding.wt_percent.map_or(0.0, |e| e.value),
                finding.evidence,
                finding.rivals.iter().map(|r| r.name.as_str()).collect::<Vec<_>>(),
                sample.solvent,
                sample.kind,
                sample.planted.iter().map(|(n, c)| format!("{n} {c:.2}")).collect::<Vec<_>>(),
                sample.unknown
            ));
        }
        self.judge_unexplained(truth, check, index, verbose);
    }

    fn judge_unexplained(&mut self, truth: &Truth, check: &Check, index: u64, verbose: bool) {
        let places: Vec<f64> =
            truth.lines.iter().filter(|l| l.compound == "unknown").map(|l| l.ppm).collect();
        for signal in &check.unexplained {
            let near = places
                .iter()
                .any(|p| signal.range.widened(lees_core::Ppm(0.03)).contains(lees_core::Ppm(*p)));
            if !near {
                self.unexplained_false += 1;
                if verbose {
                    println!(
                        "   UNEXPLAINED {:.3} {:?} ({index})",
                        signal.shift.0,
                        signal.relative_protons.map(|e| e.value)
                    );
                }
            }
        }
        if !places.is_empty() {
            self.unknown_seen.1 += 1;
            if !check.unexplained.is_empty() {
                self.unknown_seen.0 += 1;
            }
        }
    }

    /// Counts a sample without volatiles.
    pub(crate) fn add_dry(&mut self, index: u64, sample: &Sample, check: &Check, verbose: bool) {
        if verbose {
            println!(
                "DRY {index} {:?} snr {:.0} {} {:.0} total {:?}\n   {:?}",
                check.verdict,
                sample.snr,
                sample.solvent,
                sample.recipe.instrument.field_mhz,
                check.total.wt_percent.map(|e| e.high),
                check.reasons
            );
            show_hidden(check);
        }
        self.bare.push(Bare { snr: sample.snr, verdict: check.verdict, named: check.volatiles.len() });
    }

    /// What was named with a decoy of each volatile in the tables.
    pub(crate) fn add_decoys(&mut self, found: &Explained) {
        let decoy =
            |f: &&Finding| Tables::is_decoy(&f.name) && f.rivals.iter().all(|r| Tables::is_decoy(&r.name));
        self.decoys.0 += found.check.volatiles.iter().filter(decoy).count();
        self.decoys.1 += found.check.volatiles.len();
        let sure = || found.check.volatiles.iter().filter(|f| is_sure(f));
        self.sure_decoys.0 += sure().filter(decoy).count();
        self.sure_decoys.1 += sure().count();
    }
}

fn case(
    sample: &Sample,
    content: f64,
    finding: Option<&Finding>,
    rival: bool,
    all: &Explained,
    name: &str,
) -> Case {
    // a finding with rivals says that the lines may be another's: its amounts hold under one name each
    let sure = finding.filter(|f| f.rivals.is_empty());
    let estimate = sure.and_then(|f| f.wt_percent);
    let covered = finding.is_some_and(|f| f.signals.iter().any(|s| !s.used && s.protons.is_some()));
    let bin = match content {
        c if c >= 5.0 => "content 5-20",
        c if c >= 1.0 => "content 1-5",
        c if c >= 0.2 => "content 0.2-1",
        _ => "content 0.02-0.2",
    };
    let snr = match sample.snr {
        s if s >= 1500.0 => "snr 1500-4000",
        s if s >= 400.0 => "snr 400-1500",
        _ => "snr 100-400",
    };
    let form = match sample.form {
        Form::Fid => "form FID",
        Form::Complex => "form complex",
        Form::Real => "form real",
    };
    Case {
        content,
        field: sample.recipe.instrument.field_mhz,
        limit: finding.and_then(|f| f.detection_limit_wt_percent).or_else(|| {
            let missed = all.check.not_found.iter().find(|n| n.name == name)?;
            missed.detection_limit_wt_percent
        }),
        found: finding.is_some() || rival,
        as_rival: finding.is_none() && rival,
        error: estimate.map(|e| e.value / content - 1.0),
        covered,
        held: estimate.map(|e| e.low <= content && content <= e.high),
        pull: estimate.filter(|e| e.u > 0.0).map(|e| (e.value - content) / e.u),
        strata: vec![
            bin.to_owned(),
            snr.to_owned(),
            form.to_owned(),
            format!("solvent {}", sample.solvent),
            format!("field {:.0}", sample.recipe.instrument.field_mhz),
            format!("product {}", sample.kind),
            format!("volatile {name}"),
            if covered { "covered".to_owned() } else { "isolated".to_owned() },
        ],
    }
}
