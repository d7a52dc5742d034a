//! Lines to a decay in the time domain.

use lees_core::complex::{self, polar};
use std::f64::consts::PI;

use num_complex::Complex64;

use super::filter::Filter;
use super::line::SimLine;
use super::{Recipe, Shape};

/// Points written from one table of powers; fits the innermost cache and keeps rounding errors small.
const BLOCK: usize = 64;

/// A line fainter than this share of a proton is left out of the rest of the decay.
const SILENT: f64 = 1e-14;

/// The decay of all lines, complete with receiver phase, late start and digital filter.
pub(crate) fn decay(recipe: &Recipe, lines: &[SimLine]) -> Vec<Complex64> {
    let tube = &recipe.instrument;
    let start = recipe.faults.receiver.delay_points * tube.dwell();
    let mut points = match tube.group_delay {
        None => direct(lines, &recipe.shape, start, tube.dwell(), tube.fid_points),
        Some(delay) => filtered(lines, &recipe.shape, start, tube.dwell(), tube.fid_points, delay),
    };
    let phase = polar(1.0, recipe.faults.receiver.phase_deg.to_radians());
    points.iter_mut().for_each(|z| *z *= phase);
    points
}

fn direct(lines: &[SimLine], shape: &Shape, start: f64, dwell: f64, count: usize) -> Vec<Complex64> {
    let mut sum = Sum::new(count);
    for line in lines {
        sum.add(line.amplitude * complex::exp(line.rate() * start), line.rate() * dwell);
    }
    sum.shaped(shape, start, dwell)
}

/// The build-up is computed on a finer grid and passed through the filter; from then on each line is a plain
/// exponential again, with the filter's gain.
fn filtered(
    lines: &[SimLine],
    shape: &Shape,
    start: f64,
    dwell: f64,
    count: usize,
    delay: f64,
) -> Vec<Complex64> {
    let filter = Filter::new(delay);
    let rise = filter.rise();
    let fine = direct(lines, shape, start, dwell / Filter::OVERSAMPLING as f64, filter.fine_points());
    let mut out: Vec<Complex64> = (0..rise).map(|n| filter.apply(&fine, n)).collect();
    let mut sum = Sum::new(count - rise);
    for line in lines {
        let late = line.amplitude * complex::exp(line.rate() * start);
        sum.add(late * filter.gain(line.rate() * dwell), line.rate() * dwell);
    }
    out.extend(sum.shaped(shape, start + (rise as f64 - delay) * dwell, dwell));
    out
}

impl SimLine {
    /// Exponent per second.
    fn rate(&self) -> Complex64 {
        Complex64::new(-PI * self.width, 2.0 * PI * self.offset)
    }
}

/// A sum of exponentials, real and imaginary parts apart so that the inner loop runs in vector registers.
struct Sum {
    real: Vec<f64>,
    imaginary: Vec<f64>,
}

impl Sum {
    fn new(count: usize) -> Self {
        Self { real: vec![0.0; count], imaginary: vec![0.0; count] }
    }

    /// Adds `first * exp(n * step)` to every point n.
    fn add(&mut self, first: Complex64, step: Complex64) {
        let powers: Vec<Complex64> = (0..BLOCK).map(|k| complex::exp(step * k as f64)).collect();
        let (re, im): (Vec<f64>, Vec<f64>) = powers.iter().map(|z| (z.re, z.im)).unzip();
        let stride = complex::exp(step * BLOCK as f64);
        let mut at = first;
        for (real, imaginary) in self.real.chunks_mut(BLOCK).zip(self.imaginary.chunks_mut(BLOCK)) {
            if at.norm_sqr() < SILENT * SILENT {
                return;
            }
            for (k, (x, y)) in real.iter_mut().zip(imaginary).enumerate() {
                *x += at.re * re[k] - at.im * im[k];
                *y += at.re * im[k] + at.im * re[k];
            }
            at *= stride;
        }
    }

    /// The sum with the common line shape.
    fn shaped(self, shape: &Shape, start: f64, dwell: f64) -> Vec<Complex64> {
        let points = self.real.into_iter().zip(self.imaginary).enumerate();
        points.map(|(n, (x, y))| Complex64::new(x, y) * shape.factor(start + n as f64 * dwell)).collect()
    }
}
