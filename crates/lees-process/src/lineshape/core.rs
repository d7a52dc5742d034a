//! The symmetric part of a profile: a natural Lorentzian spread by a Gaussian, or either alone.

use super::ShapeParameters;
use crate::voigt::{Kernel, Voigt};

/// Beyond this many Gaussian half widths `exp(-ln 2 u^2)` is below 1e-10 of its height.
const GAUSS_REACH: f64 = 6.0;
/// A core of a larger Lorentzian share is taken as a Lorentzian, of a smaller one as a Gaussian: the other part
/// changes it by less than 1e-6.
const MIXED: (f64, f64) = (1e-6, 1.0 - 1e-6);
/// Full width of a Voigt profile, `0.5346 L + sqrt(0.2166 L^2 + G^2)`, within 0.02 % (Olivero & Longbothum, J. Quant.
/// Spectrosc. Radiat. Transfer 1977, 17, 233, cited from memory).
const OLIVERO: (f64, f64) = (0.5346, 0.2166);
/// Full width at half height of a Gaussian over its standard deviation, `2 sqrt(2 ln 2)`.
const FWHM_OF_GAUSS: f64 = 2.354_820_045_030_949_3;
/// `sqrt(ln 2 / pi)`: height of a Gaussian of unit area and unit half width at half height.
const GAUSS_HEIGHT: f64 = 0.469_718_639_349_825_7;
/// `1 / pi`: height of a Lorentzian of unit area and unit half width at half height.
pub(super) const LORENTZ_HEIGHT: f64 = std::f64::consts::FRAC_1_PI;

/// The symmetric part of a profile.
#[derive(Debug, Clone)]
pub(super) enum Core {
    /// Half width at half height, hertz.
    Lorentz(f64),
    /// Half width at half height, hertz.
    Gauss(f64),
    Voigt(Voigt),
}

impl Core {
    pub(super) fn of(parameters: &ShapeParameters) -> Self {
        let (width, lorentz) = (parameters.width, parameters.lorentz);
        if lorentz > MIXED.1 {
            return Self::Lorentz(width / 2.0);
        }
        if lorentz < MIXED.0 {
            return Self::Gauss(width / 2.0);
        }
        let gauss = ((1.0 - OLIVERO.0 * lorentz).powi(2) - OLIVERO.1 * lorentz * lorentz).max(0.0).sqrt();
        let sigma = (width * gauss / FWHM_OF_GAUSS).max(MIXED.0 * width);
        Self::Voigt(Voigt::new(width * lorentz / 2.0, sigma))
    }

    /// Value and slope at an offset in hertz.
    pub(super) fn at(&self, x: f64) -> (f64, f64) {
        let scaled = |g: f64, (value, slope): (f64, f64)| (value / g, slope / (g * g));
        match self {
            Self::Lorentz(g) => scaled(*g, lorentz(x / g)),
            Self::Gauss(g) => scaled(*g, gauss(x / g)),
            Self::Voigt(voigt) => voigt.value_and_slope(x),
        }
    }

    /// The dispersion at an offset in hertz.
    pub(super) fn dispersion(&self, x: f64) -> f64 {
        match self {
            Self::Lorentz(g) => x / g * lorentz(x / g).0 / g,
            Self::Gauss(g) => Kernel { gamma: 0.0, sigma: 2.0 * g / FWHM_OF_GAUSS }.dispersion(x),
            Self::Voigt(voigt) => voigt.dispersion(x),
        }
    }

    pub(super) fn integral(&self, x: f64) -> f64 {
        match self {
            Self::Lorentz(g) => lorentz_integral(x / g),
            Self::Gauss(g) => gauss_integral(x / g),
            Self::Voigt(voigt) => voigt.integral(x),
        }
    }
}

/// Unit-area, unit-half-width Lorentzian and its slope.
pub(super) fn lorentz(u: f64) -> (f64, f64) {
    let q = 1.0 / (1.0 + u * u);
    let value = LORENTZ_HEIGHT * q;
    (value, -2.0 * u * q * value)
}

/// Unit-area, unit-half-width Gaussian and its slope.
fn gauss(u: f64) -> (f64, f64) {
    if u.abs() > GAUSS_REACH { (0.0, 0.0) } else { near_gauss(u) }
}

/// Kept apart so that no exponential is computed in vain for the many points beyond [`GAUSS_REACH`].
#[inline(never)]
fn near_gauss(u: f64) -> (f64, f64) {
    let value = GAUSS_HEIGHT * libm::exp(-std::f64::consts::LN_2 * u * u);
    (value, -2.0 * std::f64::consts::LN_2 * u * value)
}

pub(super) fn lorentz_integral(u: f64) -> f64 {
    0.5 + libm::atan(u) * std::f64::consts::FRAC_1_PI
}

fn gauss_integral(u: f64) -> f64 {
    0.5 * (1.0 + erf(u * std::f64::consts::LN_2.sqrt()))
}

/// Error function, absolute error below 1.2e-7 (rational form of Numerical Recipes' `erfc`, carried over from
/// memory; the tests compare with tabulated values).
fn erf(x: f64) -> f64 {
    const C: [f64; 10] = [
        -1.265_512_23,
        1.000_023_68,
        0.374_091_96,
        0.096_784_18,
        -0.186_288_06,
        0.278_868_07,
        -1.135_203_98,
        1.488_515_87,
        -0.822_152_23,
        0.170_872_77,
    ];
    let t = 1.0 / (1.0 + 0.5 * x.abs());
    let series = C.iter().rev().fold(0.0, |sum, c| sum * t + c);
    let tail = t * libm::exp(-x * x + series);
    if x >= 0.0 { 1.0 - tail } else { tail - 1.0 }
}
