//! How much a line speaks for being a known one, against being any other line of this spectrum.

use std::collections::BTreeMap;

use super::comb::Comb;
use super::lay::{Fit, Laid, lay};
use super::peaks::{Company, Peak, Peaks};
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
/// A broad line, an artefact, speaks this much less for a reference.
const UNLIKELY: f64 = 0.1;
/// A line that may be two speaks this much less: it could be part product.
const BLURRED: f64 = 0.15;
/// A reference line is no wider than this, in common widths.
const WIDEST: f64 = 2.5;
/// Usual height of a reference line over the tallest line, logarithm, and its scatter (files at hand: 0.001 to 1).
const LN_HEIGHT: (f64, f64) = (-2.5, 2.2);
/// Patterns that chance makes in a spectrum which shows none, whole and partly: lines apart, and merged ones.
const CHANCE: [[f64; 2]; 2] = [[0.02, 0.3], [0.5, 3.0]];
/// How much satellites of silicon speak for it: chance makes a pair of that height at that place once in so many lines.
const SILICON: f64 = 60.0;
/// A line with another so many times taller within so many ppm is no standard.
const OVERSHADOWED: f64 = 3.0;
const BESIDE_PPM: f64 = 0.05;
/// Patterns under this share of one's height are no rivals of it.
const RIVAL: f64 = 0.2;
/// A pattern so many times taller than another may have it for its carbon satellite, and how many such it then makes likely.
const SATELLITE: f64 = 20.0;
const SATELLITES: f64 = 20.0;
/// How often a split reference line shows wholly, partly, too weak to tell, and not at all.
const SPLIT: [f64; 4] = [0.65, 0.2, 0.14, 0.01];
/// How often an unsplit reference line seems to stand alone, perhaps beside a partner, and beside one.
const ALONE: [f64; 3] = [0.85, 0.1, 0.05];
/// A line of so many standard deviations of the noise is as good as real by half.
const HALF_REAL_SIGMAS: f64 = 7.0;
/// No other lines are usual this near to zero, ppm, and how much rarer they are there.
const EMPTY: (f64, f64) = (0.3, 0.3);

/// The number of the standard.
pub(super) const STANDARD: usize = usize::MAX;

/// A candidate with what the spectrum says about it, displacement apart.
pub(super) struct Known<'a> {
    pub candidate: &'a ReferenceCandidate,
    split: bool,
    laid: BTreeMap<usize, Laid>,
    chance: [f64; 2],
    span: f64,
    scale: f64,
    /// How much likelier each maximum looks so as this candidate than as another line, in ppm: place apart.
    likeness: Vec<f64>,
}

/// What a candidate says about a displacement.
pub(super) struct Word {
    /// Factor on the odds.
    pub factor: f64,
    /// The same if no line is the candidate.
    pub absent: f64,
    /// The line that is the candidate, when one rather is than not.
    pub line: Option<usize>,
}

