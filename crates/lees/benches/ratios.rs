//! Times of files given by name, one line each, for the comparison script: a check with everything kept between spectra, and
//! the floor (decoding and one real Fourier transform), fastest of so many rounds.
//!
//! `cargo bench -p lees --bench ratios -- ROUNDS PRODUCT FILE...`

#![allow(clippy::print_stdout)]

use std::time::Instant;

use lees::{Checker, Job};
use lees_core::Measurement;

type Fault = Box<dyn std::error::Error>;

fn main() -> Result<(), Fault> {
    let words: Vec<String> = std::env::args().skip(1).filter(|word| word != "--bench").collect();
    let [rounds, product, files @ ..] = &words[..] else {
        return Ok(()); // `cargo test --benches` gives no arguments
    };
    let rounds: usize = rounds.parse()?;
    let product = lees_format::product::parse(&std::fs::read_to_string(product)?, product)?;
    let job = Job { product: Some(product), ..Job::default() };
    println!("file\tdecode_ms\tfloor_ms\tcheck_ms\tcheck_over_floor");
    for file in files {
        measure(&job, file, rounds)?;
    }
    Ok(())
}

fn measure(job: &Job, file: &str, rounds: usize) -> Result<(), Fault> {
    let bytes = std::fs::read(file)?;
    let mut checker = Checker::new(job)?;
    let plan = realfft::RealFftPlanner::<f64>::new().plan_fft_forward(points(job, &bytes, file)?);
    let (mut input, mut output) = (plan.make_input_vec(), plan.make_output_vec());
    let mut scratch = plan.make_scratch_vec();
    let [mut decode, mut floor, mut check] = [f64::INFINITY; 3];
    for _ in 0..rounds {
        let began = Instant::now();
        let document = lees_format::read(&std::fs::read(file)?, file, &job.read)?;
        decode = decode.min(began.elapsed().as_secs_f64());
        plan.process_with_scratch(&mut input, &mut output, &mut scratch)?;
        floor = floor.min(began.elapsed().as_secs_f64());
        drop(document);
        let began = Instant::now();
        let checks = checker.check(&std::fs::read(file)?, file)?;
        check = check.min(began.elapsed().as_secs_f64());
        for result in checks {
            result?;
        }
    }
    let name = file.rsplit('/').next().unwrap_or(file);
    let [decode, floor, check] = [decode, floor, check].map(|seconds| seconds * 1e3);
    println!("{name}\t{decode:.3}\t{floor:.3}\t{check:.3}\t{:.1}", check / floor);
    Ok(())
}

/// Length of the transform: of a decay, twice its complex points.
fn points(job: &Job, bytes: &[u8], name: &str) -> Result<usize, Fault> {
    let document = lees_format::read(bytes, name, &job.read)?;
    let chosen = document.measurements(job.prefer)?;
    Ok(match chosen.first().map(|c| &c.measurement) {
        Some(Measurement::Spectrum(spectrum)) => spectrum.real.len(),
        Some(Measurement::Fid(fid)) => 2 * fid.points.len(),
        None => 0,
    })
}
