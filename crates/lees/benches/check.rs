//! A whole check, from the bytes of a file to the verdict, of a 64k spectrum in DIFDUP form and of the decay behind it, beside
//! the floor: decoding the same bytes and one real Fourier transform of that length.
//!
//! `cargo bench -p lees --bench check`

use std::path::Path;

use divan::{Bencher, black_box};
use lees::{Checker, Job};
use lees_core::Measurement;

const FILES: [&str; 2] = ["batch-2-h.jdx", "batch-before-drying-fid.jdx"];

fn bytes(name: &str) -> Vec<u8> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-spectra").join(name);
    std::fs::read(&path).unwrap_or_else(|fault| unreachable!("{}: {fault}", path.display()))
}

fn job() -> Job {
    let text = String::from_utf8(bytes("thiazolyl-coumarin.toml")).unwrap_or_default();
    Job { product: lees_format::product::parse(&text, "product").ok(), ..Job::default() }
}

fn main() {
    divan::main();
}

#[divan::bench(args = FILES)]
fn whole_check(bencher: Bencher<'_, '_>, name: &str) {
    let (job, bytes) = (job(), bytes(name));
    let mut checker = Checker::new(&job).unwrap_or_else(|fault| unreachable!("{fault}"));
    bencher.bench_local(|| checker.check(black_box(&bytes), name));
}

#[divan::bench(args = FILES)]
fn decode(bencher: Bencher<'_, '_>, name: &str) {
    let (job, bytes) = (job(), bytes(name));
    bencher.bench_local(|| lees_format::read(black_box(&bytes), name, &job.read));
}

/// Decoding and one transform, plan and buffers at hand.
#[divan::bench(args = FILES)]
fn floor(bencher: Bencher<'_, '_>, name: &str) {
    let (job, bytes) = (job(), bytes(name));
    let document = lees_format::read(&bytes, name, &job.read).unwrap_or_else(|fault| unreachable!("{fault}"));
    let chosen = document.measurements(job.prefer).unwrap_or_else(|fault| unreachable!("{fault}"));
    let points = match &chosen[0].measurement {
        Measurement::Spectrum(spectrum) => spectrum.real.len(),
        Measurement::Fid(fid) => 2 * fid.points.len(),
    };
    let plan = realfft::RealFftPlanner::<f64>::new().plan_fft_forward(points);
    let (mut input, mut output) = (plan.make_input_vec(), plan.make_output_vec());
    let mut scratch = plan.make_scratch_vec();
    bencher.bench_local(|| {
        let read = lees_format::read(black_box(&bytes), name, &job.read);
        let transformed = plan.process_with_scratch(&mut input, &mut output, &mut scratch);
        (read.is_ok(), transformed.is_ok())
    });
}
