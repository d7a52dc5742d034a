//! The Voigt profile: a Lorentzian of natural width spread by a Gaussian of shim.
//!
//! With the Faddeeva function `w`, the profile of half width `gamma` and deviation `sigma` is
//! `Re w(z) / (sigma sqrt(2 pi))`, `z = (x + i gamma) / (sigma sqrt 2)` (Abramowitz & Stegun, Handbook of Mathematical
//! Functions, 7.4.13).

use std::f64::consts::{FRAC_1_PI, FRAC_2_SQRT_PI, PI, SQRT_2};
use std::sync::OnceLock;

use num_complex::Complex64;

/// Beyond this modulus the asymptotic series is good to 1e-7.
const FAR: f64 = 8.0;
/// Terms of the rational form: good to 1e-8 within `FAR`.
const TERMS: usize = 24;
/// Parts into which the stretch up to `FAR` is cut for the integral; even.
const PARTS: usize = 256;
/// `1 / sqrt(pi)`.
const FRAC_1_SQRT_PI: f64 = FRAC_2_SQRT_PI / 2.0;

/// A profile of unit area; `sigma` is positive.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Voigt {
    /// Half width at half height of the Lorentzian.
    pub(crate) gamma: f64,
    /// Standard deviation of the Gaussian.
    pub(crate) sigma: f64,
}

impl Voigt {
    fn place(&self, x: f64) -> Complex64 {
        Complex64::new(x, self.gamma) / (self.sigma * SQRT_2)
    }

    /// Value and slope.
    pub(crate) fn value_and_slope(&self, x: f64) -> (f64, f64) {
        let (w, slope) = faddeeva(self.place(x));
        let scale = self.sigma * SQRT_2;
        (w.re * FRAC_1_SQRT_PI / scale, slope.re * FRAC_1_SQRT_PI / (scale * scale))
    }

    /// The dispersion that belongs to the profile.
    pub(crate) fn dispersion(&self, x: f64) -> f64 {
        faddeeva(self.place(x)).0.im * FRAC_1_SQRT_PI / (self.sigma * SQRT_2)
    }

    /// The area below `x`.
    pub(crate) fn integral(&self, x: f64) -> f64 {
        let beyond = self.beyond(x.abs());
        if x > 0.0 { 1.0 - beyond } else { beyond }
    }

    /// The area beyond `x`, which is not negative: Simpson's rule up to `FAR`, then the integral of the series.
    fn beyond(&self, x: f64) -> f64 {
        let scale = self.sigma * SQRT_2;
        let far = scale * (FAR * FAR - (self.gamma / scale).powi(2)).max(0.0).sqrt();
        let start = x.max(far);
        let z = self.place(start);
        let s = (z * z).inv();
        let series = s * (0.25 + s * (3.0 / 16.0 + s * (5.0 / 16.0 + s * (105.0 / 128.0))));
        let tail = FRAC_1_PI * (z.arg() - series.im);
        let step = (start - x) / PARTS as f64;
        let weight = |k: usize| if k == 0 || k == PARTS { 1.0 } else { 2.0 + 2.0 * (k % 2) as f64 };
        let near: f64 = (0..=PARTS).map(|k| weight(k) * self.value_and_slope(x + step * k as f64).0).sum();
        tail + near * step / 3.0
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
    let sum = terms.iter().rev().fold(Complex64::ZERO, |sum, &term| sum * ratio + term);
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
            assert!((w - Complex64::new(re, im)).norm() < 2e-6, "{x} {y}: {w}");
        }
    }

    #[test]
    fn both_forms_meet() {
        for angle in [0.01, 0.3, 0.9, 1.5] {
            let z = Complex64::from_polar(FAR, angle);
            let (far, far_slope) = series(z);
            let near = rational(z);
            let near_slope = Complex64::new(0.0, FRAC_2_SQRT_PI) - 2.0 * z * near;
            assert!((far - near).norm() < 1e-7, "{angle}: {far} {near}");
            assert!((far_slope - near_slope).norm() < 2e-6, "{angle}: {far_slope} {near_slope}");
        }
    }

    #[test]
    fn the_area_is_one_and_its_parts_add_up() {
        let line = Voigt { gamma: 0.3, sigma: 0.2 };
        let step = 1e-3;
        let sum: f64 =
            (-1000..1000).map(|k| line.value_and_slope((f64::from(k) + 0.5) * step).0 * step).sum();
        assert!((sum - (line.integral(1.0) - line.integral(-1.0))).abs() < 1e-6, "{sum}");
        assert!((line.integral(0.0) - 0.5).abs() < 1e-6 && line.integral(1e6) > 1.0 - 1e-6);
    }
}
