//! A small simulator with known truth: lines to FID to spectrum, with noise and baseline.

#![allow(clippy::unwrap_used, reason = "values of the test bench itself")]
#![allow(dead_code, reason = "each test binary uses its own part")]

use lees_core::complex::{self, polar};
use lees_core::{Acquisition, Measurement, Megahertz, Ppm, ShiftAxis, Spectrum};
use lees_fourier::Plans;
use num_complex::Complex64;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// A true line: position from the left end, area, Lorentzian full width, extra Gaussian full width; hertz.
#[derive(Debug, Clone, Copy)]
pub(crate) struct TrueLine {
    pub(crate) position: f64,
    pub(crate) area: f64,
    pub(crate) lorentz: f64,
    pub(crate) gauss: f64,
}

pub(crate) fn line(position: f64, area: f64, lorentz: f64) -> TrueLine {
    TrueLine { position, area, lorentz, gauss: 0.0 }
}

/// How a spectrum is taken.
#[derive(Debug, Clone)]
pub(crate) struct Bench {
    pub(crate) width_hz: f64,
    pub(crate) complex_points: usize,
    pub(crate) points: usize,
    pub(crate) broadening: f64,
    pub(crate) field: f64,
    /// Standard deviation of a point of the finished spectrum.
    pub(crate) sigma: f64,
    pub(crate) phase_degrees: f64,
    /// Skewed shim: a share of every line's area at an offset (hertz).
    pub(crate) shim: Vec<(f64, f64)>,
    /// Amplitude of the rolling baseline.
    pub(crate) roll: f64,
}

impl Default for Bench {
    fn default() -> Self {
        Self {
            width_hz: 8000.0,
            complex_points: 24_000,
            points: 65_536,
            broadening: 0.3,
            field: 400.0,
            sigma: 1.0,
            phase_degrees: 0.0,
            shim: Vec::new(),
            roll: 0.0,
        }
    }
}

impl Bench {
    pub(crate) fn step(&self) -> f64 {
        self.width_hz / self.points as f64
    }

    /// The highest shift: the axis runs from 14.5 ppm down.
    pub(crate) fn shift(&self, position: f64) -> f64 {
        14.5 - position / self.field
    }

    /// The real spectrum.
    pub(crate) fn values(&self, lines: &[TrueLine], seed: u64) -> Vec<f64> {
        let dwell = 1.0 / self.width_hz;
        let mut fid = vec![Complex64::default(); self.points];
        for l in lines {
            self.add(l, &mut fid[..self.complex_points]);
        }
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let mut power = 0.0;
        let weight = |j: usize| libm::exp(-std::f64::consts::PI * self.broadening * j as f64 * dwell);
        for j in 0..self.complex_points {
            power += weight(j).powi(2);
        }
        // Real part of the transform: each complex point adds its noise once.
        let noise = self.sigma / (2.0 * dwell) / f64::sqrt(power);
        let turn = polar(1.0, self.phase_degrees.to_radians());
        for (j, point) in fid.iter_mut().enumerate().take(self.complex_points) {
            let kick =
                Complex64::new(StandardNormal.sample(&mut rng), StandardNormal.sample(&mut rng)) * noise;
            *point = (*point * turn + kick) * weight(j) * if j == 0 { 0.5 } else { 1.0 };
        }
        Plans::new().forward(self.points).process(&mut fid);
        let half = self.points / 2;
        (0..self.points).map(|i| 2.0 * dwell * fid[(i + half) % self.points].re + self.baseline(i)).collect()
    }

    /// A rolling baseline as spoiled first points leave it.
    pub(crate) fn baseline(&self, index: usize) -> f64 {
        let x = index as f64 / self.points as f64 * std::f64::consts::TAU;
        self.roll * (libm::cos(x + 0.6) + 0.6 * libm::sin(2.0 * x - 1.1) + 0.4 * libm::cos(3.0 * x))
    }

    fn add(&self, l: &TrueLine, fid: &mut [Complex64]) {
        let shim: Vec<(f64, f64)> = if self.shim.is_empty() { vec![(1.0, 0.0)] } else { self.shim.clone() };
        let whole: f64 = shim.iter().map(|s| s.0).sum();
        for (share, offset) in shim {
            let nu = l.position + offset - self.width_hz / 2.0;
            let dwell = 1.0 / self.width_hz;
            let rate = Complex64::new(-std::f64::consts::PI * l.lorentz, std::f64::consts::TAU * nu) * dwell;
            // Gaussian of full width G: exp(-(pi G t)^2 / (4 ln 2)).
            let quad = (std::f64::consts::PI * l.gauss * dwell).powi(2) / (4.0 * std::f64::consts::LN_2);
            let mut turn = Complex64::new(l.area * share / whole, 0.0);
            let factor = complex::exp(rate);
            for (j, point) in fid.iter_mut().enumerate() {
                *point += if quad > 0.0 { turn * libm::exp(-quad * (j * j) as f64) } else { turn };
                turn *= factor;
            }
        }
    }

    pub(crate) fn spectrum(&self, lines: &[TrueLine], seed: u64) -> Spectrum {
        let values = self.values(lines, seed);
        let last = self.shift((self.points - 1) as f64 * self.step());
        let axis = ShiftAxis::new(Ppm(14.5), Ppm(last), self.points, Megahertz(self.field)).unwrap();
        Spectrum {
            axis,
            real: values.into(),
            imaginary: None,
            acquisition: Acquisition::at_field(Megahertz(self.field)),
        }
    }

    pub(crate) fn measurement(&self, lines: &[TrueLine], seed: u64) -> Measurement {
        Measurement::Spectrum(self.spectrum(lines, seed))
    }

    /// Area of a Lorentzian of full width `width` (broadening included) and height `snr` sigma.
    pub(crate) fn area_for(&self, snr: f64, width: f64) -> f64 {
        snr * self.sigma * width * std::f64::consts::FRAC_PI_2
    }
}

/// Lines of a first-order pattern: `couplings` is (J, partners).
pub(crate) fn multiplet(centre: f64, area: f64, width: f64, couplings: &[(f64, u32)]) -> Vec<TrueLine> {
    let mut lines = vec![(centre, area)];
    for (j, partners) in couplings {
        for _ in 0..*partners {
            lines =
                lines.iter().flat_map(|(x, a)| [(x - j / 2.0, a / 2.0), (x + j / 2.0, a / 2.0)]).collect();
        }
    }
    lines.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut merged: Vec<(f64, f64)> = Vec::new();
    for (x, a) in lines {
        match merged.last_mut() {
            Some(last) if (last.0 - x).abs() < 1e-9 => last.1 += a,
            _ => merged.push((x, a)),
        }
    }
    merged.into_iter().map(|(x, a)| line(x, a, width)).collect()
}
