//! Single steps against closed forms, tables and dense linear algebra.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "helpers of tests fail the test")]

mod support;

use lees_core::{Hertz, LineKind, Measurement};
use lees_process::baseline::whittaker::{Smoother, lambda_for_period};
use lees_process::lineshape::{LineShape, ShapeParameters};
use lees_process::{Noise, Settings, Workspace, area::window_area, detect, process};
use lees_spin::simulate::{Compound, Recipe, Signal, Simulator};
use nalgebra::{DMatrix, DVector};
use support::{Bench, TrueLine, line};

#[test]
fn smoother_equals_a_dense_solution() {
    let n = 40;
    let weights: Vec<f64> =
        (0..n).map(|i| if i % 7 == 3 { 0.0 } else { 1.0 + 0.1 * (i % 5) as f64 }).collect();
    let values: Vec<f64> = (0..n).map(|i| libm::sin(0.3 * i as f64) + 0.02 * (i * i % 11) as f64).collect();
    let lambda = 37.0;
    let differences = DMatrix::from_fn(n - 2, n, |i, j| match j as i64 - i as i64 {
        0 | 2 => 1.0,
        1 => -2.0,
        _ => 0.0,
    });
    let matrix: DMatrix<f64> = DMatrix::from_diagonal(&DVector::from_vec(weights.clone()))
        + lambda * differences.transpose() * &differences;
    let right = DVector::from_iterator(n, weights.iter().zip(&values).map(|(w, v)| w * v));
    let dense = matrix.lu().solve(&right).expect("regular");
    let banded = Smoother::new(&weights, lambda).expect("regular").solve(&values);
    for (a, b) in banded.iter().zip(dense.iter()) {
        assert!((a - b).abs() < 1e-10, "{a} {b}");
    }
}

#[test]
fn a_wave_of_the_period_is_halved() {
    let period = 40.0;
    let wave: Vec<f64> =
        (0..4000).map(|i| libm::sin(std::f64::consts::TAU * f64::from(i) / period)).collect();
    let smooth = Smoother::new(&vec![1.0; 4000], lambda_for_period(period)).expect("regular").solve(&wave);
    let top = smooth[1500..2500].iter().fold(0.0f64, |t, v| t.max(*v));
    assert!((top - 0.5).abs() < 0.01, "{top}");
}

#[test]
fn thresholds_follow_the_normal_table() {
    // Upper tail of the normal distribution (Abramowitz & Stegun, Handbook of Mathematical Functions, 26.2).
    for (z, q) in [(3.0, 1.349_898e-3), (4.0, 3.167_124e-5), (5.0, 2.866_516e-7)] {
        let found = detect::threshold(1.0, q);
        assert!((found - z).abs() < 1e-5, "{found} for {z}");
    }
}

#[test]
fn shapes_have_unit_area_and_the_handbook_heights() {
    // Unit-area profiles of unit full width: Lorentzian 2/pi high, Gaussian 2 sqrt(ln 2 / pi).
    let height = |lorentz: f64| LineShape::voigt(Hertz(1.0), lorentz).height(1.0);
    assert!((height(1.0) - std::f64::consts::FRAC_2_PI).abs() < 1e-6);
    assert!((height(0.0) - 0.939_437).abs() < 1e-6);
    let lopsided = LineShape::new(ShapeParameters {
        width: 1.3,
        lorentz: 0.6,
        shoulder: 0.1,
        shoulder_offset: 0.8,
        shoulder_width: 1.5,
    });
    let step = 0.01;
    let sum: f64 = (-20_000..=20_000).map(|i| lopsided.value(Hertz(f64::from(i) * step), 1.2) * step).sum();
    let kept = lopsided.retained(Hertz(200.0), 1.2);
    assert!((sum - kept).abs() < 1e-5, "{sum} {kept}");
    for x in [-2.0, -0.3, 0.1, 0.9, 4.0] {
        let point = lopsided.point(Hertz(x), 1.2);
        let by = |x: f64, f: f64| lopsided.value(Hertz(x), f);
        let slope = (by(x + 1e-5, 1.2) - by(x - 1e-5, 1.2)) / 2e-5;
        let widening = (by(x, 1.2 + 1e-5) - by(x, 1.2 - 1e-5)) / 2e-5;
        assert!((point.by_offset - slope).abs() < 1e-7 && (point.by_factor - widening).abs() < 1e-7);
    }
}

