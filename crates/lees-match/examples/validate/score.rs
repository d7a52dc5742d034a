//! Comparing results with what was planted.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::time::Duration;

use lees_core::check::{Check, Estimate, Finding, Verdict};
use lees_match::Explained;
use lees_match::table::Tables;
use lees_spin::simulate::Truth;

use crate::sample::{Form, Sample};

/// One planted volatile and what became of it.
struct Case {
    content: f64,
    field: f64,
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

/// A row with a share, and of how many.
fn share(out: &mut String, what: &str, (some, all): (usize, usize), aim: &str) {
    let percent = 100.0 * some as f64 / all.max(1) as f64;
    let _ = writeln!(out, "| {what} | {percent:.1} % ({some} of {all}) | {aim} |");
}

/// Whether a finding is named without the sentence on low odds.
fn is_sure(finding: &Finding) -> bool {
    finding.evidence >= 20f64.ln()
}

/// Where an invented line lies this near to a shift of the table, twice the scatter of the shifts planted, no spectrum tells
/// them apart, in ppm.
const ALIKE: f64 = 2.0 * crate::sample::SHIFT_SD;
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
struct Judged {
    index: u64,
    verdict: Verdict,
    truth: f64,
    limit: f64,
    total: Estimate,
    /// The first reason.
    why: String,
}

impl Judged {
    fn held(&self) -> bool {
        self.total.low <= self.truth && self.truth <= self.total.high
    }

    fn limit_within(&self) -> bool {
        self.total.low <= self.limit && self.limit <= self.total.high
    }
}

/// The score of a run.
#[derive(Default)]
pub(crate) struct Board {
    cases: Vec<Case>,
    findings: usize,
    judged: Vec<Judged>,
    wrong: Vec<String>,
    /// Wrongly named by lines that look like the molecule's own.
    mimics: usize,
    /// Named wrongly, and named at all, at odds of 20 to 1 and better.
    sure: (usize, usize),
    /// Wrong names to be expected if the stated evidence is the logarithm of true odds.
    expected_wrong: f64,
    lost: Vec<String>,
    processing: Duration,
    matching: Duration,
    samples: usize,
    unexplained_false: usize,
    unknown_seen: (usize, usize),
    /// Decoys named, and all that was named with decoys in the tables.
    decoys: (usize, usize),
    sure_decoys: (usize, usize),
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
            self.judged.push(Judged { index, verdict: check.verdict, truth: planted, limit, total, why });
        }
        self.findings += check.volatiles.len();
        self.sure.1 += check.volatiles.iter().filter(|f| is_sure(f)).count();
        self.expected_wrong += check.volatiles.iter().map(|f| (1.0 + f.evidence.exp()).recip()).sum::<f64>();
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

    /// The page, in Markdown.
    pub(crate) fn page(&self) -> String {
        let mut out = String::from(
            "# Validation of the matching\n\nGenerated by `cargo run --release -p lees-match --example validate`; not to be edited by hand.\n\n\
             Simulated recordings of invented products with planted volatiles: 60 to 600 MHz, five NMR solvents, one-proton height over noise 100 to 4000,\n\
             1 to 4 volatiles at 0.02 to 20 wt%, unknown impurities in a third, carbon-13 satellites, rolling baseline, phase errors; two fifths\n\
             as FID, two fifths with an imaginary part, one fifth as a real part phased to about 0.3 degrees. Shifts scatter by 0.005 ppm about the\n\
             tables, couplings by 0.06 Hz about values written down apart from the tables. All protons are fully relaxed.\n\n",
        );
        let _ = writeln!(
            out,
            "{} samples, {} volatiles planted, {} findings. Processing {:.0} ms, matching {:.0} ms a spectrum (wall clock, shared machine).\n",
            self.samples,
            self.cases.len(),
            self.findings,
            self.processing.as_secs_f64() * 1e3 / self.samples.max(1) as f64,
            self.matching.as_secs_f64() * 1e3 / self.samples.max(1) as f64
        );
        out.push_str("| what | measured | aim |\n|---|---|---|\n");
        self.found(&mut out);
        self.errors(&mut out);
        self.verdicts(&mut out);
        self.coverage(&mut out);
        let _ = writeln!(
            out,
            "\nUnknown impurities: something unexplained is reported in {} of {} samples that have one (most are small or lie under other\n\
             signals); {} unexplained signals were not planted as such.\n",
            self.unknown_seen.0, self.unknown_seen.1, self.unexplained_false
        );
        list(&mut out, "Named but not planted", &self.wrong);
        list(&mut out, "Planted at 0.1 wt% or more and not named", &self.lost);
        out
    }

