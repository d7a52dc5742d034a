//! Absolute purity by internal standard on simulated samples of known purity, from the file to the interval.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "helpers of tests fail the test and print what was measured"
)]

mod published;
mod samples;

use lees::{Checker, Job, Settings};
use lees_core::Measurement;
use lees_format::write::{WriteOptions, jcamp};
use lees_match::Beside;
use lees_spin::simulate::simulate;
use samples::{Sample, sample};

/// Samples checked; `LEES_PURITY_SAMPLES` asks for more.
const FEW: u64 = 8;

/// One result against the truth.
struct Scored {
    /// Relative error in per cent.
    error_percent: f64,
    inside: bool,
    /// Half-width of the interval in per cent of the value.
    half_percent: f64,
}

fn score(one: &Sample) -> Option<Scored> {
    let made = simulate(&one.recipe).unwrap();
    let bytes = jcamp(&Measurement::Spectrum(made.spectrum), &WriteOptions::default()).bytes;
    let mut settings = Settings::default();
    settings.matching.weighed = one.assumed.clone();
    let job = Job {
        product: Some(one.product.clone()),
        beside: Beside { standard: Some(one.given.clone()), blank: None },
        settings,
        ..Job::default()
    };
    let check = Checker::new(&job).unwrap().check(&bytes, "sample.jdx").unwrap().remove(0).unwrap();
    let Some(purity) = check.purity else {
        println!("{}: not measured: {:?}", one.told, check.warnings);
        return None;
    };
    let (found, truth) = (purity.wt_percent, one.purity_percent);
    let scored = Scored {
        error_percent: 100.0 * (found.value / truth - 1.0),
        inside: found.low <= truth && truth <= found.high,
        half_percent: 50.0 * (found.high - found.low) / found.value,
    };
    println!(
        "{:<60} {truth:7.3} found {:7.3} ({:7.3} to {:7.3}) error {:+.2} % {}",
        one.told,
        found.value,
        found.low,
        found.high,
        scored.error_percent,
        if scored.inside { "" } else { "OUTSIDE" }
    );
    Some(scored)
}

#[test]
fn purity_is_true_within_its_interval() {
    let asked = std::env::var("LEES_PURITY_SAMPLES").ok().and_then(|text| text.parse().ok());
    let count = asked.unwrap_or(FEW);
    let scored: Vec<Scored> = (0..count).filter_map(|k| score(&sample(k))).collect();
    let all = scored.len();
    assert!(10 * all >= 9 * usize::try_from(count).unwrap(), "only {all} of {count} measured");
    let inside = scored.iter().filter(|s| s.inside).count();
    let mut errors: Vec<f64> = scored.iter().map(|s| s.error_percent.abs()).collect();
    errors.sort_by(f64::total_cmp);
    let mut widths: Vec<f64> = scored.iter().map(|s| s.half_percent).collect();
    widths.sort_by(f64::total_cmp);
    println!(
        "{all} measured, {inside} inside; |error| median {:.2} %, largest {:.2} %; half-width median {:.2} %",
        errors[all / 2],
        errors[all - 1],
        widths[all / 2]
    );
    // binomial, 95 % each: of 8 at least 6 with a probability over 99.4 %; of more, 3 standard deviations below
    let n = all as f64;
    let least = 0.95 * n - 3.0 * (n * 0.95 * 0.05).sqrt();
    assert!(inside as f64 >= least, "{inside} of {all} intervals hold the truth");
    assert!(errors[all / 2] < 1.0, "median error {:.2} %", errors[all / 2]);
    let worst = scored.iter().map(|s| s.error_percent.abs() / s.half_percent).fold(0.0, f64::max);
    assert!(worst < 2.0, "an error of {worst:.2} times its interval");
}
