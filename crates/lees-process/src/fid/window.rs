//! The window an FID is multiplied with, and the weight of its first point.

use lees_core::complex::modulus;
use lees_core::{Hertz, Spectrum};
use num_complex::Complex64;

/// The weight of the first point after the pulse.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FirstPoint {
    /// Its index.
    pub index: usize,
    /// The factor it is multiplied with.
    pub weight: f64,
}

/// All factors applied to an FID before the transform.
#[derive(Debug, Clone, PartialEq)]
pub struct Window {
    /// Exponential broadening in hertz.
    pub exponential_hz: f64,
    /// Gaussian broadening (full width at half height) in hertz.
    pub gaussian_hz: f64,
    /// Points before time zero.
    pub delay: f64,
    /// Time between points in seconds.
    pub dwell: f64,
    /// Weight of the first point.
    pub first: FirstPoint,
    /// Constant taken off first.
    pub dc: Complex64,
}

/// Points before time zero that tell a filter's build-up from a sharp start.
const LOOK_BACK: usize = 6;
/// A filter rings with at least this share of the signal before time zero.
const LEAST_RINGING: f64 = 0.04;
/// Points between exact evaluations of a window; between them it grows by a factor.
const RESYNC: usize = 64;
/// Largest time argument of a window before zero: weight stays 1 there.
const BEFORE_ZERO: f64 = 1.0;

/// The weight that puts empty parts of the spectrum at zero.
///
/// A sampled decay that starts sharply, its first point `tau` dwell times after time zero, needs the factor
/// `1/2 + tau` there (the end term of the trapezoidal rule; for `tau = 0` see Otting, Widmer, Wagner and Wüthrich,
/// J. Magn. Reson. 1986, 66, 187, cited from memory). A digital filter's build-up passes half height at time
/// zero by itself and needs none.
///
/// ```
/// use num_complex::Complex64;
/// let sharp = vec![Complex64::new(1.0, 0.0); 100];
/// assert_eq!(lees_process::fid::first_point(&sharp, 0.0).weight, 0.5);
/// let mut filtered = vec![Complex64::ZERO; 8];
/// filtered.extend([0.05, -0.09, 0.5, 1.09, 0.95, 1.0].map(Complex64::from));
/// assert_eq!(lees_process::fid::first_point(&filtered, 10.0).weight, 1.0);
/// ```
#[must_use]
pub fn first_point(points: &[Complex64], delay: f64) -> FirstPoint {
    let index = (delay - 1e-9).ceil().max(0.0) as usize;
    let untouched = FirstPoint { index: 0, weight: 1.0 };
    if index + 3 > points.len() || delay <= -0.5 {
        return untouched;
    }
    let largest = |part: &[Complex64]| part.iter().map(|p| modulus(*p)).fold(0.0, f64::max);
    let before = largest(&points[index.saturating_sub(LOOK_BACK)..index]);
    let after = largest(&points[index..index + 3]);
    if before > LEAST_RINGING * after {
        return untouched;
    }
    FirstPoint { index, weight: 0.5 + (index as f64 - delay).min(1.0) }
}

impl Window {
    /// The weight of a point, apart from the first point's factor; 1 before time zero.
    #[must_use]
    pub(crate) fn weight(&self, index: usize) -> f64 {
        let t = (index as f64 - self.delay) * self.dwell;
        if t <= 0.0 {
            return BEFORE_ZERO;
        }
        let exponential = std::f64::consts::PI * self.exponential_hz * t;
        let gaussian = std::f64::consts::PI * self.gaussian_hz * t;
        libm::exp(-exponential - gaussian * gaussian / (4.0 * std::f64::consts::LN_2))
    }

    /// Writes the windowed points to `out` (at least as long) and returns the sum of the squared weights.
    pub(crate) fn apply(&self, points: &[Complex64], out: &mut [Complex64]) -> f64 {
        let mut energy = 0.0;
        let pairs = points.chunks(RESYNC).zip(out.chunks_mut(RESYNC)).enumerate();
        for (chunk, (from, to)) in pairs {
            energy += self.apply_chunk(chunk * RESYNC, from, to);
        }
        if let Some(first) = out.get_mut(self.first.index) {
            *first *= self.first.weight;
        }
        energy
    }