    fn found(&self, out: &mut String) {
        let mut row = |what: &str, aim: &str, keep: &dyn Fn(&Case) -> bool| {
            let all: Vec<&Case> = self.cases.iter().filter(|c| keep(c)).collect();
            let hit = all.iter().filter(|c| c.found).count();
            let rival = all.iter().filter(|c| c.as_rival && c.found).count();
            let percent = 100.0 * hit as f64 / all.len().max(1) as f64;
            let _ = writeln!(
                out,
                "| found, {what} | {percent:.1} % of {} ({rival} as a rival) | {aim} |",
                all.len()
            );
        };
        let above = |c: &Case| c.limit.is_none_or(|l| c.content > l);
        row("1 wt% and over", "99.5 %", &|c| c.content >= 1.0);
        row("1 wt% and over, over the stated detection limit", "", &|c| c.content >= 1.0 && above(c));
        row("0.1-1 wt%, over the stated detection limit", "98 %", &|c| {
            (0.1..1.0).contains(&c.content) && above(c)
        });
        row("0.1-1 wt%, all", "", &|c| (0.1..1.0).contains(&c.content));
        row("under 0.1 wt%, over the stated detection limit", "", &|c| c.content < 0.1 && above(c));
        let high = |c: &Case| c.field > 200.0;
        row("1 wt% and over, 300-600 MHz", "99.5 %", &|c| c.content >= 1.0 && high(c));
        row("0.1-1 wt% over the limit, 300-600 MHz", "98 %", &|c| {
            (0.1..1.0).contains(&c.content) && above(c) && high(c)
        });
        let wrong = (self.wrong.len(), self.findings);
        share(out, "named wrongly or invented", wrong, "0.5 %");
        share(
            out,
            "... without the sentence that it is named on low odds (under 20 to 1)",
            self.sure,
            "0.5 %",
        );
        let _ = writeln!(
            out,
            "| ... as many as the stated evidence, the logarithm of odds, lets expect | {:.1} |  |",
            self.expected_wrong
        );
        let _ = writeln!(
            out,
            "| ... resting on lines of an unknown impurity within {ALIKE} ppm of the table's: no spectrum tells them apart | {} |  |",
            self.mimics
        );
        share(out, "decoys named, one decoy of each volatile in the tables", self.decoys, "1 %");
        share(out, "... at odds of 20 to 1 and better", self.sure_decoys, "1 %");
    }

    fn errors(&self, out: &mut String) {
        for (label, covered, aim) in
            [("isolated", false, "median 1 %, p90 4 %"), ("a group covered", true, "median 3 %, p90 12 %")]
        {
            let mut errors: Vec<f64> = self
                .cases
                .iter()
                .filter(|c| c.covered == covered && c.content >= 1.0)
                .filter_map(|c| c.error.map(f64::abs))
                .collect();
            errors.sort_by(f64::total_cmp);
            let at = |q: f64| 100.0 * quantile(&errors, q);
            let _ = writeln!(
                out,
                "| wt% error, 1 wt% and over, {label} ({}) | median {:.2} %, p90 {:.2} %, worst {:.0} % | {aim} |",
                errors.len(),
                at(0.5),
                at(0.9),
                at(1.0)
            );
        }
    }

