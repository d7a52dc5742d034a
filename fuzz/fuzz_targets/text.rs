//! Bytes as columns of numbers.
#![no_main]

use lees_format::{Prefer, ReadOptions, TextOptions, read};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|data: &[u8]| {
    let (first, data) = data.split_first().unwrap_or((&0, &[]));
    let text = TextOptions {
        resample: first & 1 == 1,
        decimal_comma: (first & 2 == 2).then_some(first & 4 == 4),
        range: (first & 8 == 8).then_some((12.0, -2.0)),
        ..TextOptions::default()
    };
    match read(data, "fuzz", &ReadOptions { text, ..ReadOptions::default() }) {
        Ok(document) => {
            if let Ok(chosen) = document.measurements(Prefer::Both) {
                assert!(chosen.iter().all(|one| one.measurement.points() >= 2));
            }
        }
        Err(error) => assert!(!error.to_string().contains(['\n', '\r', '\u{1b}'])),
    }
});
