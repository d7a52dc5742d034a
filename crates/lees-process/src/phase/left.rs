//! The phase left at lines already fitted with their true shape.

use std::ops::Range;

use lees_core::{Hertz, Spectrum};
use nalgebra::{DMatrix, DVector};

use super::PhaseSettings;
use super::cluster::BY_NOISE;
use super::gram::gram;
use super::straight::{Angle, Straight, straight};
use crate::factor::Factor;
use crate::lines::{Cluster, FitLine, Found, WidthKind, clusters, lorentzian_of};
use crate::lineshape::Row;

/// Half window around each line, in line widths: the dispersion falls slowly, the baseline takes what lies further out.
const REACH_WIDTHS: f64 = 15.0;
/// First-order phase searched, radians over the spectrum: the first estimate is nearer than this.
const RANGE: f64 = 0.2;
/// From when on a phase left is taken off.
#[derive(Debug, Clone, Copy)]
pub(super) struct Least {
    /// A phase left under this many standard uncertainties is noise.
    pub(super) significance: f64,
    /// The dispersion must reach this many deviations of noise beside some line.
    pub(super) seen: f64,
    /// Somewhere among the lines the phase must be this large, in degrees.
    pub(super) degrees: f64,
}

/// Deviation of the logarithm of a sharp line's width.
const WIDTH_SPREAD: f64 = 0.1;
/// Points that a line's width is looked at in.
const POINTS_PER_WIDTH: f64 = 3.0;
/// Columns of a cluster besides three a line: phase, a constant, a slope and a parabola.
const COMMON: usize = 4;

/// A phase left in a spectrum.
pub(super) struct Left {
    pub(super) line: Straight,
    /// How far its dispersion stands out of noise, in deviations, where most.
    seen: f64,
    /// The largest angle at any cluster, in degrees.
    degrees: f64,
}

impl Left {
    /// Whether it is large enough to be taken off.
    pub(super) fn reaches(&self, least: Least) -> bool {
        let over = |value: f64, u: f64| if u > 0.0 { value / u } else { 0.0 };
        let line = &self.line;
        let significance = libm::hypot(over(line.at_pivot, line.u_at_pivot), over(line.slope, line.u_slope));
        significance > least.significance && self.seen >= least.seen && self.degrees >= least.degrees
    }
}

/// A straight line of phases left in a spectrum's real part, from the dispersion in the residual of fitted lines.
///
/// Beside each cluster of lines the residual is fitted, linearly, with the lines' dispersion under one common angle,
/// small changes of each line's area, place and width, and a parabola of baseline; a robust straight line through the
/// angles of the clusters follows. Unlike fits before the lines' shape is known it is not led astray by lines that are
/// no Lorentzians. `None` without a line that is strong enough.
pub(super) fn phase_left(found: &Found, spectrum: &Spectrum, settings: &PhaseSettings) -> Option<Left> {
    let (values, step) = (spectrum.real.as_slice()?, spectrum.axis.hertz_per_point().0);
    let lines: Vec<FitLine> = found.lines.iter().copied().filter(|l| l.width != WidthKind::Broad).collect();
    let reach = REACH_WIDTHS * found.shape.fwhm().0;
    let scene = Scene { found, values, step };
    let n = values.len() as f64;
    let angles: Vec<(Angle, f64)> = clusters(&lines, reach, step, values.len())
        .into_iter()
        .filter_map(|cluster| scene.angle(&lines, &cluster, settings.least_line_snr))
        .map(|(angle, snr)| (Angle { x: angle.x / n, ..angle }, snr))
        .collect();
    let ends =
        angles.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |e, (a, _)| (e.0.min(a.x), e.1.max(a.x)));
    let free = angles.len() >= settings.least_lines_for_ph1
        && (ends.1 - ends.0) * n * spectrum.axis.step().abs().0 >= settings.least_span_ppm;
    let plain: Vec<Angle> = angles.iter().map(|(angle, _)| *angle).collect();
    let line = straight(&plain, if free { RANGE } else { 0.0 })?;
    let at = |a: &Angle| (line.at_pivot + line.slope * (a.x - line.pivot)).abs();
    // The dispersion of a Lorentzian is half as high as the line.
    let seen = angles.iter().map(|(angle, snr)| at(angle) * snr / 2.0).fold(0.0, f64::max);
    let degrees = plain.iter().map(at).fold(0.0, f64::max).to_degrees();
    Some(Left { seen, degrees, line })
}

struct Scene<'a> {
    found: &'a Found,
    values: &'a [f64],
    step: f64,
}

