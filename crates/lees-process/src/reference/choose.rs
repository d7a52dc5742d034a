//! The choice over solvent and displacement together.

use std::collections::BTreeSet;

use lees_core::Ppm;

use super::peaks::{Company, Peak, Peaks};
use super::weigh::{Known, STANDARD, Word, student};
use super::{ReferenceFound, ReferenceHypothesis, ReferenceRole, ReferenceSettings};
use crate::Processed;

/// Scatter of ordinary axes, ppm (lock, concentration, temperature; real files at hand: up to 0.08).
const ORDINARY_PPM: f64 = 0.03;
/// Beyond this an axis is not ordinary, ppm.
const USUAL_PPM: f64 = 0.12;
/// Share of axes that are off by anything, from a wrong lock or a wrong reference.
const WRONG_LOCK: f64 = 0.1;
/// No proton signals are expected outside, ppm.
const PROTONS: (f64, f64) = (-0.7, 14.5);
/// Protons with coupling partners are not expected beyond, ppm (aldehydes and acids stand alone; common practice, no source).
const COUPLED_PPM: f64 = 10.2;
/// Logarithmic height, over the tallest line, from which a line outside tells against a displacement.
const TELLING: f64 = -4.0;
/// How much such lines tell.
const OUTSIDE: f64 = 0.02;
/// Another line fixes the axis when the answer by it is at least this likely beside the best.
const COMPARABLE: f64 = 0.05;
/// Displacements nearer than this are the same answer, line widths.
const SAME_WIDTHS: f64 = 0.15;
/// A line whose position is less sure than this, in line widths, moves nothing.
const MOST_U: f64 = 0.055;
/// The residual line is as good as the standard when its position is as sure as this, in line widths.
const FINE_U: f64 = 0.025;
/// The axis is right by a line that stands in its place within this many standard uncertainties.
const WITHIN_U: f64 = 2.0;

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// Place, in the list given, of the solvent that the spectrum fits best with its chance (0 to 1).
    pub solvent: Option<(usize, f64)>,
    /// The displacement of that solvent's lines, when it is sure.
    pub found: Option<ReferenceFound>,
    /// What would be the best answer but is not sure enough.
    pub doubtful: Option<Doubtful>,
}

/// An answer that is not sure enough.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Doubtful {
    /// Place, in the list given, of its solvent.
    pub solvent: usize,
    /// Its displacement.
    pub offset: Ppm,
    /// Odds of that solvent against the others and against none being seen, at whatever displacement: it may be sure where
    /// the displacement is not.
    pub odds: f64,
}

/// One explanation: a line is an anchor of a solvent.
struct Answer {
    solvent: usize,
    offset: f64,
    weight: f64,
    anchor: usize,
    line: usize,
    shift_u: f64,
    /// The line is plain to see as what it is.
    plain: bool,
    /// Anchors and their lines: answers that share such a pair are the same.
    pairs: BTreeSet<(usize, usize)>,
    /// Candidates seen, and where.
    agreeing: Vec<(usize, f64)>,
}

/// Chooses solvent and displacement, or says that nothing is sure.
///
/// The first hypothesis is the one that is believed beforehand (the file's label): to leave it takes the odds of
/// [`ReferenceSettings::least_odds_unusual`] when its prior is above one half.
///
/// ```
/// use lees_core::{Measurement, Ppm};
/// use lees_process::reference::{ReferenceCandidate, ReferenceHypothesis, ReferenceRole, ReferenceSettings, choose};
/// use lees_process::{Settings, Workspace, process};
/// use lees_spin::simulate::{Recipe, simulate};
/// let made = simulate(&Recipe::wet_dye()).expect("a sound recipe");
/// let done = process(&Measurement::Spectrum(made.spectrum), &Settings::default(), &mut Workspace::new())?;
/// let solvent = |name: &str, shift, pattern: &str| ReferenceHypothesis {
///     name: name.into(),
///     prior: 0.5,
///     candidates: vec![ReferenceCandidate {
///         name: format!("residual line of {name}"), expected: Ppm(shift), tolerance: Ppm(0.01),
///         multiplicity: pattern.parse().ok(), coupling: None, role: ReferenceRole::Residual,
///     }],
/// };
/// let choice = choose(&done, &[solvent("DMSO-d6", 2.50, "quint"), solvent("CDCl3", 7.26, "s")], &ReferenceSettings::default());
/// let (place, chance) = choice.solvent.expect("one of the two");
/// assert_eq!(place, 1, "there is a line at 7.26 ppm, none at 2.50 ({chance})");
/// # Ok::<(), lees_process::ProcessError>(())
/// ```
#[must_use]
pub fn choose(
    processed: &Processed,
    hypotheses: &[ReferenceHypothesis],
    settings: &ReferenceSettings,
) -> Choice {
    let peaks = Peaks::of(processed);
    let mut answers = Vec::new();
    let mut nothing = 0.0;
    for (index, hypothesis) in hypotheses.iter().enumerate() {
        let known: Vec<Known<'_>> = hypothesis.candidates.iter().map(|c| Known::of(c, &peaks)).collect();
        nothing += hypothesis.prior * unseen(processed, &peaks, &known);
        for (anchor, candidate) in known.iter().enumerate().filter(|(_, k)| k.fixes()) {
            for peak in &peaks.all {
                let offset = candidate.candidate.expected.0 - candidate.place(peak).0;
                if offset.abs() <= settings.most_offset_ppm {
                    let mut answer = judge(processed, &peaks, &known, anchor, peak, settings);
                    answer.solvent = index;
                    answer.weight *= hypothesis.prior;
                    answers.push(answer);
                }
            }
        }
    }
    decide(hypotheses, &mut answers, nothing, SAME_WIDTHS * peaks.trace.fwhm / peaks.trace.field, settings)
}

