//! Text as a journal line: what is understood has sound values, faults lie within the line.
#![no_main]

use lees_format::journal;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|line: &str| {
    match journal::parse(line) {
        Ok(signals) => {
            for signal in signals {
                assert!(signal.protons > 0.0 && signal.protons.is_finite());
                assert!(signal.range.high.0 >= signal.range.low.0);
                assert!(signal.couplings.iter().all(|j| j.0.is_finite()));
            }
        }
        Err(error) => assert!(error.column().is_none_or(|c| c <= line.chars().count() + 1)),
    }
    let _ = journal::range(line);
});
