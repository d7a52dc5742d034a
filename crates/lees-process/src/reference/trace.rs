//! The spectrum's values with what is needed to read them.

use lees_core::{Line, Ppm, ShiftAxis};

use crate::{LineShape, Processed};

/// Half the coupling of methyl protons on silicon to 29Si, Hz (2J of TMS 6.6 to 6.8 Hz; common practice, no source; in the
/// files at hand 3.31).
const SILICON_HZ: f64 = 3.32;
/// Height of one such satellite over the main line's: half of 4.7 % 29Si over the rest (isotope abundance, IUPAC 2013).
const SILICON_SHARE: f64 = 0.0246;
/// The share found lies within this factor.
const SILICON_FACTOR: f64 = 1.7;

/// Points over which the colour of the noise is taken, about a line's.
const COLOUR_POINTS: usize = 16;

/// Values, axis, noise and the common width.
#[derive(Clone, Copy)]
pub(super) struct Trace<'a> {
    pub values: &'a [f64],
    pub axis: &'a ShiftAxis,
    pub sigma: f64,
    /// By how much a sum over points is noisier than for independent ones.
    pub colour: f64,
    /// Common line width, Hz.
    pub fwhm: f64,
    pub field: f64,
    /// The common line.
    pub shape: &'a LineShape,
    /// All fitted lines, highest shift first.
    pub lines: &'a [Line],
}

impl<'a> Trace<'a> {
    pub(super) fn of(processed: &'a Processed) -> Self {
        let axis = &processed.spectrum.axis;
        let sigma = processed.noise.typical().max(f64::MIN_POSITIVE);
        let least = 1.5 * axis.hertz_per_point().0;
        Self {
            values: processed.spectrum.real.as_slice().unwrap_or_default(),
            axis,
            colour: processed.noise.sum_u(COLOUR_POINTS) / (sigma * (COLOUR_POINTS as f64).sqrt()),
            sigma,
            fwhm: processed.shape.fwhm().0.max(least),
            field: axis.field().0,
            shape: &processed.shape,
            lines: &processed.lines,
        }
    }

    /// The value at a shift, between the points by a cubic; `None` at the ends and outside.
    pub(super) fn at(&self, shift: f64) -> Option<f64> {
        let position = self.axis.position(Ppm(shift));
        let from = position.floor();
        if from < 1.0 || from + 2.0 >= self.values.len() as f64 {
            return None;
        }
        let (index, t) = (from as usize, position - from);
        let near = &self.values[index - 1..index + 3];
        let weights = [
            -t * (t - 1.0) * (t - 2.0) / 6.0,
            (t + 1.0) * (t - 1.0) * (t - 2.0) / 2.0,
            -(t + 1.0) * t * (t - 2.0) / 2.0,
            (t + 1.0) * t * (t - 1.0) / 6.0,
        ];
        Some(near.iter().zip(weights).map(|(y, w)| y * w).sum())
    }

    /// The fractional index of a maximum, by a parabola.
    pub(super) fn top(&self, at: usize) -> f64 {
        let (a, b, c) = (self.values[at - 1], self.values[at], self.values[at + 1]);
        let bend = a - 2.0 * b + c;
        at as f64 + if bend < 0.0 { (0.5 * (a - c) / bend).clamp(-0.5, 0.5) } else { 0.0 }
    }

    /// The lowest value on one side of a maximum before the spectrum rises above it or a few widths end.
    pub(super) fn valley(&self, at: usize, step: isize) -> f64 {
        let reach = (4.0 * self.fwhm / self.axis.hertz_per_point().0).ceil() as usize;
        let mut lowest = self.values[at];
        let mut index = at;
        for _ in 0..reach {
            let Some(next) = index.checked_add_signed(step).filter(|i| *i < self.values.len()) else { break };
            index = next;
            if self.values[index] > self.values[at] {
                break;
            }
            lowest = lowest.min(self.values[index]);
        }
        lowest
    }

    /// Full width at half height of a maximum as it stands, twice the smaller half, Hz.
    pub(super) fn width(&self, at: usize) -> f64 {
        let half = 0.5 * self.values[at];
        let side = |step: isize| {
            let mut index = at;
            let mut count = 0.0;
            while let Some(next) = index.checked_add_signed(step).filter(|i| *i < self.values.len()) {
                let (here, there) = (self.values[index], self.values[next]);
                if there <= half {
                    return count + (here - half) / (here - there).max(f64::MIN_POSITIVE);
                }
                count += 1.0;
                index = next;
            }
            count
        };
        2.0 * side(-1).min(side(1)) * self.axis.hertz_per_point().0
    }

    /// The fitted lines within so many ppm of a shift.
    pub(super) fn lines_near(&self, shift: f64, reach: f64) -> impl Iterator<Item = &'a Line> {
        let lines = self.lines;
        let from = lines.partition_point(|l| l.shift > Ppm(shift + reach));
        lines[from..].iter().take_while(move |l| l.shift.0 >= shift - reach)
    }

    /// Whether a line has a pair of satellites as methyl on silicon has.
    pub(super) fn silicon(&self, shift: f64, height: f64) -> bool {
        let at = |hertz: f64| self.at(shift + hertz / self.field);
        let side = |sign: f64| -> Option<bool> {
            let step = (0.3 * SILICON_HZ).max(self.fwhm);
            let ground = at(sign * (SILICON_HZ - step))?.min(at(sign * (SILICON_HZ + step))?);
            let near = [-0.1, -0.05, 0.0, 0.05, 0.1];
            let top = near.iter().filter_map(|d| at(sign * (SILICON_HZ + d))).fold(f64::MIN, f64::max);
            let found = (top - ground) / height;
            let fits = found > SILICON_SHARE / SILICON_FACTOR && found < SILICON_SHARE * SILICON_FACTOR;
            Some(fits && top - ground > 5.0 * self.sigma)
        };
        side(1.0) == Some(true) && side(-1.0) == Some(true)
    }
}
