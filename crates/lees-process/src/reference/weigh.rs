//! How much a line speaks for being a known one, against being any other line of this spectrum.

use super::peaks::{Look, Peak, Peaks};
use super::{ReferenceCandidate, ReferenceRole};
use crate::Processed;

/// How far out a line is looked for, in scales of the scatter.
const REACH: f64 = 8.0;
/// A place is covered when the spectrum stands this many standard deviations high there.
const COVERED_SIGMAS: f64 = 30.0;
/// Half the stretch judged for cover, ppm.
const COVERED_PPM: f64 = 0.012;
/// Chance that a line there is not told apart when its place is covered.
const LOST_WHEN_COVERED: f64 = 0.4;
/// A broad line speaks this much less for a reference.
const BROAD: f64 = 0.1;
/// Usual height of a reference line over the tallest line, logarithm, and its scatter (files at hand: 0.001 to 1).
const LN_HEIGHT: (f64, f64) = (-3.0, 2.0);

/// A candidate with what the spectrum says about it, displacement apart.
pub(super) struct Known<'a> {
    pub candidate: &'a ReferenceCandidate,
    comb: Option<(f64, &'static [f64])>,
    comb_density: [f64; 2],
    scale: f64,
}

/// What a candidate says about a displacement.
pub(super) struct Word {
    /// Factor on the odds.
    pub factor: f64,
    /// The line that is the candidate, when one rather is than not.
    pub line: Option<usize>,
}

impl<'a> Known<'a> {
    pub(super) fn of(candidate: &'a ReferenceCandidate, peaks: &Peaks) -> Self {
        let comb = peaks.comb(candidate);
        Self {
            candidate,
            comb,
            comb_density: peaks.comb_density(comb),
            scale: (0.5 * candidate.tolerance.0).max(0.001),
        }
    }

    /// Chance of the candidate being seen at all.
    pub(super) const fn presence(&self) -> f64 {
        match self.candidate.role {
            ReferenceRole::Residual => 0.95,
            ReferenceRole::Standard => 0.35,
            ReferenceRole::Companion => 0.7,
            ReferenceRole::Occasional => 0.1,
            ReferenceRole::Stretch => 0.9,
        }
    }

    /// Whether the candidate may fix the axis.
    pub(super) const fn fixes(&self) -> bool {
        matches!(self.candidate.role, ReferenceRole::Residual | ReferenceRole::Standard)
    }

    /// How much likelier a line looks so as this candidate than as another line, in ppm: place apart.
    pub(super) fn likeness(&self, peaks: &Peaks, peak: &Peak) -> f64 {
        let sharp = if self.fixes() && !peaks.sharp(peak, self.candidate) { BROAD } else { 1.0 };
        let (whole, inner) = (self.comb_density[0], self.comb_density[1]);
        let [in_comb, in_inner, single, part] =
            if self.comb.is_some() { [0.65, 0.15, 0.1, 0.1] } else { [0.0, 0.0, 0.75, 0.25] };
        sharp
            * match peaks.look(peak, self.comb) {
                Look::Comb => in_comb / whole,
                Look::Inner => in_inner / inner,
                Look::Single => single * usual_height(peak) / peak.density,
                Look::Part => part * usual_height(peak) / peak.density,
            }
    }

    /// What the candidate says about a displacement.
    pub(super) fn word(&self, processed: &Processed, peaks: &Peaks, offset: f64) -> Word {
        let place = self.candidate.expected.0 - offset;
        if !processed.spectrum.axis.contains(lees_core::Ppm(place)) {
            return Word { factor: 1.0, line: None };
        }
        let reach = if self.candidate.role == ReferenceRole::Stretch { 2.0 } else { REACH } * self.scale;
        let (mut best, mut line) = (0.0, None);
        for peak in peaks.between(place - reach, place + reach) {
            let ratio = self.scatter(peak.shift - place) * self.likeness(peaks, peak);
            if ratio > best {
                (best, line) = (ratio, Some(peak.line));
            }
        }
        let mut absent = 1.0 - self.presence();
        if covered(processed, place) {
            absent += self.presence() * LOST_WHEN_COVERED;
        }
        let seen = self.presence() * best;
        Word { factor: absent + seen, line: line.filter(|_| seen > absent) }
    }

    /// Density of the candidate's place about where it should be, per ppm.
    pub(super) fn scatter(&self, away: f64) -> f64 {
        if self.candidate.role == ReferenceRole::Stretch {
            return if away.abs() <= 2.0 * self.scale { 0.25 / self.scale } else { 0.0 };
        }
        student(away / self.scale) / self.scale
    }
}

/// Student's density with four degrees of freedom: mostly near, seldom far.
pub(super) fn student(x: f64) -> f64 {
    0.375 * (1.0 + 0.25 * x * x).powf(-2.5)
}

/// How usual a line's height is for a reference line, per unit of logarithmic height.
fn usual_height(peak: &Peak) -> f64 {
    let (centre, scatter) = LN_HEIGHT;
    (-0.5 * ((peak.ln_height - centre) / scatter).powi(2)).exp() / (scatter * std::f64::consts::TAU.sqrt())
}

/// Whether strong signal stands at a place, under which a line may be lost.
fn covered(processed: &Processed, place: f64) -> bool {
    let axis = &processed.spectrum.axis;
    let index = axis.position(lees_core::Ppm(place));
    let half = (COVERED_PPM / axis.step().0.abs()).ceil();
    let from = (index - half).max(0.0) as usize;
    let to = ((index + half).max(0.0) as usize + 1).min(processed.model.len());
    let floor = COVERED_SIGMAS * processed.noise.typical();
    from < to && processed.model.iter().take(to).skip(from).all(|y| *y > floor)
}