    fn verdicts(&self, out: &mut String) {
        let count = |keep: &dyn Fn(&Judged) -> bool| self.judged.iter().filter(|j| keep(j)).count();
        let (dry, wet) = (|j: &Judged| j.truth <= j.limit, |j: &Judged| j.truth > j.limit);
        let row = |out: &mut String, what: &str, hit: usize, of: usize, aim: &str| {
            let _ = writeln!(out, "| {what} | {hit} of {of} | {aim} |");
        };
        let is = |verdict: Verdict| move |j: &Judged| j.verdict == verdict;
        let (said_dry, said_wet) = (is(Verdict::Dry), is(Verdict::NeedsDrying));
        let undecided = is(Verdict::Undecided);
        row(
            out,
            "said dry when the total is over its limit",
            count(&|j| said_dry(j) && wet(j)),
            count(&wet),
            "2.5 %",
        );
        row(
            out,
            "said to need drying when it is under",
            count(&|j| said_wet(j) && dry(j)),
            count(&dry),
            "2.5 %",
        );
        row(
            out,
            "undecided, limit within the interval",
            count(&|j| undecided(j) && j.limit_within()),
            count(&undecided),
            "all",
        );
        for other in self.judged.iter().filter(|j| undecided(j) && !j.limit_within()) {
            let _ = writeln!(out, "| ... for another reason: sample {} | {} | |", other.index, other.why);
        }
        row(
            out,
            "95 % intervals of the total that hold the truth",
            count(&Judged::held),
            self.judged.len(),
            "95 %",
        );
        let (under, over) = (count(&|j| j.truth < j.total.low), count(&|j| j.truth > j.total.high));
        let _ = writeln!(out, "| ... truth under the interval, over it | {under}, {over} | 12, 12 |");
        let false_dry: Vec<String> = self
            .judged
            .iter()
            .filter(|j| said_dry(j) && wet(j))
            .map(|j| {
                format!(
                    "{} ({:.3} to {:.3} for {:.3}, limit {:.3})",
                    j.index, j.total.low, j.total.high, j.truth, j.limit
                )
            })
            .collect();
        let _ = writeln!(out, "| said dry wrongly: samples | {} | |", false_dry.join("; "));
    }

    fn coverage(&self, out: &mut String) {
        let held: Vec<bool> = self.cases.iter().filter_map(|c| c.held).collect();
        let rate = |h: &[bool]| 100.0 * h.iter().filter(|x| **x).count() as f64 / h.len().max(1) as f64;
        let _ = writeln!(
            out,
            "| 95 % intervals that hold the truth | {:.1} % of {} | 93-97 % |",
            rate(&held),
            held.len()
        );
        let mut pulls: Vec<f64> = self.cases.iter().filter_map(|c| c.pull.map(f64::abs)).collect();
        pulls.sort_by(f64::total_cmp);
        let _ = writeln!(
            out,
            "| error over stated uncertainty | 68 % within {:.2}, 90 % within {:.2}, 95 % within {:.2} | 1.0, 1.6, 2.0 |",
            quantile(&pulls, 0.68),
            quantile(&pulls, 0.9),
            quantile(&pulls, 0.95)
        );
        let mut strata: BTreeMap<&str, Vec<bool>> = BTreeMap::new();
        for case in &self.cases {
            for stratum in &case.strata {
                strata.entry(stratum).or_default().extend(case.held);
            }
        }
        out.push_str(
            "\nIntervals that hold the truth, by stratum of 40 and more (findings with rivals left out):\n\n",
        );
        out.push_str("| stratum | findings | hold |\n|---|---|---|\n");
        for (name, held) in strata.iter().filter(|(_, h)| h.len() >= 40) {
            let _ = writeln!(out, "| {name} | {} | {:.1} % |", held.len(), rate(held));
        }
    }
}

fn list(out: &mut String, title: &str, lines: &[String]) {
    let _ = writeln!(out, "## {title} ({})\n", lines.len());
    for line in lines {
        let _ = writeln!(out, "- sample {line}");
    }
    out.push('\n');
}

fn quantile(sorted: &[f64], q: f64) -> f64 {
    let at = ((sorted.len() as f64 - 1.0).max(0.0) * q).round() as usize;
    sorted.get(at).copied().unwrap_or(f64::NAN)
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
