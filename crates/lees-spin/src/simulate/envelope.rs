//! The line shape all sharp lines share: shim and spinning.

use lees_core::complex::polar;
use std::f64::consts::{LN_2, PI};

use num_complex::Complex64;
use serde::{Deserialize, Serialize};

/// A shim fault: part of the sample sits in another field.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Foot {
    /// Share of the sample, 0 to 1.
    pub share: f64,
    /// Where it resonates relative to the rest, in hertz.
    pub offset_hz: f64,
    /// Its Gaussian full width at half height in hertz.
    pub gaussian_hz: f64,
}

/// Spinning side bands on every line.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Spinning {
    /// Turns per second.
    pub rate_hz: f64,
    /// Area of each side band of first, second, ... order relative to the whole line.
    pub shares: Vec<f64>,
}

/// Line shape common to the spectrum.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Shape {
    /// Natural (Lorentzian) full width at half height in hertz of signals that name none.
    pub natural_hz: f64,
    /// Gaussian full width at half height of the shim distribution, in hertz.
    pub gaussian_hz: f64,
    /// An asymmetric foot.
    pub foot: Option<Foot>,
    /// Spinning.
    pub spinning: Option<Spinning>,
}

impl Default for Shape {
    /// A good routine shim: 0.35 Hz natural, 0.35 Hz Gaussian.
    fn default() -> Self {
        Self { natural_hz: 0.35, gaussian_hz: 0.35, foot: None, spinning: None }
    }
}

/// Fourier transform of a Gaussian distribution of the given full width at half height.
fn gaussian(width_hz: f64, time: f64) -> f64 {
    libm::exp(-(PI * width_hz * time).powi(2) / (4.0 * LN_2))
}

impl Shape {
    /// The factor on every line at a time in seconds after the pulse; one at time zero.
    pub(crate) fn factor(&self, time: f64) -> Complex64 {
        self.shim(time) * self.spin(time)
    }

    fn shim(&self, time: f64) -> Complex64 {
        let main = gaussian(self.gaussian_hz, time);
        self.foot.map_or(Complex64::new(main, 0.0), |foot| {
            let turn = polar(foot.share, 2.0 * PI * foot.offset_hz * time);
            (1.0 - foot.share) * main + turn * gaussian(foot.gaussian_hz, time)
        })
    }

    fn spin(&self, time: f64) -> f64 {
        self.spinning.as_ref().map_or(1.0, |spin| {
            let angle = 2.0 * PI * spin.rate_hz * time;
            let bands = spin.shares.iter().enumerate();
            1.0 - bands.map(|(k, share)| 2.0 * share * (1.0 - libm::cos(angle * (k + 1) as f64))).sum::<f64>()
        })
    }
}
