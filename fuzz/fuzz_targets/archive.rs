//! Bytes as an archive, and bytes packed into one.
#![no_main]

use std::io::Write;

use lees_format::{ReadOptions, read};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|data: &[u8]| {
    let _ = read(data, "fuzz.zip", &ReadOptions::default());
    let mut encoder = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    if encoder.write_all(data).is_ok()
        && let Ok(packed) = encoder.finish()
    {
        let plain = read(data, "fuzz", &ReadOptions::default());
        let unpacked = read(&packed, "fuzz", &ReadOptions::default());
        if let (Ok(plain), Ok(unpacked)) = (plain, unpacked) {
            assert_eq!(plain.blocks.len(), unpacked.blocks.len());
        }
    }
});
