//! Broad lines, fitted on block means together with the baseline.
//!
//! A line of 30 to 250 Hz and a baseline of 450 Hz period explain much of the same data. Fitting one after the
//! other gives part of the line to the baseline; here the baseline is eliminated exactly (it is linear) and the
//! broad lines are fitted to what no baseline can carry.

use nalgebra::{Cholesky, DMatrix, DVector};

use super::{FitLine, LineSettings, WidthKind};
use crate::baseline::grid::Grid;
use crate::dot;

/// Widths tried when looking for broad lines, hertz.
const TRIAL_WIDTHS: [f64; 4] = [14.0, 32.0, 75.0, 170.0];
/// A broad line must stand this many standard errors out of everything a baseline can carry.
const LEAST_SCORE: f64 = 10.0;
/// Most broad lines of a spectrum.
const MOST_BROAD: usize = 8;
/// Steps of a line fitted alone.
const STEPS: usize = 10;
/// Steps of all together, in every round of the baseline: they start near their end.
const JOINT_STEPS: usize = 3;
/// A step that changes chi-square by less ends the fit ...
const SMALL_GAIN: f64 = 0.05;
/// ... or by less than this share of it.
const SMALL_SHARE: f64 = 1e-4;
/// Places tried within a line's width.
const PLACES_PER_WIDTH: f64 = 8.0;
/// Half length of the search kernel, in line widths.
const KERNEL_WIDTHS: f64 = 3.0;

/// A Lorentzian of full width `width` and unit area averaged over blocks: values at all block centres.
#[must_use]
pub(crate) fn block_profile(
    blocks: usize,
    block_hz: f64,
    block_offset: f64,
    position: f64,
    width: f64,
) -> Vec<f64> {
    let edge = |k: usize| {
        let x = k as f64 * block_hz - block_offset - position;
        libm::atan(2.0 * x / width) * std::f64::consts::FRAC_1_PI
    };
    let mut left = edge(0);
    (0..blocks)
        .map(|k| {
            let right = edge(k + 1);
            let value = (right - left) / block_hz;
            left = right;
            value
        })
        .collect()
}

/// Block edges lie half a point left of the block's first point.
fn offset(grid: &Grid) -> f64 {
    0.5 * grid.block_hz / grid.block as f64
}

fn profile(grid: &Grid, position: f64, width: f64) -> Vec<f64> {
    block_profile(grid.means.len(), grid.block_hz, offset(grid), position, width)
}

/// The sum of broad lines at the block centres; `fwhm` is the common width in hertz.
#[must_use]
pub(super) fn sum(grid: &Grid, lines: &[FitLine], fwhm: f64) -> Vec<f64> {
    let mut total = vec![0.0; grid.means.len()];
    for line in lines {
        let values = profile(grid, line.position, line.factor * fwhm);
        total.iter_mut().zip(values).for_each(|(t, v)| *t += line.area * v);
    }
    total
}

/// Looks for broad lines beside those in `broad`, fits all of them and returns the list.
///
/// Each new line is first fitted alone, the others held; all are fitted together at the end.
#[must_use]
pub(crate) fn find_broad(
    grid: &Grid,
    mut broad: Vec<FitLine>,
    fwhm: f64,
    settings: &LineSettings,
) -> Vec<FitLine> {
    let taken = sum(grid, &broad, fwhm);
    let mut left = Left { grid, means: grid.means.iter().zip(&taken).map(|(m, t)| m - t).collect() };
    while broad.len() < MOST_BROAD {
        let Some(candidate) = best_candidate(grid, &left.means, fwhm, settings) else { break };
        let mut alone = [candidate];
        let kept = fit(&left, &mut alone, fwhm, settings, STEPS).is_some();
        if !kept || alone[0].area < LEAST_SCORE * alone[0].area_u {
            break;
        }
        let values = profile(grid, alone[0].position, alone[0].factor * fwhm);
        left.means.iter_mut().zip(values).for_each(|(m, v)| *m -= alone[0].area * v);
        broad.push(alone[0]);
    }
    refine_broad(grid, &mut broad, fwhm, settings);
    broad
}

/// Block means to be explained.
struct Left<'a> {
    grid: &'a Grid,
    means: Vec<f64>,
}

/// The trial line that gains most, when it gains enough.
fn best_candidate(grid: &Grid, left: &[f64], fwhm: f64, settings: &LineSettings) -> Option<FitLine> {
    let reduced = grid.reduce(left);
    let blocks = left.len();
    let mut padded = Vec::new();
    let mut best: Option<(f64, FitLine)> = None;
    for width in TRIAL_WIDTHS.into_iter().filter(|w| *w >= settings.broad_hz && *w >= 2.5 * grid.block_hz) {
        let kernel = kernel(grid, width);
        let half = kernel.len() / 2;
        padded.clear();
        padded.resize(half, 0.0);
        padded.extend_from_slice(&reduced);
        padded.resize(blocks + 2 * half, 0.0);
        let apart = ((PLACES_PER_WIDTH.recip() * width / grid.block_hz) as usize).max(1);
        let gain = |k: usize| dot(&kernel, &padded[k..]);
        let tried = (0..blocks).step_by(apart).map(|k| (k, gain(k)));
        let Some((k, gain)) = tried.max_by(|a, b| a.1.total_cmp(&b.1)) else {
            continue;
        };
        let position = (k as f64 + 0.5) * grid.block_hz - offset(grid);
        let column = profile(grid, position, width);
        let norm: f64 = grid.reduce(&column).iter().zip(&column).map(|(a, b)| a * b).sum();
        let score = gain / (norm.max(f64::MIN_POSITIVE).sqrt() * grid.sigma);
        if score > LEAST_SCORE && best.as_ref().is_none_or(|(b, _)| score > *b) {
            let mut line = FitLine::new(position, gain / norm, width / fwhm);
            line.width = WidthKind::Broad;
            best = Some((score, line));
        }
    }
    best.map(|(_, line)| line)
}