impl<'a> Known<'a> {
    pub(super) fn of(candidate: &'a ReferenceCandidate, peaks: &Peaks<'_>) -> Self {
        let combs = Comb::of(candidate, &peaks.trace);
        let laid: BTreeMap<usize, Laid> = lay(&combs, &peaks.trace, &peaks.all).into_iter().collect();
        let chance = CHANCE[usize::from(!combs.iter().any(|c| c.apart))];
        let scale = (0.5 * candidate.tolerance.0).max(0.001);
        let mut known = Self {
            candidate,
            split: !combs.is_empty(),
            laid,
            chance,
            span: peaks.span,
            scale,
            likeness: Vec::new(),
        };
        known.likeness = peaks.all.iter().map(|peak| known.look(peaks, peak)).collect();
        known
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

    /// Whether several candidates of its kind may share a line.
    pub(super) const fn shares(&self) -> bool {
        matches!(self.candidate.role, ReferenceRole::Stretch)
    }

    /// Its number among a solvent's candidates; the standard is the same in all.
    pub(super) const fn key(&self, number: usize) -> usize {
        if matches!(self.candidate.role, ReferenceRole::Standard) { STANDARD } else { number }
    }

    /// Where the candidate stands if this line is it, with the standard uncertainty.
    pub(super) fn place(&self, peak: &Peak) -> (f64, f64) {
        self.laid
            .get(&peak.id)
            .filter(|laid| laid.fit >= Fit::Partly)
            .map_or((peak.shift, peak.shift_u), |laid| (laid.shift, laid.shift_u))
    }

    /// How much likelier a line looks so as this candidate than as another line, in ppm: place apart.
    pub(super) fn likeness(&self, peak: &Peak) -> f64 {
        self.likeness.get(peak.id).copied().unwrap_or(0.0)
    }

    /// Whether a line is plain to see as the candidate: a whole pattern, or a line apart from all others.
    pub(super) fn plain(&self, peak: &Peak) -> bool {
        if self.split {
            return self.laid.get(&peak.id).is_some_and(|laid| laid.fit == Fit::Whole);
        }
        peak.company == Company::Alone && peak.lonely && !peak.blurred && !peak.artefact
    }

    fn look(&self, peaks: &Peaks<'_>, peak: &Peak) -> f64 {
        let alone = match peak.company {
            Company::Alone => ALONE[0],
            Company::Perhaps => ALONE[1],
            Company::Partner => ALONE[2],
        };
        let zero = self.candidate.expected.0.abs().max(peak.shift.abs());
        let rare = if zero < EMPTY.0 { EMPTY.1 } else { 1.0 };
        let real = 1.0 / (1.0 + (HALF_REAL_SIGMAS * peaks.trace.sigma / peak.height).powi(4));
        let plain = real * alone * usual_height(peak) / (rare * peak.density);
        let mut factor = if peak.artefact { UNLIKELY } else { 1.0 };
        if !self.split {
            factor *= self.silicon(peaks, peak);
            if self.fixes() {
                factor *= if peak.width > WIDEST * peaks.trace.fwhm { UNLIKELY } else { 1.0 };
                factor *= if peak.blurred && !peak.lonely { BLURRED } else { 1.0 };
            }
            return factor * plain;
        }
        match self.laid.get(&peak.id).map_or(Fit::None, |laid| laid.fit) {
            Fit::Whole => SPLIT[0] / self.density(peak.id, Fit::Whole, self.chance[0]),
            Fit::Partly => SPLIT[1] / self.density(peak.id, Fit::Partly, self.chance[1]),
            Fit::Weak => factor * SPLIT[2] * plain,
            Fit::None => factor * SPLIT[3] * plain,
        }
    }

    /// What satellites of silicon, and a taller line beside it, say of a line of TMS or silicone.
    fn silicon(&self, peaks: &Peaks<'_>, peak: &Peak) -> f64 {
        if !matches!(self.candidate.role, ReferenceRole::Standard | ReferenceRole::Occasional) {
            return 1.0;
        }
        let beside = peaks.between(peak.shift - BESIDE_PPM, peak.shift + BESIDE_PPM);
        if beside.iter().any(|other| other.height > OVERSHADOWED * peak.height) {
            UNLIKELY
        } else if peak.lonely
            && peak.company == Company::Alone
            && peaks.trace.silicon(peak.shift, peak.height)
        {
            SILICON
        } else {
            1.0
        }
    }

    /// Patterns per ppm, by chance and seen, which fit no worse and are not much lower than one.
    fn density(&self, id: usize, fit: Fit, chance: f64) -> f64 {
        let own = self.laid.get(&id).map_or(0.0, |laid| laid.scale);
        let rivals = self.laid.iter().filter(|(other, l)| **other != id && l.fit >= fit);
        let (taller, like): (f64, f64) = rivals.fold((0.0, 0.0), |(taller, like), (_, l)| {
            (taller + f64::from(l.scale > SATELLITE * own), like + f64::from(l.scale > RIVAL * own))
        });
        (like + SATELLITES * taller + chance) / self.span
    }

    /// What the candidate says about a displacement.
    pub(super) fn word(&self, processed: &Processed, peaks: &Peaks<'_>, offset: f64) -> Word {
        let place = self.candidate.expected.0 - offset;
        if !processed.spectrum.axis.contains(lees_core::Ppm(place)) {
            return Word { factor: 1.0, absent: 1.0, line: None };
        }
        let reach = if self.candidate.role == ReferenceRole::Stretch { 2.0 } else { REACH } * self.scale;
        let (mut best, mut line) = (0.0, None);
        for peak in peaks.between(place - reach, place + reach) {
            let ratio = self.scatter(self.place(peak).0 - place) * self.likeness(peak);
            if ratio > best {
                (best, line) = (ratio, Some(peak.id));
            }
        }
        let mut absent = 1.0 - self.presence();
        if covered(processed, place) {
            absent += self.presence() * LOST_WHEN_COVERED;
        }
        let seen = self.presence() * best;
        Word { factor: absent + seen, absent, line: line.filter(|_| seen > absent) }
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
    0.375 * libm::pow(1.0 + 0.25 * x * x, -2.5)
}

/// How usual a line's height is for a reference line, per unit of logarithmic height.
fn usual_height(peak: &Peak) -> f64 {
    let (centre, scatter) = LN_HEIGHT;
    libm::exp(-0.5 * ((peak.ln_height - centre) / scatter).powi(2)) / (scatter * std::f64::consts::TAU.sqrt())
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
