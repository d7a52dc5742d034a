//! Phases of the strongest lines, each fitted with its neighbours taken off.

use lees_core::complex::{self, argument};
use num_complex::Complex64;

use super::peaks::{Candidate, candidates};
use super::pole::{LocalBase, Pole, PoleFit, Stretch, fit_pole};
use super::quiet::{ComplexNoise, complex_noise};

/// A line with its phase.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FittedLine {
    /// The line.
    pub pole: Pole,
    /// Phase in radians.
    pub phase: f64,
    /// Standard uncertainty of the phase from noise, in radians.
    pub u: f64,
    /// What overlap or an odd shape may do to the phase, in radians, judged by the misfit.
    pub u_shape: f64,
    /// Height over noise.
    pub snr: f64,
}

/// Least height over noise of a neighbour that is taken off.
const NEIGHBOUR_SNR: f64 = 7.0;
/// Rounds over all lines, with half the window in half widths and the baseline: small windows first, which bear
/// neighbours not yet known, then wide ones, which hold more of a line's information (at 4 half widths a straight
/// line under it costs 2.8 times the least possible uncertainty, at 10 a constant costs 1.25 times).
const SWEEPS: [(f64, LocalBase); 4] = [
    (4.0, LocalBase::Linear),
    (4.0, LocalBase::Linear),
    (10.0, LocalBase::Constant),
    (10.0, LocalBase::Constant),
];
/// Fewest points on either side of the line.
const LEAST_REACH: f64 = 4.0;
/// Averaged points a half width: more cost time and say the same.
const POINTS_PER_HALF_WIDTH: f64 = 3.0;
/// Lines under this share of the tallest are not looked at, however low the noise.
const LEAST_SHARE: f64 = 1e-5;
/// A fit may move this many half widths from the maximum it started at.
const FURTHEST: f64 = 1.5;
/// Bounds of a fitted half width over the one read off the power.
const WIDTH_BOUNDS: (f64, f64) = (0.3, 2.0);
/// A fitted height may exceed the modulus at the maximum by this factor.
const HEIGHT_BOUND: f64 = 1.4;
/// Mean squared residual over noise that noise alone reaches: a stretch holds some 30 independent values.
const MISFIT_BY_NOISE: f64 = 1.5;
/// Radians of phase that a misfit of one line height may hide: an unresolved, uneven doublet passes for a line with
/// a phase error 15 times its residual (tried on random multiplets).
const PHASE_PER_MISFIT: f64 = 15.0;
/// Lines wider than this many usual ones are broad signals.
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
    fit_lines_in(real, imaginary, most, least_snr, complex_noise(real, imaginary))
}

/// As [`fit_lines`], the noise being known.
pub(super) fn fit_lines_in(
    real: &[f64],
    imaginary: &[f64],
    most: usize,
    least_snr: f64,
    noise: ComplexNoise,
) -> Vec<FittedLine> {
    let threshold = (NEIGHBOUR_SNR.min(least_snr) * noise.sigma).max(LEAST_SHARE * tallest(real, imaginary));
    let found = drop_broad(candidates(real, imaginary, threshold, most));
    let mut fits: Vec<Option<PoleFit>> = vec![None; found.len()];
    let mut stretch = Stretch::default();
    for (reach, base) in SWEEPS {
        for (index, from) in found.iter().enumerate() {
            let position = fits[index].map_or(from.index as f64, |fit| fit.pole.position);
            cut(real, imaginary, position, from.half_width, reach, &mut stretch);
            take_off_others(&mut stretch, index, &fits, 0.05 * noise.sigma);
            let top = modulus(real, imaginary, from.index);
            fits[index] =
                fit_pole(&stretch, position, from.half_width, base).filter(|fit| stays(&fit.pole, from, top));
        }
    }
    let mut lines: Vec<FittedLine> =
        fits.iter().flatten().filter_map(|fit| judge(fit, noise, least_snr)).collect();
    lines.sort_by(|a, b| b.snr.total_cmp(&a.snr));
    lines.truncate(most);
    lines
}

/// Whether a fit still means the maximum it started at, of modulus `top`.
fn stays(pole: &Pole, from: &Candidate, top: f64) -> bool {
    let near = (pole.position - from.index as f64).abs() <= FURTHEST * from.half_width.max(1.0);
    let width = pole.half_width / from.half_width;
    near && width > WIDTH_BOUNDS.0 && width < WIDTH_BOUNDS.1 && pole.height() < HEIGHT_BOUND * top
}

fn modulus(real: &[f64], imaginary: &[f64], index: usize) -> f64 {
    libm::hypot(real[index], imaginary[index])
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

/// Copies the stretch around a line, averaging where a half width has many points.
fn cut(re: &[f64], im: &[f64], position: f64, half_width: f64, half_widths: f64, out: &mut Stretch) {
    let stride = ((half_width / POINTS_PER_HALF_WIDTH) as usize).max(1);
    let reach = ((half_widths * half_width).max(LEAST_REACH) / stride as f64).ceil() as usize;
    let middle = (position.round().max(0.0) as usize).min(re.len() - 1);
    let start = middle.saturating_sub(reach * stride + stride / 2);
    let end = (middle + reach * stride + stride.div_ceil(2)).min(re.len());
    let mean = |(re, im): (&[f64], &[f64])| {
        Complex64::new(re.iter().sum::<f64>(), im.iter().sum::<f64>()) / stride as f64
    };
    out.points.clear();
    out.points.extend(re[start..end].chunks_exact(stride).zip(im[start..end].chunks_exact(stride)).map(mean));
    out.first = start as f64 + (stride - 1) as f64 / 2.0;
    out.stride = stride as f64;
}

/// Takes off the other lines where they bend by more than `least` within the stretch.
fn take_off_others(stretch: &mut Stretch, own: usize, fits: &[Option<PoleFit>], least: f64) {
    let reach = stretch.stride * stretch.points.len() as f64 / 2.0;
    let middle = stretch.first + reach;
    let (first, stride) = (stretch.first, stretch.stride);
    for (_, fit) in fits.iter().enumerate().filter(|(other, _)| *other != own) {
        let Some(PoleFit { pole, .. }) = fit else { continue };
        let distance = (pole.position - middle).abs().max(reach);
        if complex::modulus(pole.amplitude) / distance * (reach / distance) > least {
            for (k, y) in stretch.points.iter_mut().enumerate() {
                *y -= pole.at(first + stride * k as f64);
            }
        }
    }
}

/// Uncertainty from noise and from misfit; `None` for what is no usable line.
fn judge(fit: &PoleFit, noise: ComplexNoise, least_snr: f64) -> Option<FittedLine> {
    let sigma = noise.sigma.max(f64::MIN_POSITIVE);
    let snr = fit.pole.height() / sigma;
    let variance = sigma * sigma * noise.colour / fit.stride * fit.amplitude_variance;
    let u = variance.sqrt() / complex::modulus(fit.pole.amplitude);
    let averaged = sigma * sigma * (noise.colour / fit.stride).min(1.0);
    let excess = (fit.misfit / averaged - MISFIT_BY_NOISE).max(0.0);
    let u_shape = PHASE_PER_MISFIT * excess.sqrt() / snr;
    let usable = snr >= least_snr && u.is_finite() && u < 0.5;
    usable.then_some(FittedLine { pole: fit.pole, phase: argument(fit.pole.amplitude), u, u_shape, snr })
}
