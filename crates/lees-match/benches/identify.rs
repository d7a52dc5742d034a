//! The matching step, from lines to amounts and verdict, on the demo spectra, patterns of the molecules at hand; and the solving
//! of all spin systems for a new field.
//!
//! `cargo bench -p lees-match --bench identify`

use std::path::Path;

use divan::{Bencher, black_box};
use lees_core::{Megahertz, Product};
use lees_match::table::Tables;
use lees_match::{Settings, identify};
use lees_process::{Processed, Workspace, process};

fn main() {
    divan::main();
}

fn bytes(name: &str) -> Vec<u8> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-spectra").join(name);
    std::fs::read(&path).unwrap_or_else(|fault| unreachable!("{}: {fault}", path.display()))
}

fn product() -> Option<Product> {
    let text = String::from_utf8(bytes("thiazolyl-coumarin.toml")).unwrap_or_default();
    lees_format::product::parse(&text, "product").ok()
}

fn processed(name: &str) -> Processed {
    let document = lees_format::read(&bytes(name), name, &lees_format::ReadOptions::default());
    let document = document.unwrap_or_else(|fault| unreachable!("{fault}"));
    let chosen = document.measurements(lees_format::Prefer::default());
    let measured = chosen.unwrap_or_else(|fault| unreachable!("{fault}")).swap_remove(0).measurement;
    process(&measured, &lees_process::Settings::default(), &mut Workspace::new())
        .unwrap_or_else(|fault| unreachable!("{fault}"))
}

#[divan::bench(args = ["batch-2-h.jdx", "batch-16-h.jdx", "fraction-3.jdx"])]
fn with_product(bencher: Bencher<'_, '_>, name: &str) {
    let (done, product, settings) = (processed(name), product(), Settings::default());
    bencher.bench_local(|| identify(black_box(&done), product.as_ref(), Tables::bundled(), &settings));
}

#[divan::bench(args = ["batch-2-h.jdx", "fraction-3.jdx"])]
fn without_product(bencher: Bencher<'_, '_>, name: &str) {
    let (done, settings) = (processed(name), Settings::default());
    bencher.bench_local(|| identify(black_box(&done), None, Tables::bundled(), &settings));
}

/// All bundled tables parsed: start-up waits for them.
#[divan::bench]
fn tables_parsed() -> usize {
    Tables::fresh().map_or(0, |tables| tables.compounds().len())
}

/// Every round at another field, so that no spin system has been solved before.
#[divan::bench(sample_count = 10, sample_size = 1)]
fn at_a_new_field(bencher: Bencher<'_, '_>) {
    let (done, product, settings) = (processed("batch-2-h.jdx"), product(), Settings::default());
    let mut round = 0;
    bencher
        .with_inputs(|| {
            round += 1;
            let mut other = done.clone();
            let axis = done.spectrum.axis;
            let field = Megahertz(axis.field().0 + 0.01 * f64::from(round));
            let (first, last) = (axis.shift_at(0.0), axis.shift_at(axis.points() as f64 - 1.0));
            if let Some(moved) = lees_core::ShiftAxis::new(first, last, axis.points(), field) {
                other.spectrum.axis = moved;
            }
            other
        })
        .bench_local_values(|done| identify(&done, product.as_ref(), Tables::bundled(), &settings));
}