#[test]
fn window_sums_check_fitted_areas() {
    let bench = Bench::default();
    let area = bench.area_for(500.0, 1.0);
    let p = process(
        &bench.measurement(&[line(3000.0, area, 0.7)], 5),
        &Settings::default(),
        &mut Workspace::default(),
    )
    .expect("sound");
    let middle = (3000.0 / bench.step()) as usize;
    let values = p.spectrum.real.to_vec();
    let half = (30.0 / bench.step()) as usize;
    let sum =
        window_area(&values, &p.noise, bench.step(), middle - half..middle + half + 1, 3000.0, &p.shape, 1.0)
            .expect("inside");
    assert!((sum.corrected - area).abs() < 4.0 * sum.u, "{} +- {} against {area}", sum.corrected, sum.u);
    assert!(sum.u > 3.0 * p.lines[0].area_u, "a wide sum is noisier than a fit");
}

#[test]
fn white_noise_adds_in_quadrature() {
    let noise = Noise::white(3.0, 100);
    assert!((noise.kernel_variance(&[1.0, 2.0, 2.0]) - 9.0).abs() < 1e-12);
    assert!((noise.sum_u(25) - 15.0).abs() < 1e-12);
}

/// Lines at 2000, 3500 and 5000 Hz, so many times above noise, with side bands of 1 % at 21 Hz.
fn spinning(bench: &Bench, snr: [f64; 3]) -> Vec<TrueLine> {
    let bands = |(at, snr): (f64, f64)| {
        let area = bench.area_for(snr, 1.0);
        [line(at, area, 0.7), line(at - 21.0, 0.01 * area, 0.7), line(at + 21.0, 0.01 * area, 0.7)]
    };
    [2000.0, 3500.0, 5000.0].into_iter().zip(snr).flat_map(bands).collect()
}

#[test]
fn side_bands_are_labelled() {
    let bench = Bench::default();
    let mut lines = spinning(&bench, [3000.0, 2000.0, 2500.0]);
    lines.push(line(3533.0, bench.area_for(25.0, 1.0), 0.7));
    let p = process(&bench.measurement(&lines, 3), &Settings::default(), &mut Workspace::default())
        .expect("sound");
    let bands: Vec<_> = p.lines.iter().filter(|l| l.kind == LineKind::SpinningSideband).collect();
    assert_eq!(bands.len(), 6, "{:#?}", p.lines);
    assert!(bands.iter().all(|l| l.parent.is_some_and(|k| p.lines[k].height > 1000.0)));
    assert_eq!(
        p.lines.iter().filter(|l| l.kind == LineKind::Signal).count(),
        4,
        "three parents and an impurity"
    );
}

/// Bands of second order beside one line, and one whose twin is hidden; what stands as far from two lines of seven is none.
#[test]
fn side_bands_without_a_twin_and_of_second_order_are_labelled() {
    let bench = Bench::default();
    let mut lines = spinning(&bench, [4000.0, 3000.0, 3500.0]);
    let area = bench.area_for(4000.0, 1.0);
    lines.extend([line(1958.0, 0.004 * area, 0.7), line(2042.0, 0.004 * area, 0.7)]);
    lines.push(line(3521.5, bench.area_for(400.0, 1.0), 0.7)); // on the upper band of the line at 3500
    let labelled = |lines: &[_]| {
        let p = process(&bench.measurement(lines, 3), &Settings::default(), &mut Workspace::default())
            .expect("sound");
        p.lines.iter().filter(|l| l.kind == LineKind::SpinningSideband).count()
    };
    assert_eq!(labelled(&lines), 7, "five of first order, two of second");
    lines.extend((0..4).map(|k| line(2500.0 + 200.0 * f64::from(k), area, 0.7)));
    lines.retain(|l| (l.position - 5000.0).abs() < 1.0 || (l.position - 5000.0).abs() > 30.0);
    assert_eq!(labelled(&lines), 0, "the tube does not spin for some lines only");
}

