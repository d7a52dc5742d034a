//! Speed of decoding a spectrum of 64 Ki points in DIFDUP form, against a plain scan of the same bytes.
//!
//! `cargo bench -p lees-format --bench decode`; `LEES_BENCH_TALK=1` prints the size of the file.

use divan::counter::BytesCount;
use divan::{Bencher, black_box};
use lees_core::{Acquisition, Measurement, Megahertz, Ppm, ShiftAxis, Spectrum};
use lees_format::write::{Encoding, WriteOptions, jcamp};
use lees_format::{ReadOptions, read};

const POINTS: usize = 65_536;

/// Lorentzian lines over whole-number noise, as a digitiser gives them.
fn file(encoding: Encoding) -> Vec<u8> {
    let field = Megahertz(400.0);
    let mut state = 1_u64;
    let ordinate = |i: usize| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let noise = ((state >> 33) % 2001) as f64 - 1000.0;
        let line = |centre: f64, height: f64| height / (1.0 + ((i as f64 - centre) / 4.0).powi(2));
        (line(9000.0, 4e8) + line(30_000.5, 1e8) + line(50_000.2, 3e7) + noise).round()
    };
    let spectrum = Spectrum {
        axis: ShiftAxis::new(Ppm(14.0), Ppm(-2.0), POINTS, field)
            .unwrap_or_else(|| unreachable!("the axis falls")),
        real: (0..POINTS).map(ordinate).collect(),
        imaginary: None,
        acquisition: Acquisition::at_field(field),
    };
    let options = WriteOptions { encoding, ..WriteOptions::default() };
    jcamp(&Measurement::Spectrum(spectrum), &options).bytes
}

fn main() {
    divan::main();
}

#[divan::bench(args = [Encoding::DifDup, Encoding::Dif, Encoding::Sqz, Encoding::Pac, Encoding::Affn])]
fn decode(bencher: Bencher<'_, '_>, encoding: Encoding) {
    let bytes = file(encoding);
    let options = ReadOptions::default();
    bencher.counter(BytesCount::of_slice(&bytes)).bench(|| read(black_box(&bytes), "bench", &options));
}

#[divan::bench]
fn scan_bytes_difdup(bencher: Bencher<'_, '_>) {
    let bytes = file(Encoding::DifDup);
    let sum = |bytes: &[u8]| {
        bytes.iter().fold(0_u64, |sum, byte| sum.wrapping_mul(31).wrapping_add(u64::from(*byte)))
    };
    bencher.counter(BytesCount::of_slice(&bytes)).bench(|| sum(black_box(&bytes)));
}