/// Weight of no anchor being seen.
fn unseen(processed: &Processed, peaks: &Peaks<'_>, known: &[Known<'_>]) -> f64 {
    known
        .iter()
        .map(|k| if k.fixes() { 1.0 - k.presence() } else { k.word(processed, peaks, 0.0).factor })
        .product()
}

fn judge(
    processed: &Processed,
    peaks: &Peaks<'_>,
    known: &[Known<'_>],
    anchor: usize,
    peak: &Peak,
    settings: &ReferenceSettings,
) -> Answer {
    let (place, shift_u) = known[anchor].place(peak);
    let offset = known[anchor].candidate.expected.0 - place;
    let mut weight = prior(offset, settings) * known[anchor].presence() * known[anchor].likeness(peak);
    let mut pairs = BTreeSet::from([(known[anchor].key(anchor), peak.id)]);
    let mut agreeing = vec![(anchor, place)];
    if weight > 0.0 {
        let mut words: Vec<(usize, Word)> = (0..known.len())
            .filter(|k| *k != anchor)
            .map(|k| (k, known[k].word(processed, peaks, offset)))
            .collect();
        words.sort_by(|a, b| b.1.factor.total_cmp(&a.1.factor));
        let mut taken = BTreeSet::from([peak.id]);
        for (k, word) in words {
            // A line is one thing only: the candidate that it fits best has it.
            let Some(line) = word.line else {
                weight *= word.factor;
                continue;
            };
            if !known[k].shares() && !taken.insert(line) {
                weight *= word.absent;
                continue;
            }
            weight *= word.factor;
            agreeing.push((k, peaks.all.get(line).map_or(f64::NAN, |peak| known[k].place(peak).0)));
            if known[k].fixes() {
                pairs.insert((known[k].key(k), line));
            }
        }
        weight *= outside(peaks, offset);
    }
    Answer {
        solvent: 0,
        offset,
        weight,
        anchor,
        line: peak.id,
        shift_u,
        plain: known[anchor].plain(peak),
        pairs,
        agreeing,
    }
}

/// Density of displacements before the spectrum is looked at, per ppm.
fn prior(offset: f64, settings: &ReferenceSettings) -> f64 {
    let ordinary = student(offset / ORDINARY_PPM) / ORDINARY_PPM;
    (1.0 - WRONG_LOCK) * ordinary + WRONG_LOCK / (2.0 * settings.most_offset_ppm)
}

/// What lines where protons have none say against a displacement: any line far out, coupled ones beyond 10 ppm.
fn outside(peaks: &Peaks<'_>, offset: f64) -> f64 {
    let clear = peaks.all.iter().filter(|p| p.ln_height > TELLING);
    let mut factor = 1.0f64;
    for peak in clear {
        let place = peak.shift + offset;
        let coupled = peak.company == Company::Partner && place > COUPLED_PPM;
        if place < PROTONS.0 || place > PROTONS.1 || coupled {
            factor = factor.min(OUTSIDE);
        }
    }
    factor
}

fn decide(
    hypotheses: &[ReferenceHypothesis],
    answers: &mut [Answer],
    nothing: f64,
    nearer: f64,
    settings: &ReferenceSettings,
) -> Choice {
    answers.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    let none = Choice { solvent: None, found: None, doubtful: None };
    let Some(top) = answers.first().filter(|a| a.weight > 0.0) else { return none };
    let same = |a: &Answer| {
        (a.offset - top.offset).abs() < nearer
            || a.pairs.intersection(&top.pairs).any(|pair| a.solvent == top.solvent || pair.0 == STANDARD)
    };
    let rest: f64 = nothing + answers.iter().filter(|a| !same(a)).map(|a| a.weight).sum::<f64>();
    let next = answers.iter().find(|a| !same(a)).map_or(nothing, |a| a.weight.max(nothing));
    let odds = top.weight / rest.max(f64::MIN_POSITIVE);
    let (own, others) = answers.iter().fold((0.0, nothing), |(own, others), a| {
        if a.solvent == top.solvent { (own + a.weight, others) } else { (own, others + a.weight) }
    });
    let doubt =
        Doubtful { solvent: top.solvent, offset: Ppm(top.offset), odds: own / others.max(f64::MIN_POSITIVE) };
    let doubtful = Choice { doubtful: Some(doubt), ..none };
    let wanted = if top.offset.abs() > USUAL_PPM { settings.least_odds_unusual } else { settings.least_odds };
    if odds < wanted {
        return doubtful;
    }
    let solvents = solvent_odds(hypotheses.len(), answers.iter().filter(|a| same(a)));
    let labelled = hypotheses[0].prior > 0.5;
    let enough = if labelled { settings.least_odds_unusual } else { settings.least_odds };
    let sure = (labelled && top.solvent == 0) || solvents[top.solvent] >= enough;
    // The axis may be sure, by the standard, while the solvent is not: then the label stands.
    let by_label = answers.iter().find(|a| labelled && a.solvent == 0 && same(a));
    let (chosen, known) = match by_label {
        _ if sure => (top, true),
        Some(answer) if answer.weight > nothing.max(next) => (answer, true),
        _ => (top, false),
    };
    let fixed = preferred(&hypotheses[chosen.solvent], answers, chosen, nearer / SAME_WIDTHS);
    let candidates = &hypotheses[fixed.solvent].candidates;
    // An unsure line tells no displacement; but it may say that the axis is right as it is.
    let vague = fixed.shift_u > MOST_U * nearer / SAME_WIDTHS;
    if vague && fixed.offset.abs() > WITHIN_U * fixed.shift_u {
        return doubtful;
    }
    if !known && candidates[fixed.anchor].role != ReferenceRole::Standard {
        return doubtful;
    }
    let found = ReferenceFound {
        name: candidates[fixed.anchor].name.clone(),
        expected: candidates[fixed.anchor].expected,
        observed: candidates[fixed.anchor].expected - Ppm(fixed.offset),
        offset: if vague { Ppm(0.0) } else { Ppm(fixed.offset) },
        offset_u: Ppm(fixed.shift_u),
        agreeing: chosen.agreeing.iter().map(|(k, _)| candidates[*k].name.clone()).collect(),
        seen: chosen.agreeing.iter().map(|(k, place)| (candidates[*k].expected, Ppm(*place))).collect(),
        evidence: libm::log(odds),
        lead: libm::log(top.weight / next.max(f64::MIN_POSITIVE)),
    };
    let chance = solvents[chosen.solvent] / (1.0 + solvents[chosen.solvent]);
    Choice { solvent: known.then_some((chosen.solvent, chance)), found: Some(found), doubtful: None }
}

/// Odds of each solvent against all others, by its best answer.
fn solvent_odds<'a>(solvents: usize, answers: impl Iterator<Item = &'a Answer>) -> Vec<f64> {
    let mut best = vec![0.0f64; solvents];
    for answer in answers {
        best[answer.solvent] = best[answer.solvent].max(answer.weight);
    }
    let all: f64 = best.iter().sum();
    best.iter().map(|b| b / (all - b).max(f64::MIN_POSITIVE)).collect()
}

/// The same answer fixed on the residual line when that is plain to see, for the solvent's tables hold beside it; else on the
/// standard, when that is among its lines and no bad answer by itself.
fn preferred<'a>(
    hypothesis: &ReferenceHypothesis,
    answers: &'a [Answer],
    top: &'a Answer,
    width: f64,
) -> &'a Answer {
    let role = |a: &Answer| hypothesis.candidates[a.anchor].role;
    let same = |a: &&Answer| {
        a.solvent == top.solvent
            && a.weight > COMPARABLE * top.weight
            && top.pairs.iter().any(|(_, line)| *line == a.line)
    };
    let plain =
        |a: &&Answer| same(a) && a.plain && a.shift_u < FINE_U * width && role(a) == ReferenceRole::Residual;
    let standard = |a: &&Answer| same(a) && role(a) == ReferenceRole::Standard;
    answers.iter().find(plain).or_else(|| answers.iter().find(standard)).unwrap_or(top)
}
