//! Noise of a complex spectrum whose phase is not known yet.

use lees_core::complex::polar;
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

/// Blocks the spectrum is cut into: a quarter of them lies outside all signals even in crowded spectra.
const BLOCKS: usize = 64;
/// Fewest points of a block.
const LEAST_BLOCK: usize = 128;
/// Share of the blocks, the least lively ones, that count as free of signal.
const QUIET_SHARE: f64 = 0.25;
/// Lag of the differences that take away tails, as a part of the block: longer than noise stays correlated.
const LAG_PART: usize = 8;
/// How far the mean of the least lively quarter lies under the true one, in deviations of a block's variance: 1.27
/// when all blocks are free of signal, 0.8 when half are.
const SELECTION: f64 = 1.0;

/// At 3, 4 and 5 inverse blocks the power of the early noise is read: late enough for tails to have gone, early enough for the
/// window still to be near 1.
const EARLY: usize = 3;

/// Measures noise from differences within the quietest blocks, so that neither phase nor tails matter. The colour is
/// the noise's power at early (positive) times, where lines live, over its mean power. Zero deviation (and unit
/// colour) when the quiet parts are exactly flat.
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
    let parts = real.chunks_exact(block).zip(imaginary.chunks_exact(block));
    let mut blocks: Vec<(f64, &[f64], &[f64])> =
        parts.map(|(re, im)| (point_variance(re, im), re, im)).collect();
    if blocks.is_empty() {
        return ComplexNoise { sigma: 0.0, colour: 1.0 };
    }
    let keep = ((blocks.len() as f64 * QUIET_SHARE).ceil() as usize).clamp(1, blocks.len());
    blocks.select_nth_unstable_by(keep - 1, |a, b| a.0.total_cmp(&b.0));
    let quiet = &blocks[..keep];
    let variance = quiet.iter().map(|b| b.0).sum::<f64>() / keep as f64;
    let early = quiet.iter().map(|b| early_variance(b.1, b.2)).sum::<f64>() / keep as f64;
    let colour = if variance > 0.0 { (early / variance).max(1.0) } else { 1.0 };
    let spread = (colour / block as f64).sqrt();
    let variance = variance / (1.0 - (SELECTION * spread).min(0.5));
    ComplexNoise { sigma: variance.sqrt(), colour }
}

/// Variance of one channel from differences at a lag.
fn point_variance(re: &[f64], im: &[f64]) -> f64 {
    let lag = re.len() / LAG_PART;
    let squares = |part: &[f64]| part.iter().zip(&part[lag..]).map(|(a, b)| (a - b).powi(2)).sum::<f64>();
    let pairs = (re.len() - lag).max(1) as f64;
    (squares(re) + squares(im)) / (4.0 * pairs)
}

/// Variance of one channel at early times: a few terms of the block's Fourier sum under a cosine-squared window.
fn early_variance(re: &[f64], im: &[f64]) -> f64 {
    let turn = std::f64::consts::TAU / re.len() as f64;
    let mut sums = [Complex64::ZERO; EARLY];
    let mut squares = 0.0;
    let mut phase = Complex64::ONE;
    let step = polar(1.0, -turn);
    for (&re, &im) in re.iter().zip(im) {
        let weight = 0.5 - 0.5 * phase.re;
        squares += weight * weight;
        let point = Complex64::new(re, im) * weight;
        let square = phase * phase;
        for (sum, turned) in sums.iter_mut().zip([square * phase, square * square, square * square * phase]) {
            *sum += point * turned;
        }
        phase *= step;
    }
    sums.iter().map(Complex64::norm_sqr).sum::<f64>() / (2.0 * EARLY as f64 * squares)
}
