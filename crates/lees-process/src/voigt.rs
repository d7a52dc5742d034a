//! The Voigt profile: a Lorentzian of natural width spread by a Gaussian of shim.
//!
//! With the Faddeeva function `w`, the profile of half width `gamma` and deviation `sigma` is
//! `Re w(z) / (sigma sqrt(2 pi))`, `z = (x + i gamma) / (sigma sqrt 2)` (Abramowitz & Stegun, Handbook of Mathematical
//! Functions, 7.4.13).

use std::f64::consts::{FRAC_1_PI, FRAC_2_SQRT_PI, PI, SQRT_2};
use std::fmt;
use std::sync::{Arc, OnceLock};

use num_complex::Complex64;

/// Beyond this modulus the asymptotic series is good to 2e-7.
const FAR: f64 = 5.5;
/// Terms of the rational form: good to 5e-6 within `FAR`, to 1e-6 where the Lorentzian is a third of the width.
const TERMS: usize = 12;
/// The rational form's sum is taken in this many parts, which do not wait for each other.
const LANES: usize = 4;
/// Nodes of the table a half width at half height (of the whole profile, roughly): cubics between are good to 1e-6.
const NODES: f64 = 16.0;
/// Half widths the table goes out to: the windows of line fits. Beyond, the series is short.
const TABLE_REACH: f64 = 32.0;
/// `1 / sqrt(pi)`.
const FRAC_1_SQRT_PI: f64 = FRAC_2_SQRT_PI / 2.0;

/// A profile of unit area, tabulated: fits ask for it a million times.
#[derive(Clone)]
pub(crate) struct Voigt {
    kernel: Kernel,
    /// Distance of the table's nodes.
    step: f64,
    nodes: Arc<[Node]>,
}

impl fmt::Debug for Voigt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.kernel.fmt(f)
    }
}

/// Value, slope and area from the middle, at a place of the table.
#[derive(Clone, Copy)]
struct Node {
    value: f64,
    slope: f64,
    area: f64,
}

/// The profile between two nodes, by powers of the way from the left one.
struct Cubic<'a> {
    left: &'a Node,
    linear: f64,
    square: f64,
    cube: f64,
}

impl Voigt {
    /// The profile of a Lorentzian's half width at half height and a Gaussian's standard deviation, which is positive.
    pub(crate) fn new(gamma: f64, sigma: f64) -> Self {
        let kernel = Kernel { gamma, sigma };
        let step = (gamma + sigma) / NODES;
        let mut area = 0.0;
        let mut last: Option<(f64, f64)> = None;
        let node = |k: usize| {
            let (value, slope) = kernel.value_and_slope(k as f64 * step);
            if let Some((before, slope_before)) = last {
                area += step * ((before + value) / 2.0 + step * (slope_before - slope) / 12.0);
            }
            last = Some((value, slope));
            Node { value, slope, area }
        };
        let nodes = (0..=(NODES * TABLE_REACH) as usize).map(node).collect();
        Self { kernel, step, nodes }
    }

    /// Value and slope.
    pub(crate) fn value_and_slope(&self, x: f64) -> (f64, f64) {
        let Some((at, t)) = self.between(x) else { return self.kernel.tail(x) };
        let value = at.left.value + t * (at.linear + t * (at.square + t * at.cube));
        let slope = (at.linear + t * (2.0 * at.square + 3.0 * t * at.cube)) / self.step;
        (value, if x < 0.0 { -slope } else { slope })
    }

    /// The cubic between the nodes on either side of a place, and how far between them it lies; `None` beyond the table.
    fn between(&self, x: f64) -> Option<(Cubic<'_>, f64)> {
        let place = x.abs() / self.step;
        let [left, right] = self.nodes.get(place as usize..)?.first_chunk::<2>()?;
        let rise = right.value - left.value;
        let (b, c) = (left.slope * self.step, right.slope * self.step);
        let cubic = Cubic { left, linear: b, square: 3.0 * rise - 2.0 * b - c, cube: b + c - 2.0 * rise };
        Some((cubic, place.fract()))
    }

    /// The dispersion that belongs to the profile.
    pub(crate) fn dispersion(&self, x: f64) -> f64 {
        self.kernel.dispersion(x)
    }

    /// The area below `x`.
    pub(crate) fn integral(&self, x: f64) -> f64 {
        0.5 + self.half_area(x.abs()).copysign(x)
    }

