//! Finding lines: matched filter at the spectrum's own width, second derivative for splitting.

use serde::{Deserialize, Serialize};

use crate::Noise;
use crate::inner::correlate;

/// No point's noise is lower than this share of the typical one's, as far as finding lines is concerned.
const LEAST_OF_TYPICAL: f64 = 0.3;

/// Settings of line detection.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct DetectSettings {
    /// False lines allowed per spectrum of pure noise.
    pub false_lines_per_spectrum: f64,
}

impl Default for DetectSettings {
    fn default() -> Self {
        Self { false_lines_per_spectrum: 1e-3 }
    }
}

/// A place where a line may stand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Candidate {
    /// Fractional index.
    pub position: f64,
    /// Filtered height over its standard deviation.
    pub score: f64,
    /// Height of the spectrum there.
    pub height: f64,
}

/// The score above which pure noise of `independent` points gives `rate` false lines.
///
/// ```
/// let z = lees_process::detect::threshold(24_000.0, 1e-3);
/// assert!((z - 5.4).abs() < 0.05, "tail of the normal distribution");
/// ```
#[must_use]
pub fn threshold(independent: f64, rate: f64) -> f64 {
    let p = (rate / independent.max(1.0)).clamp(1e-300, 0.4);
    // Newton on ln Q(z), Q by its continued fraction; good to 1e-6 for z > 1.
    let mut z = (-2.0 * libm::log(p)).sqrt();
    for _ in 0..30 {
        let (ln_q, hazard) = log_tail(z);
        z = (z + (ln_q - libm::log(p)) / hazard).max(0.3);
    }
    z
}

/// Logarithm of the normal tail beyond `z` and the hazard `phi(z) / Q(z)`.
fn log_tail(z: f64) -> (f64, f64) {
    let fraction = (1..=60).rev().fold(z, |f, k| z + f64::from(k) / f);
    (-0.5 * z * z - 0.5 * libm::log(std::f64::consts::TAU) - libm::log(fraction), fraction)
}

/// Three running means, a near-Gaussian of about `width` points at half height; O(n).
#[must_use]
pub(crate) fn smooth(values: &[f64], width: f64) -> (Vec<f64>, Vec<f64>) {
    let half = half_box(width);
    let mut out = running_mean(values, half);
    let mut kernel = widen(&[1.0], 2 * half + 1);
    for _ in 1..3 {
        out = running_mean(&out, half);
        kernel = widen(&kernel, 2 * half + 1);
    }
    (out, kernel)
}

/// Half length of each of three boxes whose convolution has full width `width`.
fn half_box(width: f64) -> usize {
    // Variance of a box of m points is (m^2 - 1) / 12; three of them; FWHM = 2.355 sd.
    let variance = (width / 2.355).powi(2);
    (((4.0 * variance + 1.0).sqrt() - 1.0) / 2.0).round().max(0.0) as usize
}

fn widen(kernel: &[f64], length: usize) -> Vec<f64> {
    let mut out = vec![0.0; kernel.len() + length - 1];
    for (i, k) in kernel.iter().enumerate() {
        out[i..i + length].iter_mut().for_each(|o| *o += k / length as f64);
    }
    out
}

fn running_mean(values: &[f64], half: usize) -> Vec<f64> {
    let n = values.len();
    let length = 2 * half + 1;
    if half == 0 || n <= length {
        return values.to_vec();
    }
    let scale = 1.0 / length as f64;
    let mut sum: f64 = values[..length].iter().sum();
    let mut out = vec![sum * scale; half + 1];
    out.reserve(n);
    out.extend(values[length..].iter().zip(values).map(|(new, old)| {
        sum += new - old;
        sum * scale
    }));
    out.resize(n, sum * scale);
    out
}

