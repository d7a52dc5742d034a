//! One complex Lorentzian with a complex local straight line, by least squares.

use nalgebra::{Matrix4, Vector4};
use num_complex::Complex64;

/// A complex Lorentzian `C / (g - i (z - z0))` over the index `z`: position and half width in points, and the
/// complex amplitude whose argument is the line's phase. The index falls with frequency, hence the sign.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pole {
    /// Index of the maximum, fractional.
    pub position: f64,
    /// Half width at half height, in points.
    pub half_width: f64,
    /// Complex amplitude: area over pi, in intensity times points.
    pub amplitude: Complex64,
}

/// A fitted pole and how well it fits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PoleFit {
    /// The line.
    pub pole: Pole,
    /// Variance of the amplitude (one channel) for unit variance of one channel of independent points.
    pub amplitude_variance: f64,
    /// Mean squared residual of one channel.
    pub misfit: f64,
    /// Residual degrees of freedom (both channels).
    pub freedom: usize,
}

/// Steps of the fit: from a start read off the power, three reach the noise.
const STEPS: usize = 5;
/// Narrowest half width a fit may reach, in points.
const NARROWEST: f64 = 0.2;

impl Pole {
    /// The line's complex value at an index.
    #[must_use]
    pub fn at(&self, index: f64) -> Complex64 {
        self.amplitude / Complex64::new(self.half_width, self.position - index)
    }

    /// Height of the absorption line.
    #[must_use]
    pub fn height(&self) -> f64 {
        self.amplitude.norm() / self.half_width
    }
}

/// Fits `Y(z) = C / (g - i (z - z0)) + a + b z` to the points of a window starting at index `start`.
///
/// With `f = 1 / (z - zp)` the model is linear in `a`, `b`, `iC`, and, to first order, in a shift of the complex
/// place `zp = z0 - i g`, whose derivative is `f^2`: each step solves four complex unknowns. `None` when the fit
/// leaves the window.
///
/// ```
/// use lees_process::phase::{Pole, fit_pole};
/// use num_complex::Complex64;
/// let truth = Pole { position: 110.3, half_width: 2.5, amplitude: Complex64::from_polar(4.0, 0.7) };
/// let window: Vec<_> = (100..121).map(|i| truth.at(f64::from(i)) + Complex64::new(0.1, -0.2)).collect();
/// let fit = fit_pole(&window, 100, 110.0, 3.0).expect("converges");
/// assert!((fit.pole.amplitude.arg() - 0.7).abs() < 1e-6);
/// assert!((fit.pole.position - 110.3).abs() < 1e-6);
/// ```
#[must_use]
pub fn fit_pole(window: &[Complex64], start: usize, position: f64, half_width: f64) -> Option<PoleFit> {
    if window.len() < 6 {
        return None;
    }
    let centre = start as f64 + (window.len() - 1) as f64 / 2.0;
    let reach = (window.len() as f64 / 2.0).max(1.0);
    let mut place = Complex64::new(position - centre, -half_width);
    let mut solved = None;
    for step in 0..STEPS {
        let solution = solve(window, reach, place)?;
        let moved = solution.values[3] / solution.values[2];
        solved = Some((solution, place));
        if step + 1 < STEPS {
            place = limited(place, moved, half_width, reach)?;
        }
        if moved.norm() < 1e-4 * half_width {
            break;
        }
    }
    let (solution, place) = solved?;
    let pole = Pole {
        position: place.re + centre,
        half_width: -place.im,
        amplitude: solution.values[2] * Complex64::new(0.0, -1.0),
    };
    let freedom = 2 * window.len() - 8;
    Some(PoleFit {
        pole,
        amplitude_variance: solution.variance,
        misfit: solution.squares / freedom as f64,
        freedom,
    })
}

/// The place after a step, held to half a width at a time, a sensible width, and the window.
fn limited(place: Complex64, step: Complex64, half_width: f64, reach: f64) -> Option<Complex64> {
    let longest = 0.7 * half_width;
    let step = if step.norm() > longest { step * (longest / step.norm()) } else { step };
    if !step.is_finite() {
        return None;
    }
    let next = place + step;
    let width = (-next.im).clamp(NARROWEST, 4.0 * half_width);
    (next.re.abs() < reach).then_some(Complex64::new(next.re, -width))
}

struct Solution {
    values: Vector4<Complex64>,
    variance: f64,
    squares: f64,
}

/// Least squares for constant, slope, `f` and `f^2` (columns scaled to similar size by `place.im`).
fn solve(window: &[Complex64], reach: f64, place: Complex64) -> Option<Solution> {
    let middle = (window.len() - 1) as f64 / 2.0;
    let row = |k: usize| {
        let z = k as f64 - middle;
        let f = (Complex64::from(z) - place).inv();
        [Complex64::ONE, Complex64::from(z / reach), f, f * f]
    };
    let mut normal = Matrix4::<Complex64>::zeros();
    let mut right = Vector4::<Complex64>::zeros();
    for (k, y) in window.iter().enumerate() {
        let row = row(k);
        for i in 0..4 {
            let conj = row[i].conj();
            right[i] += conj * y;
            for j in 0..=i {
                normal[(i, j)] += conj * row[j];
            }
        }
    }
    for i in 0..4 {
        for j in i + 1..4 {
            normal[(i, j)] = normal[(j, i)].conj();
        }
    }
    let factor = normal.cholesky()?;
    let values = factor.solve(&right);
    let variance = factor.inverse()[(2, 2)].re;
    let squares = window
        .iter()
        .enumerate()
        .map(|(k, y)| {
            (y - row(k).iter().zip(values.iter()).map(|(c, v)| c * v).sum::<Complex64>()).norm_sqr()
        })
        .sum();
    Some(Solution { values, variance, squares })
}
