//! An imaginary part from a real one.

use num_complex::Complex64;

use crate::Workspace;

/// An imaginary part and how far it can be trusted.
#[derive(Debug, Clone, PartialEq)]
pub struct Recovered {
    /// The imaginary part.
    pub imaginary: Vec<f64>,
    /// Size of the decay at half the spectrum's time span, over its size at the start. Signal that late folds back
    /// and spoils the imaginary part by about this share; below a hundredth or so it is noise.
    pub left_at_half: f64,
}

/// Parts of the time span compared: the first and the last of 64 before the half.
const PARTS: usize = 64;

/// The imaginary part that belongs to a real part of a signal that starts at time zero (Hilbert transform): its decay
/// has nothing at negative times, so dropping these and doubling the rest gives it back.
///
/// It is exact for a spectrum made with at least twofold zero filling and not cut since; otherwise as good as the
/// signal has decayed at half of the time span (`left_at_half`), while the noise of the result is not the one that
/// was measured.
///
/// ```
/// use lees_process::{Workspace, phase::recover_imaginary};
/// use num_complex::Complex64;
/// // 1000 points of a decay in 4096: zero-filled and causal.
/// let mut points = vec![Complex64::ZERO; 4096];
/// for (j, p) in points[..1000].iter_mut().enumerate() {
///     *p = Complex64::from_polar((-0.004 * j as f64).exp(), 0.5 - 1.1 * j as f64);
/// }
/// points[0] *= 0.5;
/// let mut workspace = Workspace::new();
/// workspace.inverse(&mut points);
/// let real: Vec<f64> = points.iter().map(|p| p.re).collect();
/// let found = recover_imaginary(&real, &mut workspace);
/// // The value at time zero may have an imaginary part of its own: a constant that no real part shows.
/// let constant = found.imaginary[0] - points[0].im;
/// assert!(points.iter().zip(&found.imaginary).all(|(p, im)| (p.im - im + constant).abs() < 1e-12));
/// ```
#[must_use]
pub fn recover_imaginary(real: &[f64], workspace: &mut Workspace) -> Recovered {
    let n = real.len();
    let mut decay = workspace.lend(n);
    decay.iter_mut().zip(real).for_each(|(to, &from)| *to = Complex64::from(from));
    workspace.forward(&mut decay);
    let left_at_half = left_at_half(&decay);
    let half = n.div_ceil(2);
    decay.iter_mut().take(half).skip(1).for_each(|point| *point *= 2.0);
    decay.iter_mut().skip(n / 2 + 1).for_each(|point| *point = Complex64::ZERO);
    workspace.inverse(&mut decay);
    let imaginary = decay.iter().map(|point| point.im).collect();
    workspace.give_back(decay);
    Recovered { imaginary, left_at_half }
}

fn left_at_half(decay: &[Complex64]) -> f64 {
    let half = decay.len() / 2;
    let part = (half / PARTS).max(1).min(half.max(1));
    let size = |points: &[Complex64]| {
        (points.iter().map(Complex64::norm_sqr).sum::<f64>() / points.len().max(1) as f64).sqrt()
    };
    let (start, end) = (size(&decay[..part.min(decay.len())]), size(&decay[half.saturating_sub(part)..half]));
    if start > 0.0 { end / start } else { f64::INFINITY }
}
