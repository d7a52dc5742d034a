//! The reference: by how much the shift axis must be moved.

use lees_core::{Hertz, Multiplet, Multiplicity, Ppm};
use serde::{Deserialize, Serialize};

use crate::Processed;

/// Settings of the search for the reference.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct ReferenceSettings {
    /// Largest displacement of the whole spectrum looked for, ppm.
    pub most_offset_ppm: f64,
    /// Evidence an answer must have (natural logarithm of odds).
    pub least_evidence: f64,
    /// Lead in evidence over the next best displacement.
    pub least_lead: f64,
}

impl Default for ReferenceSettings {
    fn default() -> Self {
        Self { most_offset_ppm: 6.0, least_evidence: 3.0, least_lead: 2.0 }
    }
}

/// What a known line is good for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ReferenceRole {
    /// The residual line of the NMR solvent: must be there, fixes the axis.
    Residual,
    /// TMS, DSS and the like: fixes the axis when there.
    Standard,
    /// Water, product signals, common companions: speak for a displacement, do not fix it.
    Companion,
}

/// A line that should be in the spectrum.
#[derive(Debug, Clone, PartialEq)]
pub struct ReferenceCandidate {
    /// Its name, such as `residual CHD2SOCD3`.
    pub name: String,
    /// Where it should be.
    pub expected: Ppm,
    /// How far it may lie from there on a right axis.
    pub tolerance: Ppm,
    /// Its pattern, when known.
    pub multiplicity: Option<Multiplicity>,
    /// Its coupling, when known.
    pub coupling: Option<Hertz>,
    /// What it is good for.
    pub role: ReferenceRole,
}

/// The reference found.
#[derive(Debug, Clone, PartialEq)]
pub struct ReferenceFound {
    /// The line the axis was fixed on.
    pub name: String,
    /// To be added to every shift.
    pub offset: Ppm,
    /// Standard uncertainty of the offset: of the line's position alone.
    pub offset_u: Ppm,
    /// All known lines that agree.
    pub agreeing: Vec<String>,
    /// Evidence for this displacement (natural logarithm of odds).
    pub evidence: f64,
    /// Lead over the next best displacement.
    pub lead: f64,
}

/// Displacements nearer than this are the same answer, ppm.
const SAME_PPM: f64 = 0.04;
/// A displacement below this needs no wrong lock to explain it, ppm.
const USUAL_PPM: f64 = 0.12;
/// Evidence of a usual displacement over an unusual one.
const USUAL: f64 = 2.0;
/// A signal this wide (in common widths) is no reference.
const WIDEST: f64 = 4.0;

/// Finds the displacement of the spectrum from known lines, or `None` when nothing is sure.
///
/// Every signal that could be the residual line or the standard proposes a displacement; all other candidates then
/// speak for or against it. A displacement far from zero (a wrong lock) needs several lines.
#[must_use]
pub fn find(
    processed: &Processed,
    candidates: &[ReferenceCandidate],
    settings: &ReferenceSettings,
) -> Option<ReferenceFound> {
    let mut answers: Vec<ReferenceFound> = Vec::new();
    for candidate in candidates.iter().filter(|c| c.role != ReferenceRole::Companion) {
        for signal in &processed.multiplets {
            let offset = candidate.expected - signal.shift;
            if offset.abs().0 <= settings.most_offset_ppm && looks_like(processed, signal, candidate) > 0.0 {
                answers.push(judge(processed, candidates, candidate, signal, offset));
            }
        }
    }
    answers.sort_by(|a, b| b.evidence.total_cmp(&a.evidence));
    let best = answers.first()?.clone();
    let rival = answers.iter().find(|a| (a.offset - best.offset).abs().0 > SAME_PPM);
    let lead = rival.map_or(f64::INFINITY, |r| best.evidence - r.evidence);
    let sure = best.evidence >= settings.least_evidence && lead >= settings.least_lead;
    sure.then_some(ReferenceFound { lead, ..best })
}

/// Evidence of one displacement from all candidates.
fn judge(
    processed: &Processed,
    candidates: &[ReferenceCandidate],
    anchor: &ReferenceCandidate,
    signal: &Multiplet,
    offset: Ppm,
) -> ReferenceFound {
    let mut evidence = if offset.abs().0 < USUAL_PPM { USUAL } else { 0.0 };
    let mut agreeing = Vec::new();
    for candidate in candidates {
        let place = candidate.expected - offset;
        let best = processed
            .multiplets
            .iter()
            .filter(|m| (m.shift - place).abs().0 <= candidate.tolerance.0)
            .map(|m| looks_like(processed, m, candidate))
            .fold(0.0, f64::max);
        let on_axis = processed.spectrum.axis.contains(place);
        if best > 0.0 {
            agreeing.push(candidate.name.clone());
            evidence += best - crowding(processed, candidate);
        } else if candidate.role == ReferenceRole::Residual && on_axis {
            evidence -= 2.0;
        }
    }
    let tallest = signal.lines.iter().map(|k| &processed.lines[*k]).max_by(|a, b| a.height.total_cmp(&b.height));
    let offset_u = tallest.map_or(Ppm(0.0), |l| l.shift_u);
    ReferenceFound { name: anchor.name.clone(), offset, offset_u, agreeing, evidence, lead: 0.0 }
}

/// A line found by chance says nothing: the expected number of signals within the tolerance, as a discount.
fn crowding(processed: &Processed, candidate: &ReferenceCandidate) -> f64 {
    let span = (processed.spectrum.axis.first() - processed.spectrum.axis.last()).0.min(10.0);
    let chance = 2.0 * candidate.tolerance.0 * processed.multiplets.len() as f64 / span;
    (1.0 + 2.0 * chance).ln()
}

/// How strongly a signal's pattern speaks for a candidate; 0 when it cannot be it.
fn looks_like(processed: &Processed, signal: &Multiplet, candidate: &ReferenceCandidate) -> f64 {
    let widest = signal.lines.iter().map(|k| processed.lines[*k].width.0).fold(0.0, f64::max);
    let sharp = widest < WIDEST * processed.shape.fwhm().0;
    if candidate.role == ReferenceRole::Companion && candidate.multiplicity.is_none() {
        return 1.0;
    }
    if !sharp && candidate.role != ReferenceRole::Companion {
        return 0.0;
    }
    let Some(wanted) = &candidate.multiplicity else { return 1.0 };
    let coupling_fits = match (candidate.coupling, signal.couplings.first()) {
        (Some(j), Some((found, u))) => (j - *found).abs().0 < 0.35f64.max(3.0 * u.0),
        _ => true,
    };
    let usual = if candidate.role == ReferenceRole::Standard { 1.0 } else { 0.0 };
    match (signal.multiplicity.partners(), wanted.partners()) {
        (Some([]), Some([])) => 1.5 + usual,
        (Some(found), Some(want)) if found == want && coupling_fits => 4.0,
        (Some([]), Some([_, ..])) if unresolved(processed, candidate) => 0.8,
        (None, Some([_, ..])) if signal.lines.len() <= 6 => 1.0,
        _ => 0.0,
    }
}

/// Whether the candidate's splitting may be hidden in the line width.
fn unresolved(processed: &Processed, candidate: &ReferenceCandidate) -> bool {
    candidate.coupling.is_none_or(|j| j.0 < 1.3 * processed.shape.fwhm().0)
}