fn kernel(grid: &Grid, width: f64) -> Vec<f64> {
    let half = ((KERNEL_WIDTHS * width / grid.block_hz).ceil() as usize).min(grid.means.len() / 2).max(1);
    let centre = (half as f64 + 0.5) * grid.block_hz;
    block_profile(2 * half + 1, grid.block_hz, 0.0, centre, width)
}

/// Fits position, width and area of every broad line, the baseline eliminated; lines that do not stand out are
/// dropped.
pub(crate) fn refine_broad(grid: &Grid, broad: &mut Vec<FitLine>, fwhm: f64, settings: &LineSettings) {
    let data = Left { grid, means: grid.means.clone() };
    while !broad.is_empty() {
        if fit(&data, broad, fwhm, settings, JOINT_STEPS).is_none() {
            return;
        }
        let before = broad.len();
        broad.retain(|l| l.area > LEAST_SCORE * l.area_u);
        if broad.len() == before {
            return;
        }
    }
}

/// One joint fit with errors; `None` when it cannot be done.
fn fit(
    data: &Left<'_>,
    broad: &mut [FitLine],
    fwhm: f64,
    settings: &LineSettings,
    steps: usize,
) -> Option<()> {
    let p = broad.len();
    let mut damping = 1e-3;
    let mut now = equations(data, broad, fwhm);
    for _ in 0..steps {
        let mut damped = now.normal.clone();
        for k in p..3 * p {
            damped[(k, k)] *= 1.0 + damping;
        }
        let step = Cholesky::new(damped)?.solve(&now.gradient);
        let mut trial = broad.to_vec();
        advance(&mut trial, &step, fwhm, settings);
        let next = equations(data, &trial, fwhm);
        let gain = now.objective - next.objective;
        if gain > 0.0 {
            broad.copy_from_slice(&trial);
            now = next;
            damping /= 5.0;
        } else {
            damping *= 10.0;
        }
        if gain.abs() < SMALL_GAIN + SMALL_SHARE * now.objective {
            break;
        }
    }
    let covariance = Cholesky::new(now.normal)?.inverse();
    for (k, line) in broad.iter_mut().enumerate() {
        let u = |i: usize| covariance[(i, i)].max(0.0).sqrt();
        line.area_u = u(k);
        line.position_u = u(p + k);
        line.factor_u = line.factor * u(2 * p + k);
    }
    Some(())
}

/// Normal equations at a point, in units of a block's noise.
struct Equations {
    normal: DMatrix<f64>,
    gradient: DVector<f64>,
    objective: f64,
}

fn advance(broad: &mut [FitLine], step: &DVector<f64>, fwhm: f64, settings: &LineSettings) {
    let p = broad.len();
    for (k, line) in broad.iter_mut().enumerate() {
        let width = line.factor * fwhm;
        line.area = (line.area + step[k]).max(1e-3 * line.area);
        line.position += step[p + k].clamp(-0.5 * width, 0.5 * width);
        let width = (width * libm::exp(step[2 * p + k].clamp(-0.5, 0.5)))
            .clamp(0.7 * settings.broad_hz, settings.widest_hz);
        line.factor = width / fwhm;
    }
}

/// Normal equations in areas, positions and logarithmic widths.
fn equations(data: &Left<'_>, broad: &[FitLine], fwhm: f64) -> Equations {
    let grid = data.grid;
    let p = broad.len();
    let mut columns: Vec<Vec<f64>> =
        broad.iter().map(|l| profile(grid, l.position, l.factor * fwhm)).collect();
    let mut left = data.means.clone();
    for (line, column) in broad.iter().zip(&columns) {
        left.iter_mut().zip(column).for_each(|(r, v)| *r -= line.area * v);
    }
    columns.extend(broad.iter().map(|l| by_position(grid, l, fwhm)));
    columns.extend(broad.iter().map(|l| by_width(grid, l, fwhm)));
    let scale = grid.sigma.powi(-2);
    let reduced_left = grid.reduce(&left);
    let product = |a: &[f64], b: &[f64]| scale * a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
    let mut normal = DMatrix::zeros(3 * p, 3 * p);
    let mut gradient = DVector::zeros(3 * p);
    for a in 0..3 * p {
        let reduced = grid.reduce(&columns[a]);
        for b in 0..=a {
            normal[(a, b)] = product(&reduced, &columns[b]);
            normal[(b, a)] = normal[(a, b)];
        }
        normal[(a, a)] *= 1.0 + 1e-9;
        gradient[a] = product(&reduced_left, &columns[a]);
    }
    Equations { normal, gradient, objective: product(&reduced_left, &left) }
}

fn by_position(grid: &Grid, line: &FitLine, fwhm: f64) -> Vec<f64> {
    let g = line.factor * fwhm / 2.0;
    edges(grid, |x| -line.area * std::f64::consts::FRAC_1_PI * g / (g * g + x * x), line.position)
}

fn by_width(grid: &Grid, line: &FitLine, fwhm: f64) -> Vec<f64> {
    let g = line.factor * fwhm / 2.0;
    edges(grid, |x| -line.area * std::f64::consts::FRAC_1_PI * g * x / (g * g + x * x), line.position)
}

/// Differences of a function over block edges, over the block's width.
fn edges(grid: &Grid, function: impl Fn(f64) -> f64, position: f64) -> Vec<f64> {
    let at = |k: usize| function(k as f64 * grid.block_hz - offset(grid) - position);
    (0..grid.means.len()).map(|k| (at(k + 1) - at(k)) / grid.block_hz).collect()
}
