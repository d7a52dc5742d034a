//! A small FID generator for the tests of transform and phase: random proton spectra of known phase and delay,
//! with a digital filter's build-up made tap by tap.
#![allow(dead_code)]

use lees_core::complex::{self, polar};
use std::f64::consts::{PI, TAU};

use lees_core::{Acquisition, Fid, Megahertz, Ppm, Seconds};
use ndarray::Array1;
use num_complex::Complex64;
use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// One decaying line.
#[derive(Debug, Clone, Copy)]
pub(crate) struct TrueLine {
    /// Offset from the carrier.
    pub(crate) hertz: f64,
    /// Area, protons.
    pub(crate) area: f64,
    /// Natural width at half height.
    pub(crate) width: f64,
}

/// What was put in.
#[derive(Debug, Clone)]
pub(crate) struct Case {
    pub(crate) lines: Vec<TrueLine>,
    pub(crate) points: usize,
    pub(crate) dwell: f64,
    pub(crate) field: f64,
    pub ph0: f64,
    /// Over the spectral width, growing with frequency.
    pub ph1: f64,
    pub(crate) delay: f64,
    pub(crate) stated: bool,
    /// Height of the tallest line over noise, with 0.2 Hz broadening.
    pub(crate) snr: f64,
    pub(crate) noise: f64,
    pub(crate) seed: u64,
}

pub(crate) fn rng(seed: u64) -> ChaCha8Rng {
    ChaCha8Rng::seed_from_u64(seed)
}

fn between(rng: &mut impl Rng, low: f64, high: f64) -> f64 {
    low + (high - low) * rng.random::<f64>()
}

/// A random spectrum: product signals of all patterns, sometimes crowded, sometimes a broad OH, solvent singlets.
pub(crate) fn random_case(seed: u64) -> Case {
    let mut rng = rng(seed);
    let field = [200.0, 300.0, 400.0, 400.0, 500.0, 600.0][rng.random_range(0..6)];
    let points = [8192, 12_000, 16_384, 32_768, 40_000, 65_536, 131_072][rng.random_range(0..7)];
    let ppm_width = between(&mut rng, 14.0, 20.0);
    let dwell = 1.0 / (ppm_width * field);
    let natural = between(&mut rng, 0.6, 1.6);
    let mut lines = Vec::new();
    let signals = rng.random_range(4..18);
    let crowded = rng.random::<f64>() < 0.4;
    for _ in 0..signals {
        let shift = if crowded { between(&mut rng, 6.6, 8.4) } else { between(&mut rng, 0.8, 8.8) };
        let protons = f64::from(rng.random_range(1..4));
        multiplet(&mut rng, (shift - 5.0) * field, protons, natural, &mut lines);
    }
    for _ in 0..rng.random_range(1..5) {
        let hertz = (between(&mut rng, 0.8, 8.0) - 5.0) * field;
        let width = natural * between(&mut rng, 0.9, 1.2);
        let area = between(&mut rng, 0.5, 9.0);
        satellites(&mut rng, hertz, area, width, &mut lines);
    }
    if rng.random::<f64>() < 0.5 {
        let hertz = (between(&mut rng, 1.5, 12.0) - 5.0) * field;
        lines.push(TrueLine {
            hertz,
            area: between(&mut rng, 0.5, 2.0),
            width: between(&mut rng, 10.0, 80.0),
        });
    }
    let delayed = rng.random_range(0..3);
    let mut case = Case {
        lines,
        points,
        dwell,
        field,
        ph0: between(&mut rng, -180.0, 180.0),
        ph1: between(&mut rng, -180.0, 180.0),
        delay: if delayed == 0 { 0.0 } else { between(&mut rng, 20.0, 80.0) },
        stated: delayed != 2,
        snr: libm::exp(between(&mut rng, libm::log(50f64), libm::log(5000f64))),
        noise: 0.0,
        seed,
    };
    let tallest = case.lines.iter().map(|l| height(l, &case, 0.2)).fold(0.0, f64::max);
    case.noise = tallest / case.snr / window_energy(&case, 0.2).sqrt();
    case
}

fn multiplet(rng: &mut impl Rng, centre: f64, protons: f64, width: f64, out: &mut Vec<TrueLine>) {
    let mut pattern = vec![(0.0, 1.0)];
    for _ in 0..rng.random_range(0..4) {
        let j = between(rng, 1.0, 14.0);
        let partners = [1, 1, 1, 2, 3][rng.random_range(0..5)];
        for _ in 0..partners {
            let roof = between(rng, -0.15, 0.15);
            pattern = pattern
                .iter()
                .flat_map(|&(at, a)| {
                    [(at - j / 2.0, a * (0.5 + roof / 2.0)), (at + j / 2.0, a * (0.5 - roof / 2.0))]
                })
                .collect();
        }
    }
    let merged = merge(pattern);
    out.extend(merged.iter().map(|&(at, a)| TrueLine { hertz: centre + at, area: a * protons, width }));
}