    /// The area from the middle to `x`, which is not negative.
    fn half_area(&self, x: f64) -> f64 {
        let Some((at, t)) = self.between(x) else { return 0.5 - self.kernel.beyond(x) };
        let mean = at.left.value + t * (at.linear / 2.0 + t * (at.square / 3.0 + t * at.cube / 4.0));
        at.left.area + self.step * t * mean
    }
}

/// The profile as such.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Kernel {
    /// Half width at half height of the Lorentzian.
    pub(crate) gamma: f64,
    /// Standard deviation of the Gaussian.
    pub(crate) sigma: f64,
}

impl Kernel {
    fn place(&self, x: f64) -> Complex64 {
        Complex64::new(x, self.gamma) / (self.sigma * SQRT_2)
    }

    fn value_and_slope(&self, x: f64) -> (f64, f64) {
        let (w, slope) = faddeeva(self.place(x));
        let scale = self.sigma * SQRT_2;
        (w.re * FRAC_1_SQRT_PI / scale, slope.re * FRAC_1_SQRT_PI / (scale * scale))
    }

    /// Value and slope far out, where the Gaussian's second moment is all that is left of it: `Im [1 / z + sigma^2 / z^3]
    /// / pi`, `z = x - i gamma`.
    fn tail(&self, x: f64) -> (f64, f64) {
        let (g2, s2) = (self.gamma * self.gamma, self.sigma * self.sigma);
        let q = (x * x + g2).recip();
        let front = self.gamma * FRAC_1_PI * q;
        let bend = s2 * (3.0 * x * x - g2) * q * q;
        let slope = -2.0 * x * q + 6.0 * s2 * x * q * q - 6.0 * x * q * bend;
        (front * (1.0 + bend), front * slope)
    }

    pub(crate) fn dispersion(&self, x: f64) -> f64 {
        faddeeva(self.place(x)).0.im * FRAC_1_SQRT_PI / (self.sigma * SQRT_2)
    }

    /// The area beyond `x`, far out: the integral of the series.
    fn beyond(&self, x: f64) -> f64 {
        let z = self.place(x);
        let s = (z * z).inv();
        let series = s * (0.25 + s * (3.0 / 16.0 + s * (5.0 / 16.0 + s * (105.0 / 128.0))));
        FRAC_1_PI * (z.arg() - series.im)
    }
}

/// The Faddeeva function and its derivative `2 i / sqrt(pi) - 2 z w`, in the upper half plane.
fn faddeeva(z: Complex64) -> (Complex64, Complex64) {
    if z.norm_sqr() > FAR * FAR {
        return series(z);
    }
    let w = rational(z);
    (w, Complex64::new(0.0, FRAC_2_SQRT_PI) - 2.0 * z * w)
}

/// Asymptotic series (Abramowitz & Stegun 7.1.23) and its derivative.
fn series(z: Complex64) -> (Complex64, Complex64) {
    let u = z.inv();
    let s = u * u;
    let front = Complex64::new(0.0, FRAC_1_SQRT_PI);
    let w = 1.0 + s * (0.5 + s * (0.75 + s * (1.875 + s * 6.5625)));
    let slope = 1.0 + s * (1.5 + s * (3.75 + s * (13.125 + s * 59.0625)));
    (front * u * w, -front * s * slope)
}

/// Weideman's rational form (SIAM J. Numer. Anal. 1994, 31, 1497, carried over from memory; the tests compare with
/// tabulated values).
fn rational(z: Complex64) -> Complex64 {
    let (reach, terms) = expansion();
    let iz = Complex64::new(-z.im, z.re);
    let below = (reach - iz).inv();
    let ratio = (reach + iz) * below;
    let square = ratio * ratio;
    let fourth = square * square;
    let eighth = fourth * fourth;
    let lane = |k: usize| terms[k] + terms[k + LANES] * fourth + terms[k + 2 * LANES] * eighth;
    let sum = lane(0) + ratio * lane(1) + square * (lane(2) + ratio * lane(3));
    (2.0 * sum * below + FRAC_1_SQRT_PI) * below
}

