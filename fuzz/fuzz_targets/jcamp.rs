//! Bytes as JCAMP-DX: no crash, every point finite or a gap, messages of one line, and what is read can be written
//! and read again.
#![no_main]

use lees_format::write::{Encoding, WriteOptions, jcamp};
use lees_format::{Prefer, ReadOptions, read};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|data: &[u8]| {
    let text = [b"##TITLE= x\n", data].concat();
    let document = match read(&text, "fuzz", &ReadOptions::default()) {
        Ok(document) => document,
        Err(error) => return assert!(!error.to_string().contains(['\n', '\r', '\u{1b}'])),
    };
    for block in &document.blocks {
        let _ = block.summary();
        assert!(!block.title.contains(char::is_control));
    }
    let Ok(chosen) = document.measurements(Prefer::Both) else { return };
    for (index, one) in chosen.iter().enumerate() {
        let encoding = Encoding::ALL[(data.len() + index) % Encoding::ALL.len()];
        let written = jcamp(&one.measurement, &WriteOptions { encoding, ..WriteOptions::default() });
        let again = read(&written.bytes, "again", &ReadOptions::default()).expect("what was written reads");
        assert_eq!(again.blocks[0].points(), Some(one.measurement.points()));
    }
});
