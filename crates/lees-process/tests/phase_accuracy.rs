//! Automatic phase on random FIDs: how far off it is at every line, and whether its stated uncertainty is true.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "helpers of tests fail the test")]

mod fid_support;

use fid_support::{Case, height, random_case, record, true_phase, window_energy};
use lees_core::Measurement;
use lees_process::Workspace;
use lees_process::fid::{FidSettings, Transformed, transform};
use lees_process::{Settings, process};

struct Outcome {
    /// Largest error at lines with S/N over 200, and at those with 20 to 200, degrees.
    strong: Option<f64>,
    weak: Option<f64>,
    /// Error over stated standard uncertainty, at each line with S/N over 200.
    pulls: Vec<f64>,
    /// Error at each line with S/N over 200, degrees.
    errors: Vec<f64>,
    delay_error: f64,
}

fn run(case: &Case, workspace: &mut Workspace) -> (Outcome, Transformed) {
    let fid = record(case);
    let done = transform(&fid, &FidSettings::default(), workspace).expect("sound");
    let report = process(&Measurement::Fid(fid), &Settings::default(), workspace).expect("sound").phase;
    let n = done.spectrum.real.len() as f64;
    let lb = done.report.line_broadening_hz;
    let sigma = case.noise * window_energy(case, lb).sqrt();
    let (mut strong, mut weak, mut pulls, mut errors) = (None::<f64>, None::<f64>, Vec::new(), Vec::new());
    for line in &case.lines {
        let index = n / 2.0 - line.hertz * case.dwell * n;
        // What was taken off: the delay's ramp, then the reported phase.
        let ramp = -360.0 * (done.report.group_delay_points - case.delay) * line.hertz * case.dwell;
        let taken = report.ph0_deg + report.ph1_deg * (index - report.pivot) / n + ramp;
        let off = taken - true_phase(case, line.hertz);
        let error = off - 360.0 * (off / 360.0).round();
        let snr = height(line, case, lb) / sigma;
        if line.width > 5.0 {
            continue;
        }
        if snr > 200.0 {
            strong = Some(strong.unwrap_or(0.0).max(error.abs()));
            pulls.push(error / report.u_at(index, n as usize));
            errors.push(error);
        } else if snr > 20.0 {
            weak = Some(weak.unwrap_or(0.0).max(error.abs()));
        }
    }
    let delay_error = done.report.group_delay_points - case.delay;
    (Outcome { strong, weak, pulls, errors, delay_error }, done)
}

/// Least standard uncertainty of the phase at a line that noise allows, degrees (Cramer-Rao, isolated lines of unknown
/// amplitude, phase, place and width, common straight line of phases): each decay of energy `E` (amplitude squared
/// over twice its rate) gives its phase the variance `2 s^2 / E`.
fn bound(case: &Case, at: f64) -> f64 {
    let sums = case.lines.iter().fold([0.0; 3], |s, line| {
        let energy = line.area * line.area / (2.0 * std::f64::consts::PI * line.width * case.dwell);
        let weight = energy / (2.0 * case.noise * case.noise);
        let x = line.hertz * case.dwell;
        [s[0] + weight, s[1] + weight * x, s[2] + weight * x * x]
    });
    let x = at * case.dwell;
    let determinant = sums[0] * sums[2] - sums[1] * sums[1];
    ((sums[2] - 2.0 * x * sums[1] + x * x * sums[0]) / determinant).sqrt().to_degrees()
}

/// Largest bound at any line with S/N over 200.
fn worst_bound(case: &Case) -> Option<f64> {
    let sigma = case.noise * window_energy(case, 0.2).sqrt();
    let strong = case.lines.iter().filter(|l| l.width < 5.0 && height(l, case, 0.2) > 200.0 * sigma);
    strong.map(|line| bound(case, line.hertz)).reduce(f64::max)
}

fn share(values: &[f64], limit: f64) -> f64 {
    values.iter().filter(|value| value.abs() <= limit).count() as f64 / values.len().max(1) as f64
}

