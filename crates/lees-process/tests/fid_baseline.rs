//! Empty parts of a transformed FID lie at zero.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "helpers of tests fail the test")]

mod fid_support;

use fid_support::{Case, TrueLine, record};
use lees_process::Workspace;
use lees_process::fid::{FidSettings, transform};
use lees_process::phase::{PhaseSettings, automatic};

/// Tallest line over noise at which the offset is judged.
const SNR: f64 = 5000.0;

fn case(delay: f64, stated: bool) -> Case {
    let line = |hertz: f64, area: f64| TrueLine { hertz, area, width: 1.0 };
    Case {
        lines: vec![line(-1200.0, 3.0), line(-300.0, 6.0), line(450.5, 2.0), line(900.0, 2.0)],
        points: 32_768,
        dwell: 1.0 / 8000.0,
        field: 400.0,
        ph0: 40.0,
        ph1: 0.0,
        delay,
        stated,
        snr: 1e7,
        noise: 1e-5,
        seed: 7,
    }
}

/// Mean height of an empty part over the deviation a point would have at S/N 5000.
fn offset(case: &Case, settings: &FidSettings) -> f64 {
    let mut workspace = Workspace::new();
    let mut done = transform(&record(case), settings, &mut workspace).expect("sound");
    automatic(&mut done.spectrum, &PhaseSettings::default(), &mut workspace);
    let real = &done.spectrum.real;
    let tallest = real.iter().copied().fold(0.0, f64::max);
    let n = real.len();
    let empty = n / 8..n / 4;
    let mean = empty.clone().map(|i| real[i]).sum::<f64>() / empty.len() as f64;
    // What the lines' own absorption tails hold there.
    let hertz = |i: usize| (n as f64 / 2.0 - i as f64) / (n as f64 * case.dwell);
    let tail =
        |at: f64| case.lines.iter().map(|l| l.area * 0.6 / (0.36 + (at - l.hertz).powi(2))).sum::<f64>();
    let own = empty.clone().map(|i| tail(hertz(i))).sum::<f64>() / empty.len() as f64;
    let top = case.lines.iter().map(|l| tail(l.hertz)).fold(0.0, f64::max);
    (mean / tallest - own / top) * SNR
}

#[test]
fn empty_parts_lie_at_zero() {
    for (delay, stated) in [(0.0, true), (67.98, true), (60.5, true), (72.138, true), (67.98, false)] {
        let found = offset(&case(delay, stated), &FidSettings::default());
        println!("delay {delay:6.2} stated {stated}: offset {found:+.4} of the noise at S/N {SNR}");
        assert!(found.abs() < 0.02, "delay {delay}: {found}");
    }
}

#[test]
fn without_the_first_point_they_do_not() {
    let raw = FidSettings { scale_first_point: false, ..FidSettings::default() };
    assert!(offset(&case(0.0, true), &raw).abs() > 0.5);
}
