//! Phase by least entropy, for spectra without strong lines.

/// A phase guessed by least entropy.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EntropyPhase {
    /// Phase at the middle of the spectrum, degrees.
    pub ph0_deg: f64,
    /// First-order phase over the spectrum, degrees.
    pub ph1_deg: f64,
    /// Standard uncertainty of `ph0`, degrees: how far the score lets it stray.
    pub u_ph0_deg: f64,
    /// The score reached.
    pub score: f64,
}

/// Points after averaging: enough for the shapes of broad and weak signals, few enough for hundreds of trials.
const POINTS: usize = 2048;
/// Trials per half turn in the coarse search.
const COARSE: i32 = 8;
/// Finest step of the search, degrees.
const FINEST_DEG: f64 = 0.25;
/// Weight of negative area: one per cent of negative energy costs one unit of entropy.
const NEGATIVE_WEIGHT: f64 = 100.0;
/// What a guess by entropy is trusted to at best, degrees: tried on weak spectra.
const LEAST_U_DEG: f64 = 5.0;

/// Searches `ph0` (and `ph1` within half a turn, when it pays) for the least entropy of the first derivative plus a
/// penalty on negative energy (Chen, Weng, Goh, Garland, J. Magn. Reson. 2002, 158, 164; the weight is ours).
///
/// ```
/// use num_complex::Complex64;
/// let y = |i: usize| Complex64::from_polar(50.0, 0.6) / Complex64::new(20.0, 900.0 - i as f64);
/// let re: Vec<f64> = (0..2048).map(|i| y(i).re).collect();
/// let im: Vec<f64> = (0..2048).map(|i| y(i).im).collect();
/// let found = lees_process::phase::entropy_phase(&re, &im);
/// let there = found.ph0_deg + found.ph1_deg * (900.0 - 1024.0) / 2048.0;
/// assert!((there - 0.6f64.to_degrees()).abs() < 5.0);
/// ```
#[must_use]
pub fn entropy_phase(real: &[f64], imaginary: &[f64]) -> EntropyPhase {
    let block = (real.len() / POINTS).max(1);
    let coarse = |part: &[f64]| -> Vec<f64> {
        part.chunks(block).map(|points| points.iter().sum::<f64>() / points.len() as f64).collect()
    };
    let (re, im) = (coarse(real), coarse(imaginary));
    let mut best = (0.0, 0.0, f64::INFINITY);
    for step in -COARSE..COARSE {
        let ph0 = 180.0 * f64::from(step) / f64::from(COARSE);
        let score = score(&re, &im, ph0, 0.0);
        if score < best.2 {
            best = (ph0, 0.0, score);
        }
    }
    let mut step = 90.0 / f64::from(COARSE);
    while step > FINEST_DEG {
        let around = [(step, 0.0), (-step, 0.0), (0.0, step), (0.0, -step)];
        let tried =
            around.map(|(d0, d1)| (best.0 + d0, best.1 + d1, score(&re, &im, best.0 + d0, best.1 + d1)));
        match tried.into_iter().min_by(|a, b| a.2.total_cmp(&b.2)) {
            Some(better) if better.2 < best.2 && better.1.abs() <= 180.0 => best = better,
            _ => step /= 2.0,
        }
    }
    let (ph0_deg, ph1_deg, score) = best;
    EntropyPhase { ph0_deg, ph1_deg, u_ph0_deg: LEAST_U_DEG, score }
}

/// Entropy of the derivative's modulus plus the penalty, at one phase.
fn score(re: &[f64], im: &[f64], ph0: f64, ph1: f64) -> f64 {
    let n = re.len() as f64;
    let real: Vec<f64> = re
        .iter()
        .zip(im)
        .enumerate()
        .map(|(i, (re, im))| {
            let (sin, cos) = libm::sincos((ph0 + ph1 * (i as f64 / n - 0.5)).to_radians());
            re * cos + im * sin
        })
        .collect();
    let steps: Vec<f64> = real.windows(2).map(|pair| (pair[1] - pair[0]).abs()).collect();
    let total: f64 = steps.iter().sum();
    if total <= 0.0 {
        return 0.0;
    }
    let entropy: f64 = steps.iter().map(|s| s / total).filter(|&h| h > 0.0).map(|h| -h * libm::log(h)).sum();
    let energy: f64 = real.iter().map(|y| y * y).sum();
    let negative: f64 = real.iter().filter(|&&y| y < 0.0).map(|y| y * y).sum();
    entropy + NEGATIVE_WEIGHT * negative / energy.max(f64::MIN_POSITIVE)
}
