//! Text as a product file.
#![no_main]

use lees_format::product;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    match product::parse(text, "fuzz.toml") {
        Ok(product) => assert!(product.molar_mass > 0.0 && product.molar_mass.is_finite()),
        Err(error) => assert!(!error.to_string().contains(['\n', '\r', '\u{1b}'])),
    }
});
