//! Noise of a complex spectrum whose phase is not known yet.

use num_complex::Complex64;

/// Noise of the quiet parts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ComplexNoise {
    /// Standard deviation of one channel of one point.
    pub sigma: f64,
    /// Variance of the complex sum over many points, over that of independent points: zero filling and windows
    /// tie neighbours together.
    pub colour: f64,
}

/// Blocks the spectrum is cut into.
const BLOCKS: usize = 256;
/// Fewest points of a block.
const LEAST_BLOCK: usize = 128;
/// Share of the blocks, the least lively ones, that count as free of signal.
const QUIET_SHARE: f64 = 0.25;
/// Lag of the differences that take away tails, in points: longer than noise stays correlated after a fourfold
/// zero filling.
const LAG: usize = 16;

/// Measures noise from differences within the quietest blocks, so that neither phase nor tails matter.
/// Zero deviation (and unit colour) when the quiet parts are exactly flat.
///
/// ```
/// // A stand-in for noise: a tone whose frequency sweeps round and round, deviation 1 in each channel.
/// let angle = |k: usize| 0.37 * (k * k) as f64;
/// let re: Vec<f64> = (0..20_000).map(|k| 2f64.sqrt() * angle(k).cos()).collect();
/// let im: Vec<f64> = (0..20_000).map(|k| 2f64.sqrt() * angle(k).sin()).collect();
/// let found = lees_process::phase::complex_noise(&re, &im);
/// assert!((found.sigma - 1.0).abs() < 0.1);
/// ```
#[must_use]
pub fn complex_noise(real: &[f64], imaginary: &[f64]) -> ComplexNoise {
    let block = (real.len() / BLOCKS).max(LEAST_BLOCK).min(real.len().max(1));
    let mut blocks: Vec<(f64, f64)> = real
        .chunks_exact(block)
        .zip(imaginary.chunks_exact(block))
        .map(|(re, im)| (point_variance(re, im), sum_variance(re, im)))
        .collect();
    let keep = ((blocks.len() as f64 * QUIET_SHARE).ceil() as usize).clamp(1, blocks.len().max(1));
    if blocks.is_empty() {
        return ComplexNoise { sigma: 0.0, colour: 1.0 };
    }
    blocks.select_nth_unstable_by(keep - 1, |a, b| a.0.total_cmp(&b.0));
    let quiet = &blocks[..keep];
    let mean = |pick: fn(&(f64, f64)) -> f64| quiet.iter().map(pick).sum::<f64>() / quiet.len() as f64;
    let (variance, sums) = (mean(|b| b.0), mean(|b| b.1));
    let colour = if variance > 0.0 { (sums / variance).max(1.0) } else { 1.0 };
    ComplexNoise { sigma: variance.sqrt(), colour }
}

/// Variance of one channel from differences at a lag.
fn point_variance(re: &[f64], im: &[f64]) -> f64 {
    let lag = LAG.min(re.len() / 2);
    let squares = |part: &[f64]| part.iter().zip(&part[lag..]).map(|(a, b)| (a - b).powi(2)).sum::<f64>();
    let pairs = (re.len() - lag).max(1) as f64;
    (squares(re) + squares(im)) / (4.0 * pairs)
}

/// Variance of one channel as seen in sums: differences of neighbouring quarter-block sums, per point.
fn sum_variance(re: &[f64], im: &[f64]) -> f64 {
    let quarter = (re.len() / 4).max(1);
    let sums: Vec<Complex64> = re
        .chunks_exact(quarter)
        .zip(im.chunks_exact(quarter))
        .map(|(re, im)| Complex64::new(re.iter().sum(), im.iter().sum()))
        .collect();
    // Third differences take away a baseline up to a parabola; their variance is 20 times that of one sum.
    let squares: f64 = sums.windows(4).map(|s| (s[3] - 3.0 * s[2] + 3.0 * s[1] - s[0]).norm_sqr()).sum();
    squares / (sums.len().saturating_sub(3).max(1) as f64 * 2.0 * 20.0 * quarter as f64)
}
