//! FIDs cut off before the lines have decayed.

use lees_core::complex::modulus;
use num_complex::Complex64;

use super::Window;
use crate::Workspace;

/// What is left at the end of an FID.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Tail {
    /// Amplitude of the strongest single line, in the FID's units.
    pub strongest: f64,
    /// Standard deviation of one channel's noise, in the FID's units.
    pub noise: f64,
}

/// Share of the FID looked at: one part in this many, at its end.
const TAIL_PART: usize = 32;
/// Fewest points looked at: below it lines and noise cannot be told apart.
const TAIL_LEAST: usize = 64;
/// Most points looked at: more only costs time.
const TAIL_MOST: usize = 4096;
/// A line under this many noise deviations of one point at the end leaves side lobes that sink into the noise
/// within some 20 Hz.
const HIDDEN_BELOW: f64 = 3.0;
/// Most broadening spent on hiding side lobes, in hertz: beyond it lines lose more than they gain.
const MOST_BROADENING_HZ: f64 = 3.0;
/// Median of the modulus of complex noise with unit deviation in each channel, sqrt(2 ln 2).
const RAYLEIGH_MEDIAN: f64 = 1.177_410_022_515_474_7;

/// Measures the end of an FID by a short transform with a cosine-squared window, in which lines stand as peaks over
/// the noise.
///
/// ```
/// use num_complex::Complex64;
/// use lees_process::{Workspace, fid::tail};
/// // A line of amplitude 1 that does not decay, and no noise to speak of.
/// let points: Vec<_> = (0..8192).map(|j| Complex64::from_polar(1.0, 0.5 * f64::from(j))).collect();
/// let end = tail(&points, Complex64::ZERO, &mut Workspace::new());
/// assert!((end.strongest - 1.0).abs() < 0.16 && end.noise < 0.01);
/// ```
#[must_use]
pub fn tail(points: &[Complex64], dc: Complex64, workspace: &mut Workspace) -> Tail {
    let length = (points.len() / TAIL_PART).clamp(TAIL_LEAST.min(points.len()), TAIL_MOST);
    if length < 8 {
        return Tail::default();
    }
    let mut buffer = workspace.lend(length);
    for (j, (to, from)) in buffer.iter_mut().zip(&points[points.len() - length..]).enumerate() {
        let angle = std::f64::consts::PI * (j as f64 + 0.5) / length as f64;
        *to = (from - dc) * libm::sin(angle).powi(2);
    }
    workspace.forward(&mut buffer);
    let mut sizes: Vec<f64> = buffer.iter().map(|point| modulus(*point)).collect();
    workspace.give_back(buffer);
    let strongest = sizes.iter().copied().fold(0.0, f64::max);
    let middle = sizes.len() / 2;
    let median = *sizes.select_nth_unstable_by(middle, f64::total_cmp).1;
    let points = length as f64;
    Tail {
        strongest: strongest / (0.5 * points),
        noise: median / (RAYLEIGH_MEDIAN * (0.375 * points).sqrt()),
    }
}

/// The smallest exponential broadening in hertz, at least the window's own, under which the strongest line at the
/// end of a recording of `recorded` seconds falls below three noise deviations (both after the window). Capped at
/// 3 Hz.
///
/// ```
/// use lees_process::fid::{FirstPoint, Tail, Window, broadening_that_hides};
/// use num_complex::Complex64;
/// let first = FirstPoint { index: 0, weight: 1.0 };
/// let window =
///     Window { exponential_hz: 0.2, gaussian_hz: 0.0, delay: 0.0, dwell: 1e-4, first, dc: Complex64::ZERO };
/// let decayed = Tail { strongest: 0.2, noise: 1.0 };
/// assert_eq!(broadening_that_hides(&decayed, &window, 3.0), 0.2);
/// let cut = Tail { strongest: 30.0, noise: 1.0 };
/// assert!(broadening_that_hides(&cut, &window, 3.0) > 0.25);
/// ```
#[must_use]
pub fn broadening_that_hides(tail: &Tail, window: &Window, recorded: f64) -> f64 {
    let last = window.delay + recorded / window.dwell;
    let gaussian = Window { exponential_hz: 0.0, ..window.clone() }.weight(last as usize);
    let hidden = |broadening: f64| {
        let x = std::f64::consts::PI * broadening * recorded;
        let rms = if x > 1e-6 { ((1.0 - libm::exp(-2.0 * x)) / (2.0 * x)).sqrt() } else { 1.0 };
        tail.strongest * gaussian * libm::exp(-x) <= HIDDEN_BELOW * tail.noise * rms
    };
    let (mut low, mut high) = (window.exponential_hz, MOST_BROADENING_HZ.max(window.exponential_hz));
    if hidden(low) {
        return low;
    }
    for _ in 0..20 {
        let middle = 0.5 * (low + high);
        if hidden(middle) { high = middle } else { low = middle }
    }
    high
}