/// Lines at the same place become one.
fn merge(mut pattern: Vec<(f64, f64)>) -> Vec<(f64, f64)> {
    pattern.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut merged: Vec<(f64, f64)> = Vec::new();
    for (at, a) in pattern {
        match merged.last_mut() {
            Some(last) if (last.0 - at).abs() < 1e-6 => last.1 += a,
            _ => merged.push((at, a)),
        }
    }
    merged
}

fn satellites(rng: &mut impl Rng, hertz: f64, area: f64, width: f64, out: &mut Vec<TrueLine>) {
    let j = between(rng, 120.0, 160.0);
    out.push(TrueLine { hertz, area: area * 0.9893, width });
    for side in [-0.5, 0.5] {
        out.push(TrueLine { hertz: hertz + side * j, area: area * 0.00535, width });
    }
}

/// Height of a line in the unscaled transform, broadened by `lb`.
pub(crate) fn height(line: &TrueLine, case: &Case, lb: f64) -> f64 {
    let rate = PI * (line.width + lb);
    let recorded = case.points as f64 * case.dwell;
    line.area * (1.0 - libm::exp(-rate * recorded)) / (rate * case.dwell)
}

/// Sum of the squared exponential window.
pub(crate) fn window_energy(case: &Case, lb: f64) -> f64 {
    let x = 2.0 * PI * lb * case.points as f64 * case.dwell;
    case.points as f64 * if x > 1e-9 { (1.0 - libm::exp(-x)) / x } else { 1.0 }
}

/// The phase of a line, degrees.
pub(crate) fn true_phase(case: &Case, hertz: f64) -> f64 {
    case.ph0 + case.ph1 * hertz * case.dwell
}

/// The recording of a case.
pub(crate) fn record(case: &Case) -> Fid {
    let mut points = vec![Complex64::ZERO; case.points];
    for line in &case.lines {
        add_line(case, line, &mut points);
    }
    let mut rng = rng(case.seed ^ 0x5eed);
    for point in &mut points {
        let (re, im): (f64, f64) = (StandardNormal.sample(&mut rng), StandardNormal.sample(&mut rng));
        *point += Complex64::new(re, im) * case.noise;
    }
    Fid {
        points: Array1::from_vec(points),
        dwell: Seconds(case.dwell),
        carrier: Some(Ppm(5.0)),
        group_delay: case.stated.then_some(case.delay),
        acquisition: Acquisition::at_field(Megahertz(case.field)),
    }
}

/// Filter taps a point.
const OVERSAMPLING: usize = 16;
/// Kaiser window's parameter: some 60 dB in the stop band.
const KAISER: f64 = 6.0;

fn add_line(case: &Case, line: &TrueLine, points: &mut [Complex64]) {
    let start = polar(line.area, true_phase(case, line.hertz).to_radians());
    let rate = Complex64::new(-PI * line.width, TAU * line.hertz) * case.dwell;
    let built_up = if case.delay > 0.0 { build_up(case, rate, start, points) } else { 0 };
    let mut value = start * complex::exp(rate * (built_up as f64 - case.delay));
    let step = complex::exp(rate);
    for (j, point) in points.iter_mut().enumerate().skip(built_up) {
        if j % 1024 == 0 {
            value = start * complex::exp(rate * (j as f64 - case.delay));
        }
        *point += value;
        value *= step;
    }
}

/// The points during which a symmetric low-pass filter of length twice the delay fills, and their number.
fn build_up(case: &Case, rate: Complex64, start: Complex64, points: &mut [Complex64]) -> usize {
    let half = (case.delay * OVERSAMPLING as f64).floor() as i64;
    let spacing = 1.0 / OVERSAMPLING as f64;
    let tap = |m: i64| {
        let x = m as f64 * spacing;
        let sinc = if m == 0 { 1.0 } else { libm::sin(PI * x) / (PI * x) };
        sinc * bessel0(KAISER * (1.0 - (m as f64 / half as f64).powi(2)).max(0.0).sqrt())
    };
    let taps: Vec<f64> = (-half..=half).map(tap).collect();
    let total: f64 = taps.iter().sum();
    let times: Vec<f64> = (-half..=half).map(|m| case.delay + m as f64 * spacing).collect();
    let terms: Vec<Complex64> =
        taps.iter().zip(&times).map(|(h, t)| h / total * complex::exp(-rate * t)).collect();
    let end = (times[times.len() - 1].ceil() as usize + 1).min(points.len());
    let (mut next, mut sum) = (0, Complex64::ZERO);
    for (j, point) in points[..end].iter_mut().enumerate() {
        while next < times.len() && times[next] <= j as f64 {
            sum += terms[next];
            next += 1;
        }
        // The last tap counts by the trapezoidal rule's end term.
        let last = if next > 0 && next < times.len() {
            terms[next - 1] * (0.5 - (j as f64 - times[next - 1]) / spacing)
        } else {
            Complex64::ZERO
        };
        *point += start * complex::exp(rate * j as f64) * (sum - last);
    }
    end
}

/// Modified Bessel function of order zero, by its series.
fn bessel0(x: f64) -> f64 {
    let (mut term, mut sum) = (1.0, 1.0);
    for k in 1..40 {
        term *= (x / (2.0 * f64::from(k))).powi(2);
        sum += term;
    }
    sum
}