impl Scene<'_> {
    /// The angle of a cluster, at the centre (in points) of its lines' energy, and its tallest line's height over noise.
    fn angle(&self, lines: &[FitLine], cluster: &Cluster, least_snr: f64) -> Option<(Angle, f64)> {
        let own = &lines[cluster.lines.clone()];
        let shape = &self.found.shape;
        let sigma = self.found.noise.sigma((own[0].position / self.step).max(0.0) as usize);
        let tallest = own.iter().map(|l| l.area * shape.height(l.factor)).fold(0.0, f64::max);
        if tallest < least_snr * sigma {
            return None;
        }
        let stride = self.stride();
        // variance of the mean of a stride, and by how much means over many exceed that of independent ones
        let of_mean = self.found.noise.of_sums(stride).variance(&[1.0]) / (stride * stride) as f64;
        let colour = (self.found.noise.colour() / (stride as f64 * of_mean)).max(1.0);
        let (matrix, residual) = self.columns(own, cluster.window.clone(), sigma * of_mean.sqrt());
        let mut normal = gram(&matrix);
        for (k, line) in own.iter().enumerate() {
            let width = COMMON + 3 * k + 2;
            normal[(width, width)] += (WIDTH_SPREAD * line.factor).powi(-2);
        }
        let scale: DVector<f64> = normal.diagonal().map(|d| d.max(f64::MIN_POSITIVE).sqrt().recip());
        let scaled =
            DMatrix::from_fn(normal.nrows(), normal.ncols(), |i, j| normal[(i, j)] * scale[i] * scale[j]);
        let factor = Factor::of(&scaled)?;
        let answer = factor.solve(&matrix.tr_mul(&residual).component_mul(&scale)).component_mul(&scale);
        let variance = factor.variance(0) * scale[0] * scale[0];
        let left = (&residual - &matrix * &answer).norm_squared() / residual.len() as f64;
        let u = (variance * colour).sqrt();
        let energy = |l: &FitLine| l.area * l.area / l.factor;
        let whole: f64 = own.iter().map(energy).sum();
        let x = own.iter().map(|l| energy(l) * l.position).sum::<f64>() / (whole * self.step);
        let u_shape = u * (left - BY_NOISE).max(0.0).sqrt();
        let angle = Angle { x, angle: answer[0], u, u_shape };
        (u.is_finite() && answer[0].is_finite()).then_some((angle, tallest / sigma.max(f64::MIN_POSITIVE)))
    }

    /// Points averaged to one.
    fn stride(&self) -> usize {
        ((self.found.shape.fwhm().0 / (POINTS_PER_WIDTH * self.step)) as usize).max(1)
    }

    /// Dispersion of all lines, constant, slope and parabola, then area, place and width of each line; and the residual;
    /// all averaged over strides, in deviations of noise.
    fn columns(&self, own: &[FitLine], window: Range<usize>, sigma: f64) -> (DMatrix<f64>, DVector<f64>) {
        let found = self.found;
        let lorentzian = lorentzian_of(&found.shape);
        let stride = self.stride();
        let rows = window.len() / stride;
        let mut matrix = DMatrix::zeros(rows, COMMON + 3 * own.len());
        let mean = |row: usize, value: &dyn Fn(usize) -> f64| {
            let first = window.start + row * stride;
            (first..first + stride).map(value).sum::<f64>() / stride as f64
        };
        // at tall lines the shape is off by more than noise
        let weights: Vec<f64> = (0..rows)
            .map(|row| libm::hypot(sigma, found.misfit * mean(row, &|i| found.model[i])).recip())
            .collect();
        let left = |i: usize| self.values[i] - found.baseline_values[i] - found.model[i];
        let residual = DVector::from_fn(rows, |row, _| weights[row] * mean(row, &left));
        let half = rows as f64 / 2.0;
        for row in 0..rows {
            let t = (row as f64 - half) / half.max(1.0);
            let weight = weights[row];
            (matrix[(row, 1)], matrix[(row, 2)], matrix[(row, 3)]) = (weight, t * weight, t * t * weight);
        }
        let first = (window.start as f64 + (stride - 1) as f64 / 2.0) * self.step;
        let step = stride as f64 * self.step;
        let data = matrix.as_mut_slice();
        for (k, line) in own.iter().enumerate() {
            let shape = line.shape(&found.shape, &lorentzian);
            for (row, out) in data[..rows].iter_mut().enumerate() {
                let offset = Hertz(first + row as f64 * step - line.position);
                *out -= line.area * weights[row] * shape.dispersion(offset, line.factor);
            }
            let columns = &mut data[(COMMON + 3 * k) * rows..(COMMON + 3 * k + 3) * rows];
            shape.each_point(Row::about(line.position, first, step), line.factor, rows, |row, point| {
                columns[row] = point.value * weights[row];
                columns[rows + row] = -line.area * point.by_offset * weights[row];
                columns[2 * rows + row] = line.area * point.by_factor * weights[row];
            });
        }
        (matrix, residual)
    }
}
