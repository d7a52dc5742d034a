//! Phases of the strongest lines, each fitted with its neighbours taken off.

use num_complex::Complex64;

use super::peaks::{Candidate, candidates};
use super::pole::{Pole, PoleFit, fit_pole};
use super::quiet::{ComplexNoise, complex_noise};

/// A line with its phase.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FittedLine {
    /// The line.
    pub pole: Pole,
    /// Phase in radians.
    pub phase: f64,
    /// Standard uncertainty of the phase in radians: noise, and misfit where the shape is not Lorentzian.
    pub u: f64,
    /// Height over noise.
    pub snr: f64,
}

/// Lines fitted for each line used: weaker neighbours are taken off the stronger ones.
const FITTED_PER_USED: usize = 4;
/// Sweeps over all lines; with each, the neighbours taken off are better known.
const SWEEPS: usize = 3;
/// Half the fit window in half widths.
const WINDOW_HALF_WIDTHS: f64 = 4.0;
/// Fewest and most points on either side of the line.
const WINDOW_POINTS: (f64, f64) = (4.0, 60.0);
/// Lines under this share of the tallest are not looked at, however low the noise.
const LEAST_SHARE: f64 = 1e-5;
/// A fit may move this many half widths from the maximum it started at.
const FURTHEST: f64 = 2.0;
/// Fit windows wider than this many usual ones belong to broad signals.
const BROAD: f64 = 8.0;

/// Fits the strongest lines of a complex spectrum, at most `most`, strongest first.
///
/// ```
/// use num_complex::Complex64;
/// let at = |i: usize, z: f64, phase: f64| {
///     Complex64::from_polar(9.0, phase) / Complex64::new(3.0, z - i as f64)
/// };
/// let y: Vec<_> = (0..4000).map(|i| at(i, 1000.2, 0.5) + at(i, 1030.0, 0.5) + at(i, 3000.0, 0.9)).collect();
/// let re: Vec<f64> = y.iter().enumerate().map(|(i, y)| y.re + 1e-3 * (0.37 * (i * i) as f64).sin()).collect();
/// let im: Vec<f64> = y.iter().enumerate().map(|(i, y)| y.im + 1e-3 * (0.37 * (i * i) as f64).cos()).collect();
/// let lines = lees_process::phase::fit_lines(&re, &im, 30, 20.0);
/// assert_eq!(lines.len(), 3);
/// assert!(lines.iter().all(|l| (l.phase - if l.pole.position < 2000.0 { 0.5 } else { 0.9 }).abs() < 0.002));
/// ```
#[must_use]
pub fn fit_lines(real: &[f64], imaginary: &[f64], most: usize, least_snr: f64) -> Vec<FittedLine> {
    let noise = complex_noise(real, imaginary);
    let threshold = (least_snr * noise.sigma).max(LEAST_SHARE * tallest(real, imaginary));
    let found = candidates(real, imaginary, threshold, most * FITTED_PER_USED);
    let found = drop_broad(found);
    let mut fits: Vec<Option<PoleFit>> = vec![None; found.len()];
    let mut window = Vec::new();
    for _ in 0..SWEEPS {
        for index in 0..found.len() {
            let from = found[index];
            let position = fits[index].map_or(from.index as f64, |fit| fit.pole.position);
            let start = cut(real, imaginary, position, from.half_width, &mut window);
            take_off_others(&mut window, start, index, &fits, 0.05 * noise.sigma);
            fits[index] = fit_pole(&window, start, position, from.half_width).filter(|fit| stays(fit, &from));
        }
    }
    let mut lines: Vec<FittedLine> =
        fits.iter().flatten().filter_map(|fit| judge(fit, noise, least_snr)).collect();
    lines.sort_by(|a, b| b.snr.total_cmp(&a.snr));
    lines.truncate(most);
    lines
}

/// Whether a fit still means the maximum it started at.
fn stays(fit: &PoleFit, from: &Candidate) -> bool {
    (fit.pole.position - from.index as f64).abs() <= FURTHEST * from.half_width.max(1.0)
}

fn tallest(real: &[f64], imaginary: &[f64]) -> f64 {
    real.iter().zip(imaginary).map(|(re, im)| re * re + im * im).fold(0.0, f64::max).sqrt()
}

fn drop_broad(mut found: Vec<Candidate>) -> Vec<Candidate> {
    let mut widths: Vec<f64> = found.iter().map(|c| c.half_width).collect();
    widths.sort_by(f64::total_cmp);
    if let Some(&usual) = widths.get(widths.len() / 2) {
        found.retain(|c| c.half_width <= BROAD * usual);
    }
    found
}

/// Copies the window around a line; returns the index of its first point.
fn cut(re: &[f64], im: &[f64], position: f64, half_width: f64, window: &mut Vec<Complex64>) -> usize {
    let reach = (WINDOW_HALF_WIDTHS * half_width).clamp(WINDOW_POINTS.0, WINDOW_POINTS.1).round() as usize;
    let middle = (position.round().max(0.0) as usize).min(re.len() - 1);
    let (start, end) = (middle.saturating_sub(reach), (middle + reach + 1).min(re.len()));
    window.clear();
    window.extend(re[start..end].iter().zip(&im[start..end]).map(|(&re, &im)| Complex64::new(re, im)));
    start
}

/// Takes off the other lines where they bend by more than `least` within the window.
fn take_off_others(window: &mut [Complex64], start: usize, own: usize, fits: &[Option<PoleFit>], least: f64) {
    let middle = start as f64 + window.len() as f64 / 2.0;
    let reach = window.len() as f64 / 2.0;
    for (_, fit) in fits.iter().enumerate().filter(|(other, _)| *other != own) {
        let Some(PoleFit { pole, .. }) = fit else { continue };
        let distance = (pole.position - middle).abs().max(reach);
        let bend = pole.amplitude.norm() / distance * (reach / distance).powi(2);
        if bend > least {
            for (k, y) in window.iter_mut().enumerate() {
                *y -= pole.at((start + k) as f64);
            }
        }
    }
}

/// Uncertainty from noise, raised where the shape does not fit; `None` for what is no usable line.
fn judge(fit: &PoleFit, noise: ComplexNoise, least_snr: f64) -> Option<FittedLine> {
    let sigma = noise.sigma.max(f64::MIN_POSITIVE);
    let snr = fit.pole.height() / sigma;
    let excess = (fit.misfit / (sigma * sigma)).max(1.0);
    let variance = sigma * sigma * noise.colour * fit.amplitude_variance * excess;
    let u = variance.sqrt() / fit.pole.amplitude.norm();
    let usable = snr >= least_snr && u.is_finite() && u < 0.5;
    usable.then_some(FittedLine { pole: fit.pole, phase: fit.pole.amplitude.arg(), u, snr })
}
