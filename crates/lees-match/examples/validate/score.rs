//! Comparing results with what was planted.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::time::Duration;

use lees_core::check::{Check, Finding};
use lees_match::Explained;
use lees_spin::simulate::Truth;

use crate::sample::{Form, Sample};

/// One planted volatile and what became of it.
struct Case {
    content: f64,
    limit: Option<f64>,
    found: bool,
    as_rival: bool,
    error: Option<f64>,
    covered: bool,
    held: Option<bool>,
    /// Error over the stated standard uncertainty.
    pull: Option<f64>,
    strata: Vec<String>,
}

/// The score of a run.
#[derive(Default)]
pub(crate) struct Board {
    cases: Vec<Case>,
    findings: usize,
    wrong: Vec<String>,
    lost: Vec<String>,
    processing: Duration,
    matching: Duration,
    samples: usize,
    unexplained_false: usize,
    unknown_seen: (usize, usize),
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
                    "{index}: {} {content:.3} wt% in {} ({}, {:.0} MHz, snr {:.0})",
                    planted.name, sample.solvent, sample.kind, sample.recipe.instrument.field_mhz, sample.snr
                ));
            }
            self.cases.push(case);
        }
        self.findings += check.volatiles.len();
        for ((), finding) in
            check.volatiles.iter().enumerate().filter(|(k, _)| !matched[*k]).map(|(_, f)| ((), f))
        {
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
            self.wrong.push(format!(
                "{index}: {} {:.3} wt% evidence {:.1} rivals {:?} in {} ({}; planted {:?}; unknown {})",
                finding.name,
                finding.wt_percent.map_or(0.0, |e| e.value),
                finding.evidence,
                finding.rivals.iter().map(|r| r.name.as_str()).collect::<Vec<_>>(),
                sample.solvent,
                sample.kind,
                sample.planted,
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

    /// The tables, in Markdown.
    pub(crate) fn page(&self) -> String {
        let mut out = String::new();
        let _ = writeln!(
            out,
            "\n{} samples, {} volatiles planted, {} found",
            self.samples,
            self.cases.len(),
            self.findings
        );
        let _ = writeln!(
            out,
            "processing {:.1} ms, matching {:.1} ms a spectrum",
            self.processing.as_secs_f64() * 1e3 / self.samples.max(1) as f64,
            self.matching.as_secs_f64() * 1e3 / self.samples.max(1) as f64
        );
        self.found(&mut out);
        self.errors(&mut out);
        self.coverage(&mut out);
        let _ = writeln!(
            out,
            "unknown impurities: flagged in {} of {} samples; {} unexplained signals not planted",
            self.unknown_seen.0, self.unknown_seen.1, self.unexplained_false
        );
        let _ = writeln!(out, "\nwrong ({}):\n{}", self.wrong.len(), self.wrong.join("\n"));
        let _ = writeln!(out, "\nlost ({}):\n{}", self.lost.len(), self.lost.join("\n"));
        out
    }

    fn found(&self, out: &mut String) {
        let share = |keep: &dyn Fn(&Case) -> bool| {
            let all: Vec<&Case> = self.cases.iter().filter(|c| keep(c)).collect();
            let hit = all.iter().filter(|c| c.found).count();
            let rival = all.iter().filter(|c| c.as_rival && c.found).count();
            format!(
                "{hit} of {} ({:.2} %), {rival} of them as a rival",
                all.len(),
                100.0 * hit as f64 / all.len().max(1) as f64
            )
        };
        let above = |c: &Case| c.limit.is_none_or(|l| c.content > l);
        let _ = writeln!(out, "found >= 1 wt%: {}", share(&|c| c.content >= 1.0));
        let _ = writeln!(out, "found >= 1 wt% over limit: {}", share(&|c| c.content >= 1.0 && above(c)));
        let _ = writeln!(
            out,
            "found 0.1-1 wt% over limit: {}",
            share(&|c| (0.1..1.0).contains(&c.content) && above(c))
        );
        let _ = writeln!(out, "found 0.1-1 wt%: {}", share(&|c| (0.1..1.0).contains(&c.content)));
        let _ = writeln!(out, "found < 0.1 wt% over limit: {}", share(&|c| c.content < 0.1 && above(c)));
        let _ = writeln!(
            out,
            "wrong: {} of {} findings ({:.2} %)",
            self.wrong.len(),
            self.findings,
            100.0 * self.wrong.len() as f64 / self.findings.max(1) as f64
        );
    }

    fn errors(&self, out: &mut String) {
        for (label, covered) in [("isolated", false), ("covered", true)] {
            let mut errors: Vec<f64> = self
                .cases
                .iter()
                .filter(|c| c.covered == covered && c.content >= 1.0)
                .filter_map(|c| c.error.map(f64::abs))
                .collect();
            errors.sort_by(f64::total_cmp);
            let at = |q: f64| {
                errors.get(((errors.len() as f64 - 1.0) * q).round() as usize).copied().unwrap_or(f64::NAN)
            };
            let _ = writeln!(
                out,
                "wt% error >= 1 wt%, {label} ({}): median {:.2} %, p90 {:.2} %, max {:.1} %",
                errors.len(),
                100.0 * at(0.5),
                100.0 * at(0.9),
                100.0 * at(1.0)
            );
        }
    }

    fn coverage(&self, out: &mut String) {
        let held: Vec<bool> = self.cases.iter().filter_map(|c| c.held).collect();
        let rate = |h: &[bool]| 100.0 * h.iter().filter(|x| **x).count() as f64 / h.len().max(1) as f64;
        let _ = writeln!(out, "95 % intervals hold: {:.1} % of {}", rate(&held), held.len());
        let mut strata: BTreeMap<&str, Vec<bool>> = BTreeMap::new();
        for case in &self.cases {
            for stratum in &case.strata {
                strata.entry(stratum).or_default().extend(case.held);
            }
        }
        let mut pulls: Vec<f64> = self.cases.iter().filter_map(|c| c.pull.map(f64::abs)).collect();
        pulls.sort_by(f64::total_cmp);
        let at = |q: f64| pulls.get(((pulls.len() as f64 - 1.0) * q) as usize).copied().unwrap_or(f64::NAN);
        let _ = writeln!(
            out,
            "error over u: median {:.2}, 68 % {:.2}, 90 % {:.2}, 95 % {:.2}",
            at(0.5),
            at(0.68),
            at(0.9),
            at(0.95)
        );
        for case in self.cases.iter().filter(|c| c.held == Some(false)) {
            let _ = writeln!(
                out,
                "  outside: {:.3} wt% error {:+.2} % pull {:+.1} {:?}",
                case.content,
                100.0 * case.error.unwrap_or(f64::NAN),
                case.pull.unwrap_or(f64::NAN),
                &case.strata[2..7]
            );
        }
        for (name, held) in strata.iter().filter(|(_, h)| h.len() >= 40) {
            let _ = writeln!(out, "  {name}: {:.1} % of {}", rate(held), held.len());
        }
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
        limit: finding.and_then(|f| f.detection_limit_wt_percent).or_else(|| {
            let missed = all.not_found.iter().find(|n| n.name == name)?;
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