/// Chance that a normal error of deviation `u` lies within `limit`: the error function by its series.
fn chance(u: f64, limit: f64) -> f64 {
    let x = limit / (u * std::f64::consts::SQRT_2);
    if x > 4.0 {
        return 1.0;
    }
    let (mut term, mut sum) = (x, x);
    for k in 1..80 {
        let k = f64::from(k);
        term *= -x * x / k;
        sum += term / (2.0 * k + 1.0);
    }
    2.0 / std::f64::consts::PI.sqrt() * sum
}

/// The aim is 0.3 degrees at lines of S/N over 200 in 99 % of FIDs. Measured: 90.9 % of the 351 FIDs that have such lines,
/// 98.2 % of their 2753 lines, through the whole of `process`. Noise alone keeps it from 99 % of FIDs: the bound allows 96.2 %, and one step of maximum
/// likelihood from the truth with the very noise drawn reaches 95.7 % of FIDs and 99.5 % of lines. What lies between:
/// the parabola under each cluster costs some 1.15 times the least uncertainty, broadening and averaging a tenth, and
/// clusters of nine and more lines, many of them not told apart, 1.5 to 2 times; the stated uncertainty covers all of it.
/// Tried without gain: the side lobes of a recording that ends in the model of a line, and a base held near zero (which
/// is there: 88.3 %).
#[test]
fn five_hundred_random_fids() {
    let mut workspace = Workspace::new();
    let (mut strong, mut allowed, mut weak, mut pulls, mut delays) = (vec![], vec![], vec![], vec![], vec![]);
    let (mut ideal, mut each) = (0.0, vec![]);
    for seed in 0..500 {
        let case = random_case(seed);
        let (outcome, done) = run(&case, &mut workspace);
        strong.extend(outcome.strong);
        each.extend_from_slice(&outcome.errors);
        let least = worst_bound(&case);
        if outcome.strong.is_some() {
            ideal += least.map_or(1.0, |u| chance(u, 0.3));
        }
        if least.is_some_and(|u| 2.58 * u < 0.3) {
            allowed.extend(outcome.strong);
        }
        weak.extend(outcome.weak);
        pulls.extend(outcome.pulls.first().copied());
        // The lines' slope gives delay and first-order phase together.
        if !case.stated && done.report.group_delay_u_points.is_some_and(|u| u < 0.01) {
            delays.push(outcome.delay_error + case.ph1 / 360.0);
        }
    }
    let table = |name: &str, values: &[f64], limits: &[f64]| {
        let reached: Vec<String> =
            limits.iter().map(|&limit| format!("{limit} deg {:.3}", share(values, limit))).collect();
        println!("{:4} {name}: largest error within {}", values.len(), reached.join(", "));
    };
    table("FIDs with lines of S/N over 200", &strong, &[0.3, 0.6, 1.0]);
    table("lines of S/N over 200", &each, &[0.3, 0.6, 1.0]);
    println!(
        "     of these FIDs at most {:.3} can be expected within 0.3 deg (bound)",
        ideal / strong.len() as f64
    );
    table("of these, where noise allows 0.3 deg at 99 %", &allowed, &[0.3, 0.6, 1.0]);
    println!("{:4} where it does not", strong.len() - allowed.len());
    table("FIDs with lines of S/N 20 to 200", &weak, &[1.0, 3.0]);
    println!("error within 1.96 stated u: {:.3} of {}", share(&pulls, 1.96), pulls.len());
    println!("delay plus ph1 within 0.02 points: {:.3} of {}", share(&delays, 0.02), delays.len());
    assert!(share(&strong, 0.3) > 0.89);
    assert!(share(&each, 0.3) > 0.975);
    assert!(share(&strong, 0.6) > 0.98);
    assert!(share(&allowed, 0.3) > 0.96);
    assert!(share(&weak, 1.0) > 0.80);
    assert!(share(&pulls, 1.96) > 0.95);
    assert!(share(&delays, 0.02) > 0.95);
}