/// Multiplets whose lines differ in shape by unresolved couplings: a triplet a thousandth as high, 32 Hz beside one of them,
/// keeps its area (fitted together with its neighbours it was a seventh too large).
#[test]
fn weak_lines_beside_tall_ones_of_no_common_shape_are_found() {
    let bench = Bench::default();
    let area = bench.area_for(150_000.0, 1.0);
    let mut lines = Vec::new();
    for (signal, gap) in [(2000.0, 0.45), (3000.0, 0.7), (4000.0, 0.2), (5000.0, 0.6)] {
        for k in 0..5 {
            let at = signal + 7.1 * f64::from(k);
            lines.extend(
                [(-2.0, 0.3), (-1.0, 0.9), (0.0, 1.0), (1.0, 0.9), (2.0, 0.3)]
                    .map(|(m, share)| line(at + m * gap, share * area, 0.5)),
            );
        }
    }
    let weak = 0.0015 * area;
    lines.extend(
        [(0.0, 0.5), (7.0, 1.0), (14.0, 0.5)].map(|(off, share)| line(3062.0 + off, share * weak, 0.7)),
    );
    let p = process(&bench.measurement(&lines, 3), &Settings::default(), &mut Workspace::default())
        .expect("sound");
    let inside =
        |l: &&lees_core::Line| (3058.0..3080.0).contains(&(p.spectrum.axis.position(l.shift) * bench.step()));
    let found: f64 = p.lines.iter().filter(inside).map(|l| l.area).sum();
    assert!((found / (2.0 * weak) - 1.0).abs() < 0.1, "{} of it", found / (2.0 * weak));
}

#[test]
fn wiggles_of_a_cut_recording_are_no_signals() {
    let bench = Bench { complex_points: 6000, broadening: 0.0, ..Bench::default() };
    let mut measured = bench.spectrum(&[line(3000.0, bench.area_for(4000.0, 1.0), 1.0)], 3);
    measured.acquisition.acquisition_time = Some(lees_core::Seconds(0.75));
    let p = process(&Measurement::Spectrum(measured), &Settings::default(), &mut Workspace::default())
        .expect("sound");
    let near = |shift: f64| (shift - bench.shift(3000.0)).abs() * bench.field;
    let far: Vec<_> =
        p.lines.iter().filter(|l| l.kind == LineKind::Signal && near(l.shift.0) > 3.0).collect();
    let places: Vec<_> = far.iter().map(|l| (near(l.shift.0), l.width.0, l.height, l.area_u)).collect();
    assert!(far.is_empty(), "signals at (Hz from the line, width, height, u) {places:?}");
}

#[test]
fn a_spike_is_no_signal() {
    let bench = Bench::default();
    let mut measured = bench.spectrum(&[line(3000.0, bench.area_for(800.0, 1.0), 0.7)], 3);
    measured.real[32_768] += 60.0;
    let p = process(&Measurement::Spectrum(measured), &Settings::default(), &mut Workspace::default())
        .expect("sound");
    let signals = p.lines.iter().filter(|l| l.kind == LineKind::Signal).count();
    assert_eq!(signals, 1, "{:#?}", p.lines);
}

#[test]
fn unfit_input_is_refused_with_its_reason() {
    let bench = Bench { points: 65_536, ..Bench::default() };
    let mut measured = bench.spectrum(&[], 1);
    measured.real[17] = f64::NAN;
    let message = |m: Measurement| {
        process(&m, &Settings::default(), &mut Workspace::default()).expect_err("unfit").to_string()
    };
    assert!(message(Measurement::Spectrum(measured.clone())).contains("point 17"));
    measured.real.fill(4.0);
    assert!(message(Measurement::Spectrum(measured)).contains("constant"));
}

/// An invented isopropyl ester, computed without any noise: what is left where a line shape is not met to the last digit is no signal.
#[test]
fn a_computed_spectrum_without_noise_shows_its_signals() {
    let mut ester = Compound::new("ester").mass(262.3);
    for (at, protons, partners, j) in [
        (8.02, 2.0, 1, 8.6),
        (7.44, 2.0, 1, 8.6),
        (5.24, 1.0, 6, 6.2),
        (2.47, 3.0, 0, 0.0),
        (1.37, 6.0, 1, 6.2),
    ] {
        let signal = Signal::new(at, protons);
        ester = ester.signal(if partners > 0 { signal.split_by(partners, j) } else { signal });
    }
    let recipe = Recipe { product: Some(ester), ..Recipe::default() };
    let made = Simulator::default().run(&recipe).unwrap();
    let measurement = Measurement::Spectrum(made.spectrum);
    let p = process(&measurement, &Settings::default(), &mut Workspace::default()).unwrap();
    let tallest = p.lines.iter().map(|line| line.area).fold(0.0, f64::max);
    let plain = p.lines.iter().filter(|l| l.kind == LineKind::Signal && l.area > 1e-3 * tallest).count();
    assert_eq!(plain, 2 + 2 + 7 + 1 + 2);
    assert!(p.lines.len() < 100, "{} lines", p.lines.len());
}
