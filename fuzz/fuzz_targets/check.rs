//! Bytes through the whole check, with a product and without, up to JSON and the terminal's text: a result that holds
//! together or a message of one line, and the same again from a checker that has seen nothing before.
//!
//! Inputs of more than [`MOST_POINTS`] points are left alone, so that many are tried.
#![no_main]

use std::sync::LazyLock;

use lees::{Checker, Job};
use lees_core::check::Check;
use lees_format::Prefer;
use lees_report::json;
use lees_report::terminal::{self, Style};
use libfuzzer_sys::fuzz_target;

const MOST_POINTS: usize = 4096;

static JOBS: LazyLock<[Job; 2]> = LazyLock::new(|| {
    let text = include_str!("../../demo-spectra/thiazolyl-coumarin.toml");
    let product = lees_format::product::parse(text, "dye.toml").expect("the demo's product");
    [Job { product: Some(product), ..Job::default() }, Job::default()]
});

fuzz_target!(|data: &[u8]| {
    let job = &JOBS[data.len() & 1];
    let Ok(document) = lees_format::read(data, "fuzz", &job.read) else { return };
    let Ok(chosen) = document.measurements(Prefer::Both) else { return };
    if chosen.iter().any(|one| one.measurement.points() > MOST_POINTS) {
        return;
    }
    let mut checker = Checker::new(job).expect("a sound job");
    let first = rendered(&mut checker, data);
    assert_eq!(first, rendered(&mut checker, data), "the second time");
});

/// Every result as JSON, or the message in its place.
fn rendered(checker: &mut Checker<'_>, data: &[u8]) -> Vec<String> {
    let results = match checker.check(data, "fuzz") {
        Ok(results) => results,
        Err(fault) => vec![Err(fault)],
    };
    let line = |result: Result<Check, lees::Error>| match result {
        Ok(check) => {
            holds_together(&check);
            let text = terminal::check(&check, &Style::default());
            assert!(!text.contains(|c: char| c.is_control() && c != '\n'), "{text:?}");
            json::check(&check)
        }
        Err(fault) => fault.to_string(),
    };
    let lines: Vec<String> = results.into_iter().map(line).collect();
    assert!(lines.iter().all(|line| !line.contains(char::is_control)));
    lines
}

fn holds_together(check: &Check) {
    let amounts = check.volatiles.iter().filter_map(|finding| finding.wt_percent.as_ref());
    for amount in amounts.chain(&check.total.wt_percent) {
        assert!(amount.low <= amount.value && amount.value <= amount.high, "{amount:?}");
        assert!(amount.low >= 0.0 && amount.high.is_finite(), "{amount:?}");
    }
    assert!(!check.reasons.is_empty());
    let line = json::check(check);
    let object: serde_json::Value = serde_json::from_str(&line).expect("one JSON object");
    assert_eq!(object["schema"], json::CHECK_SCHEMA);
}