    fn apply_chunk(&self, start: usize, from: &[Complex64], to: &mut [Complex64]) -> f64 {
        let simple = self.gaussian_hz == 0.0 && start as f64 > self.delay;
        let step =
            if simple { libm::exp(-std::f64::consts::PI * self.exponential_hz * self.dwell) } else { 1.0 };
        let mut weight = self.weight(start);
        let mut energy = 0.0;
        for (offset, (x, y)) in from.iter().zip(to).enumerate() {
            if !simple {
                weight = self.weight(start + offset);
            }
            *y = (x - self.dc) * weight;
            energy += weight * weight;
            weight *= step;
        }
        energy
    }
}

/// Full width at half height of the spectrum's tallest line, for a matched window; `None` without imaginary part
/// or when the line runs over the edge. Read off the power, which does not depend on phase: a Lorentzian's power
/// has the same half-height width as its absorption.
///
/// ```
/// use lees_core::{Acquisition, Megahertz, Ppm, ShiftAxis, Spectrum};
/// let field = Megahertz(500.0);
/// let axis = ShiftAxis::new(Ppm(10.0), Ppm(0.0), 50_001, field).expect("falls"); // 0.1 Hz a point
/// let line = |i: usize| num_complex::Complex64::new(0.6, 0.1 * (25_000.0 - i as f64)).inv();
/// let spectrum = Spectrum {
///     axis,
///     real: (0..50_001).map(|i| line(i).re).collect(),
///     imaginary: Some((0..50_001).map(|i| line(i).im).collect()),
///     acquisition: Acquisition::at_field(field),
/// };
/// let width = lees_process::fid::matched_width(&spectrum).expect("one line");
/// assert!((width.value() - 1.2).abs() < 0.01);
/// ```
#[must_use]
pub fn matched_width(spectrum: &Spectrum) -> Option<Hertz> {
    let imaginary = spectrum.imaginary.as_ref()?;
    let power = |i: usize| spectrum.real[i].powi(2) + imaginary[i].powi(2);
    let n = spectrum.real.len();
    let top = (0..n).max_by(|&a, &b| power(a).total_cmp(&power(b)))?;
    let half = power(top) / 2.0;
    let left = (0..top).rev().find(|&i| power(i) < half)?;
    let right = (top + 1..n).find(|&i| power(i) < half)?;
    let crossing = |low: usize, high: usize| (half - power(low)) / (power(high) - power(low));
    let width = (right - left) as f64 - crossing(left, left + 1) - crossing(right, right - 1);
    Some(Hertz(width * spectrum.axis.hertz_per_point().value()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn window() -> Window {
        Window {
            exponential_hz: 0.7,
            gaussian_hz: 0.0,
            delay: 67.3,
            dwell: 1e-4,
            first: FirstPoint { index: 0, weight: 1.0 },
            dc: Complex64::ZERO,
        }
    }

    #[test]
    fn the_recurrence_agrees_with_the_formula() {
        let ones = vec![Complex64::new(1.0, 0.0); 5000];
        let mut out = vec![Complex64::ZERO; 5000];
        let energy = window().apply(&ones, &mut out);
        let worst =
            out.iter().enumerate().map(|(j, y)| (y.re - window().weight(j)).abs()).fold(0.0, f64::max);
        assert!(worst < 1e-14, "{worst}");
        let sum: f64 = out.iter().map(|y| y.re * y.re).sum();
        assert!((energy / sum - 1.0).abs() < 1e-12);
    }

    #[test]
    fn time_counts_from_the_true_origin() {
        assert_eq!(window().weight(67), 1.0);
        let expected = libm::exp(-std::f64::consts::PI * 0.7 * (1000.0 - 67.3) * 1e-4);
        assert!((window().weight(1000) - expected).abs() < 1e-15);
    }
}
