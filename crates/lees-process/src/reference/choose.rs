//! The choice over solvent and displacement together.

use std::collections::BTreeSet;

use lees_core::Ppm;

use super::peaks::{Peak, Peaks};
use super::weigh::{Known, student};
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
/// Logarithmic height, over the tallest line, from which a line outside tells against a displacement.
const TELLING: f64 = -4.0;
/// How much such lines tell.
const OUTSIDE: f64 = 0.02;
/// Displacements nearer than this are the same answer, ppm.
const SAME_PPM: f64 = 0.003;

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// Place, in the list given, of the solvent that the spectrum fits best with its chance (0 to 1).
    pub solvent: Option<(usize, f64)>,
    /// The displacement of that solvent's lines, when it is sure.
    pub found: Option<ReferenceFound>,
    /// What would be the best answer but is not sure enough: solvent and displacement.
    pub doubtful: Option<(usize, Ppm)>,
}

/// One explanation: a line is an anchor of a solvent.
struct Answer {
    solvent: usize,
    offset: f64,
    weight: f64,
    anchor: usize,
    line: usize,
    shift_u: f64,
    /// Solvent-independent pairs of an anchor and its line: answers that share one are the same.
    pairs: BTreeSet<(usize, usize)>,
    agreeing: Vec<usize>,
}

/// Chooses solvent and displacement, or says that nothing is sure.
///
/// The first hypothesis is the one that is believed beforehand (the file's label): to leave it takes the odds of
/// [`ReferenceSettings::least_odds_unusual`] when its prior is above one half.
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
                let offset = candidate.candidate.expected.0 - peak.shift;
                if offset.abs() <= settings.most_offset_ppm {
                    let mut answer = judge(processed, &peaks, &known, anchor, peak, settings);
                    answer.solvent = index;
                    answer.weight *= hypothesis.prior;
                    answers.push(answer);
                }
            }
        }
    }
    decide(hypotheses, &mut answers, nothing, settings)
}

/// Weight of no anchor being seen.
fn unseen(processed: &Processed, peaks: &Peaks, known: &[Known<'_>]) -> f64 {
    known
        .iter()
        .map(|k| if k.fixes() { 1.0 - k.presence() } else { k.word(processed, peaks, 0.0).factor })
        .product()
}

fn judge(
    processed: &Processed,
    peaks: &Peaks,
    known: &[Known<'_>],
    anchor: usize,
    peak: &Peak,
    settings: &ReferenceSettings,
) -> Answer {
    let offset = known[anchor].candidate.expected.0 - peak.shift;
    let mut weight = prior(offset, settings) * known[anchor].presence() * known[anchor].likeness(peaks, peak);
    let mut pairs = BTreeSet::from([(anchor, peak.line)]);
    let mut agreeing = vec![anchor];
    if weight > 0.0 {
        for (k, other) in known.iter().enumerate().filter(|(k, _)| *k != anchor) {
            let word = other.word(processed, peaks, offset);
            weight *= word.factor;
            if let Some(line) = word.line.filter(|line| *line != peak.line) {
                agreeing.push(k);
                if other.fixes() {
                    pairs.insert((k, line));
                }
            }
        }
        if outside(peaks, offset) {
            weight *= OUTSIDE;
        }
    }
    Answer { solvent: 0, offset, weight, anchor, line: peak.line, shift_u: peak.shift_u, pairs, agreeing }
}

/// Density of displacements before the spectrum is looked at, per ppm.
fn prior(offset: f64, settings: &ReferenceSettings) -> f64 {
    let ordinary = student(offset / ORDINARY_PPM) / ORDINARY_PPM;
    (1.0 - WRONG_LOCK) * ordinary + WRONG_LOCK / (2.0 * settings.most_offset_ppm)
}

/// Whether clear lines would stand where protons have none.
fn outside(peaks: &Peaks, offset: f64) -> bool {
    peaks.all.iter().any(|p| {
        let place = p.shift + offset;
        p.ln_height > TELLING && (place < PROTONS.0 || place > PROTONS.1)
    })
}

fn decide(
    hypotheses: &[ReferenceHypothesis],
    answers: &mut [Answer],
    nothing: f64,
    settings: &ReferenceSettings,
) -> Choice {
    answers.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    let none = Choice { solvent: None, found: None, doubtful: None };
    let Some(top) = answers.first().filter(|a| a.weight > 0.0) else { return none };
    let same = |a: &Answer| {
        a.solvent == top.solvent
            && ((a.offset - top.offset).abs() < SAME_PPM || a.pairs.intersection(&top.pairs).next().is_some())
    };
    let rest: f64 = nothing + answers.iter().filter(|a| !same(a)).map(|a| a.weight).sum::<f64>();
    let next = answers.iter().find(|a| !same(a)).map_or(nothing, |a| a.weight.max(nothing));
    let odds = top.weight / rest.max(f64::MIN_POSITIVE);
    let against_label = top.solvent != 0 && hypotheses[0].prior > 0.5;
    let unusual = top.offset.abs() > USUAL_PPM || against_label;
    let wanted = if unusual { settings.least_odds_unusual } else { settings.least_odds };
    if odds < wanted {
        return Choice { doubtful: Some((top.solvent, Ppm(top.offset))), ..none };
    }
    let chosen = standard_first(&hypotheses[top.solvent], answers, top);
    let candidates = &hypotheses[chosen.solvent].candidates;
    let found = ReferenceFound {
        name: candidates[chosen.anchor].name.clone(),
        expected: candidates[chosen.anchor].expected,
        offset: Ppm(chosen.offset),
        offset_u: Ppm(chosen.shift_u),
        agreeing: top.agreeing.iter().map(|k| candidates[*k].name.clone()).collect(),
        evidence: odds.ln(),
        lead: (top.weight / next.max(f64::MIN_POSITIVE)).ln(),
    };
    Choice { solvent: Some((chosen.solvent, odds / (1.0 + odds))), found: Some(found), doubtful: None }
}

/// The same answer fixed on the standard, when the standard is among its lines.
fn standard_first<'a>(
    hypothesis: &ReferenceHypothesis,
    answers: &'a [Answer],
    top: &'a Answer,
) -> &'a Answer {
    let standard = |k: usize| hypothesis.candidates[k].role == ReferenceRole::Standard;
    answers
        .iter()
        .find(|a| a.solvent == top.solvent && standard(a.anchor) && top.pairs.contains(&(a.anchor, a.line)))
        .unwrap_or(top)
}