/// The scale and the coefficients: Fourier terms of `exp(-t^2) (L^2 + t^2)`, `t = L tan(angle / 2)`.
fn expansion() -> &'static (f64, [f64; TERMS]) {
    static EXPANSION: OnceLock<(f64, [f64; TERMS])> = OnceLock::new();
    EXPANSION.get_or_init(|| {
        let reach = (TERMS as f64 / SQRT_2).sqrt();
        let samples = 4 * TERMS;
        let term = |n: usize| -> f64 {
            let part = |k: usize| {
                let angle = PI * (k as f64 / (samples / 2) as f64 - 1.0);
                let t = reach * (angle / 2.0).tan();
                let even = (-t * t).exp() * (reach * reach + t * t);
                even * (angle * n as f64).cos()
            };
            (1..samples).map(part).sum::<f64>() / samples as f64
        };
        (reach, std::array::from_fn(|n| term(n + 1)))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `w` from Abramowitz & Stegun, table 7.9, and `exp(y^2) erfc(y)` on the imaginary axis.
    #[test]
    fn the_faddeeva_function_is_the_tabulated_one() {
        let known = [
            ((0.0, 1.0), (0.427_584, 0.0)),
            ((1.0, 0.0), (0.367_879, 0.607_158)),
            ((1.0, 1.0), (0.304_744, 0.208_219)),
            ((2.0, 1.0), (0.140_240, 0.222_213)),
            ((0.0, 2.0), (0.255_396, 0.0)),
        ];
        for ((x, y), (re, im)) in known {
            let w = faddeeva(Complex64::new(x, y)).0;
            assert!((w - Complex64::new(re, im)).norm() < 6e-6, "{x} {y}: {w}");
        }
    }

    #[test]
    fn both_forms_meet() {
        for angle in [0.01, 0.3, 0.9, 1.5] {
            let z = Complex64::from_polar(FAR, angle);
            let (far, far_slope) = series(z);
            let near = rational(z);
            let near_slope = Complex64::new(0.0, FRAC_2_SQRT_PI) - 2.0 * z * near;
            assert!((far - near).norm() < 2e-6, "{angle}: {far} {near}");
            assert!((far_slope - near_slope).norm() < 2e-5, "{angle}: {far_slope} {near_slope}");
        }
    }

    #[test]
    fn the_tail_meets_the_table() {
        for (gamma, sigma) in [(0.01, 0.4), (0.3, 0.2), (0.4, 0.02)] {
            let line = Voigt::new(gamma, sigma);
            for widths in [TABLE_REACH, 40.0, 200.0] {
                let x = widths * (gamma + sigma);
                let (value, slope) = line.kernel.tail(x);
                let (exact, exact_slope) = line.kernel.value_and_slope(x);
                assert!((value / exact - 1.0).abs() < 2e-5, "{gamma} {sigma} {widths}: {value} {exact}");
                assert!(
                    (slope / exact_slope - 1.0).abs() < 1e-4,
                    "{gamma} {sigma} {widths}: {slope} {exact_slope}"
                );
            }
        }
    }

    /// The table and the function agree, at lines from all but Gaussian to all but Lorentzian.
    #[test]
    fn the_table_is_the_function() {
        for (gamma, sigma) in [(0.01, 0.4), (0.3, 0.2), (0.4, 0.02)] {
            let line = Voigt::new(gamma, sigma);
            let (top, _) = line.kernel.value_and_slope(0.0);
            for k in -4000..4000 {
                let x = f64::from(k) * 0.004_1;
                let (value, slope) = line.value_and_slope(x);
                let (exact, exact_slope) = line.kernel.value_and_slope(x);
                assert!((value - exact).abs() < 3e-6 * top, "{gamma} {sigma} {x}: {value} {exact}");
                assert!(
                    (slope - exact_slope).abs() < 3e-4 * top / (gamma + sigma),
                    "{x}: {slope} {exact_slope}"
                );
            }
        }
    }

    #[test]
    fn the_area_is_one_and_its_parts_add_up() {
        let line = Voigt::new(0.3, 0.2);
        let step = 1e-3;
        let sum: f64 =
            (-1000..1000).map(|k| line.value_and_slope((f64::from(k) + 0.5) * step).0 * step).sum();
        assert!((sum - (line.integral(1.0) - line.integral(-1.0))).abs() < 1e-6, "{sum}");
        let edge = 0.5 * TABLE_REACH;
        let across = line.integral(edge + 1e-6) - line.integral(edge - 1e-6);
        assert!((line.integral(0.0) - 0.5).abs() < 1e-12 && across.abs() < 1e-6, "{across}");
        assert!(line.integral(1e6) > 1.0 - 1e-6);
    }
}