/// Lines in `residual` by the matched filter: local maxima above `threshold` standard deviations.
///
/// `width` is the line width in points, `allowance` an extra standard deviation of the model at each point (empty:
/// none), so that the misfit of a strong line's foot is not taken for lines.
///
/// ```
/// use lees_process::{Noise, detect::matched};
/// // A line 20 high and 6 points wide at half height on noise of 1; a spike of 4 is none.
/// let mut residual: Vec<f64> = (0..1000).map(|i| 20.0 / (1.0 + ((i as f64 - 400.3) / 3.0).powi(2))).collect();
/// residual[800] += 4.0;
/// let found = matched(&residual, &Noise::white(1.0, 1000), 6.0, &[], 5.0);
/// assert_eq!(found.len(), 1);
/// assert!((found[0].position - 400.3).abs() < 0.1 && found[0].score > 20.0);
/// ```
#[must_use]
pub fn matched(
    residual: &[f64],
    noise: &Noise,
    width: f64,
    allowance: &[f64],
    threshold: f64,
) -> Vec<Candidate> {
    let (smoothed, kernel) = smooth(residual, width);
    let gain = noise.kernel_variance(&kernel).sqrt();
    let score = |i: usize| -> f64 {
        let extra = allowance.get(i).copied().unwrap_or(0.0);
        smoothed[i] / libm::hypot(noise.sigma(i) * gain, extra)
    };
    let least = LEAST_OF_TYPICAL * threshold * noise.typical() * gain;
    (1..smoothed.len().saturating_sub(1))
        .filter(|&i| smoothed[i] > least && smoothed[i] > smoothed[i - 1] && smoothed[i] >= smoothed[i + 1])
        .map(|i| (i, score(i)))
        .filter(|(_, score)| *score > threshold)
        .map(|(i, score)| Candidate { position: vertex(&smoothed, i), score, height: residual[i] })
        .collect()
}

/// Lines by the second derivative of the narrow copy: minima deeper than `threshold` standard deviations where the
/// spectrum itself stands above its noise as well.
///
/// Kernel: Savitzky & Golay, Anal. Chem. 1964, 36, 1627, quadratic second derivative over 1.5 line widths.
#[must_use]
pub(crate) fn split(values: &[f64], noise: &Noise, width: f64, threshold: f64) -> Vec<Candidate> {
    let kernel = second_derivative(((0.75 * width).round() as usize).max(2));
    let half = kernel.len() / 2;
    let gain = noise.kernel_variance(&kernel).sqrt();
    let n = values.len();
    if n <= kernel.len() {
        return Vec::new();
    }
    let least = LEAST_OF_TYPICAL * threshold * noise.typical() * gain;
    let (mut inner, mut curvature) = (Vec::new(), vec![0.0; half]);
    correlate(values, &kernel, &mut inner);
    curvature.extend(inner.iter().map(|bend| -bend));
    curvature.resize(n, 0.0);
    (half.max(1)..n - half.max(1))
        .filter(|&i| {
            curvature[i] > least && curvature[i] > curvature[i - 1] && curvature[i] >= curvature[i + 1]
        })
        .map(|i| (i, curvature[i] / (noise.sigma(i) * gain)))
        .filter(|&(i, score)| score > threshold && values[i] > threshold * noise.sigma(i))
        .map(|(i, score)| Candidate { position: vertex(&curvature, i), score, height: values[i] })
        .collect()
}

/// Quadratic second-derivative weights over `2 half + 1` points.
fn second_derivative(half: usize) -> Vec<f64> {
    let h = half as f64;
    let m = 2.0 * h + 1.0;
    let mean_square = h * (h + 1.0) / 3.0;
    let raw: Vec<f64> = (0..=2 * half).map(|i| (i as f64 - h).powi(2) - mean_square).collect();
    let norm: f64 = raw.iter().map(|r| r * r).sum::<f64>().max(f64::MIN_POSITIVE) / m.sqrt();
    raw.iter().map(|r| r / norm).collect()
}

/// Abscissa of the parabola through three points around `i`.
fn vertex(values: &[f64], i: usize) -> f64 {
    let (a, b, c) = (values[i - 1], values[i], values[i + 1]);
    let bend = a - 2.0 * b + c;
    i as f64 + if bend < 0.0 { (0.5 * (a - c) / bend).clamp(-0.5, 0.5) } else { 0.0 }
}
