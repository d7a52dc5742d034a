//! Phase for want of strong lines: least entropy.

#![allow(clippy::unwrap_used, reason = "helpers of tests fail the test")]

use lees_core::complex::polar;
use lees_core::{Acquisition, Megahertz, Ppm, ShiftAxis, Spectrum};
use lees_process::phase::{PhaseMethod, PhaseSettings, automatic, entropy_phase};
use num_complex::Complex64;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal};

const POINTS: usize = 8192;

/// Three broad humps of equal area, turned by `ph0` degrees, with noise of that standard deviation.
fn humps(ph0: f64, height: f64, noise: f64) -> (Vec<f64>, Vec<f64>) {
    let mut rng = ChaCha8Rng::seed_from_u64(7);
    let normal = Normal::new(0.0, noise).unwrap();
    let width = 60.0;
    let point = |i: usize| -> Complex64 {
        let lines = [2000.0, 3500.0, 6200.0].map(|at| width / Complex64::new(width, at - i as f64));
        lines.iter().sum::<Complex64>() * polar(height, ph0.to_radians())
    };
    let values: Vec<Complex64> = (0..POINTS)
        .map(|i| point(i) + Complex64::new(normal.sample(&mut rng), normal.sample(&mut rng)))
        .collect();
    (values.iter().map(|y| y.re).collect(), values.iter().map(|y| y.im).collect())
}

#[test]
fn the_turn_of_broad_humps_is_found_within_its_uncertainty() {
    for ph0 in [-150.0, -40.0, 0.0, 25.0, 90.0, 170.0] {
        let (re, im) = humps(ph0, 50.0, 1.0);
        let found = entropy_phase(&re, &im);
        // at the middle of the humps
        let there = found.ph0_deg + found.ph1_deg * (3900.0 / POINTS as f64 - 0.5);
        let off = (there - ph0 + 540.0).rem_euclid(360.0) - 180.0;
        assert!(off.abs() < 2.0 * found.u_ph0_deg, "{ph0}: {found:?}");
        assert!(found.score.is_finite());
    }
}

#[test]
fn nothing_has_no_phase_and_costs_nothing() {
    let found = entropy_phase(&[0.0; 64], &[0.0; 64]);
    assert_eq!(found.score, 0.0);
}

#[test]
fn a_spectrum_without_strong_lines_is_phased_by_entropy_and_says_so() {
    let (re, im) = humps(60.0, 12.0, 1.0);
    let axis = ShiftAxis::new(Ppm(14.0), Ppm(-2.0), POINTS, Megahertz(400.0)).unwrap();
    let mut spectrum = Spectrum {
        axis,
        real: re.into(),
        imaginary: Some(im.into()),
        acquisition: Acquisition::at_field(Megahertz(400.0)),
    };
    let report = automatic(&mut spectrum, &PhaseSettings::default(), &mut lees_process::Workspace::new());
    assert_eq!(report.method, PhaseMethod::Entropy, "{report:?}");
    assert!(report.applied && report.warnings.iter().any(|w| w.contains("least entropy")), "{report:?}");
    let sum: f64 = spectrum.real.iter().sum();
    let flank: f64 = spectrum.real.iter().filter(|y| **y < -4.0).count() as f64;
    assert!(sum > 0.0 && flank < 10.0, "the humps point up: {sum}, {flank} points below");
}
