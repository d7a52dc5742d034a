//! The spectrum's lines as the reference sees them: how each looks and how many others look like it.

use lees_core::{Line, LineKind};

use super::{ReferenceCandidate, ReferenceRole};
use crate::Processed;

/// Lines looked at: the tallest.
const MOST: usize = 800;
/// A line lower than this many standard deviations of the noise is none.
const LEAST_SIGMAS: f64 = 4.0;
/// Half the stretch over which like lines are counted, ppm.
const AROUND_PPM: f64 = 1.0;
/// Widening of a line's logarithmic height when like lines are counted.
const LIKE_HEIGHT: f64 = 1.0;
/// A line counts itself among the unrelated ones: density per unit of logarithmic height that one line adds at least.
const ITSELF: f64 = 0.2;
/// Combs that chance makes in a spectrum which shows none: whole ones, and ones without outer lines.
const CHANCE_COMBS: [f64; 2] = [0.1, 0.5];
/// A reference line is no wider than this, in common widths.
const WIDEST: f64 = 2.5;
/// A splitting under this many line widths does not show.
const RESOLVED: f64 = 0.9;

/// How a line stands among its neighbours.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Look {
    /// Centre of a whole pattern split by deuterium.
    Comb,
    /// The inner lines of such a pattern.
    Inner,
    /// Alone.
    Single,
    /// Part of some multiplet.
    Part,
}

/// One line.
#[derive(Debug, Clone, Copy)]
pub(super) struct Peak {
    pub line: usize,
    pub shift: f64,
    pub shift_u: f64,
    pub width: f64,
    /// Logarithm of the height over the tallest line's.
    pub ln_height: f64,
    pub single: bool,
    /// Unrelated lines that look like it, per ppm and unit of logarithmic height.
    pub density: f64,
}

/// The lines, by rising shift.
pub(super) struct Peaks {
    pub all: Vec<Peak>,
    pub field: f64,
    pub fwhm: f64,
    pub span: f64,
}

impl Peaks {
    pub(super) fn of(processed: &Processed) -> Self {
        let floor = LEAST_SIGMAS * processed.noise.typical();
        let usable = |l: &Line| l.kind == LineKind::Signal && l.height > floor && l.shift.0.is_finite();
        let mut kept: Vec<usize> =
            (0..processed.lines.len()).filter(|k| usable(&processed.lines[*k])).collect();
        kept.sort_by(|a, b| processed.lines[*b].height.total_cmp(&processed.lines[*a].height));
        kept.truncate(MOST);
        let tallest = kept.first().map_or(1.0, |k| processed.lines[*k].height);
        let single = singles(processed);
        let mut all: Vec<Peak> =
            kept.iter().map(|k| peak(&processed.lines[*k], *k, tallest, single[*k])).collect();
        all.sort_by(|a, b| a.shift.total_cmp(&b.shift));
        let mut peaks = Self {
            all,
            field: processed.spectrum.axis.field().0,
            fwhm: processed.shape.fwhm().0,
            span: (processed.spectrum.axis.first() - processed.spectrum.axis.last()).0.abs().clamp(1.0, 12.0),
        };
        let densities: Vec<f64> = peaks.all.iter().map(|p| peaks.density(p)).collect();
        for (peak, density) in peaks.all.iter_mut().zip(densities) {
            peak.density = density;
        }
        peaks
    }

    /// Lines within a stretch.
    pub(super) fn between(&self, low: f64, high: f64) -> &[Peak] {
        let from = self.all.partition_point(|p| p.shift < low);
        let to = self.all.partition_point(|p| p.shift <= high);
        self.all.get(from..to).unwrap_or_default()
    }

    fn density(&self, peak: &Peak) -> f64 {
        let norm = 1.0 / (LIKE_HEIGHT * std::f64::consts::TAU.sqrt());
        let like: f64 = self
            .between(peak.shift - AROUND_PPM, peak.shift + AROUND_PPM)
            .iter()
            .filter(|other| other.single == peak.single && other.line != peak.line)
            .map(|other| norm * (-0.5 * ((other.ln_height - peak.ln_height) / LIKE_HEIGHT).powi(2)).exp())
            .sum();
        (like + ITSELF) / (2.0 * AROUND_PPM)
    }

    /// Shares of the side lines a candidate's deuterium splitting makes, when it shows at this line width.
    pub(super) fn comb(&self, candidate: &ReferenceCandidate) -> Option<(f64, &'static [f64])> {
        let residual = candidate.role == ReferenceRole::Residual;
        let spacing = candidate.coupling.filter(|j| residual && j.0.abs() > RESOLVED * self.fwhm)?.0.abs();
        match candidate.multiplicity.as_ref()?.partners()? {
            [4] => Some((spacing, &[2.0 / 3.0, 1.0 / 3.0])),
            [2] => Some((spacing, &[1.0])),
            _ => None,
        }
    }

    /// How a line looks to a candidate.
    pub(super) fn look(&self, peak: &Peak, comb: Option<(f64, &[f64])>) -> Look {
        let plain = if peak.single { Look::Single } else { Look::Part };
        let Some((spacing, shares)) = comb else { return plain };
        let fits = |n: usize| {
            let allowed = if n == 1 { 0.4 } else { 0.7 };
            [-1.0, 1.0].iter().all(|sign| {
                let place = peak.shift + sign * n as f64 * spacing / self.field;
                self.between(place - 0.22 * spacing / self.field, place + 0.22 * spacing / self.field)
                    .iter()
                    .any(|side| (side.ln_height - peak.ln_height - shares[n - 1].ln()).abs() < allowed)
            })
        };
        match (1..=shares.len()).take_while(|n| fits(*n)).count() {
            0 => plain,
            n if n == shares.len() => Look::Comb,
            _ => Look::Inner,
        }
    }

    /// Combs per ppm that chance makes, judged by how many the spectrum shows.
    pub(super) fn comb_density(&self, comb: Option<(f64, &[f64])>) -> [f64; 2] {
        let mut seen = CHANCE_COMBS;
        for peak in &self.all {
            match self.look(peak, comb) {
                Look::Comb => seen[0] += 1.0,
                Look::Inner => seen[1] += 1.0,
                Look::Single | Look::Part => {}
            }
        }
        // The one that is judged is not its own rival.
        let others = |k: usize| (seen[k] - 1.0).max(CHANCE_COMBS[k]) / self.span;
        [others(0), others(1)]
    }

    /// Whether a line is as narrow as a reference line must be.
    pub(super) fn sharp(&self, peak: &Peak, candidate: &ReferenceCandidate) -> bool {
        let hidden = candidate.coupling.map_or(0.0, |j| 3.0 * j.0.abs());
        peak.width < WIDEST * self.fwhm + hidden
    }
}

fn peak(line: &Line, index: usize, tallest: f64, single: bool) -> Peak {
    Peak {
        line: index,
        shift: line.shift.0,
        shift_u: line.shift_u.0,
        width: line.width.0,
        ln_height: (line.height / tallest).ln(),
        single,
        density: 0.0,
    }
}

/// Which lines stand alone.
fn singles(processed: &Processed) -> Vec<bool> {
    let mut single = vec![true; processed.lines.len()];
    for multiplet in processed.multiplets.iter().filter(|m| m.lines.len() > 1) {
        for line in &multiplet.lines {
            if let Some(flag) = single.get_mut(*line) {
                *flag = false;
            }
        }
    }
    single
}
