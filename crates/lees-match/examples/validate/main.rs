//! Validates the whole matching on simulated samples of known content and prints the tables of `docs/validation.md`.
//!
//! `cargo run --release -p lees-match --example validate -- [SAMPLES] [FIRST]`, with `--odd` the second chapter alone.

#![allow(
    clippy::expect_used,
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a program for the console over fixed recipes"
)]

mod page;
mod products;
mod sample;
mod score;
mod solvents;

use std::time::Instant;

use lees_core::Measurement;
use lees_match::table::Tables;
use lees_match::{Settings, explain};
use lees_process::{Workspace, process};
use lees_spin::simulate::{Simulator, Truth};

use sample::{Form, Sample, sample};
use score::Board;

/// Per cent of the samples that are made once more with odd lines.
const ODD_SHARE: u64 = 60;

fn main() {
    let number =
        |k: usize, default: u64| std::env::args().nth(k).and_then(|a| a.parse().ok()).unwrap_or(default);
    let (count, first) = (number(1, 500), number(2, 0));
    if std::env::args().any(|a| a == "--odd") {
        print!("{}", board(first..first + count, true).odd_chapter());
    } else {
        print!("{}", board(first..first + count, false).page());
        print!("\n{}", board(first..first + ODD_SHARE * count / 100, true).odd_chapter());
    }
}

/// Judges samples; `odd` ones have lines of no common shape.
fn board(indices: std::ops::Range<u64>, odd: bool) -> Board {
    let verbose = std::env::args().any(|a| a == "-v");
    let (tables, settings) = (Tables::bundled(), Settings::default());
    let (mut simulator, mut workspace) = (Simulator::default(), Workspace::default());
    let mut board = Board::default();
    for index in indices {
        let sample = if odd { sample(index).with_odd_lines(index) } else { sample(index) };
        let (measurement, truth) = measured(&mut simulator, &sample);
        let started = Instant::now();
        let processed = process(&measurement, &lees_process::Settings::default(), &mut workspace)
            .unwrap_or_else(|e| panic!("sample {index}: {e}"));
        let halfway = Instant::now();
        let found = explain(&processed, Some(&sample.product), tables, &settings)
            .unwrap_or_else(|e| panic!("sample {index}: {e}"));
        if std::env::args().any(|a| a == "-l") {
            println!(
                "phase {:?} planted {:?} ref {:?} shape {:?} noise {:.4} truth noise {:.4}",
                (processed.phase.ph0_deg, processed.phase.ph1_deg, processed.phase.u_ph0_deg),
                sample.recipe.faults.phase,
                sample.recipe.faults.reference_error_ppm,
                processed.shape.parameters(),
                processed.noise.typical(),
                truth.planted.noise_sigma
            );
            for line in &found.check.lines {
                println!(
                    "   line {:.4} w {:.2} a {:.4} u {:.4} h/s {:.1} {:?}",
                    line.shift.0,
                    line.width.0,
                    line.area / truth.planted.proton_area,
                    line.area_u / truth.planted.proton_area,
                    line.height / processed.noise.typical(),
                    line.kind
                );
            }
            for line in &truth.lines {
                if line.protons > 0.002 {
                    println!(
                        "   truth {:.4} {:.4} {} {}",
                        line.ppm, line.protons, line.compound, line.signal
                    );
                }
            }
        }
        board.time(halfway - started, halfway.elapsed());
        let decoyed = explain(&processed, Some(&sample.product), &tables.with_decoys(index), &settings)
            .unwrap_or_else(|e| panic!("sample {index} with decoys: {e}"));
        board.add_decoys(&decoyed);
        board.add(index, &sample, &truth, &found, verbose);
        let dry = sample.without_volatiles();
        let (measurement, _) = measured(&mut simulator, &dry);
        let found = process(&measurement, &lees_process::Settings::default(), &mut workspace)
            .map(|processed| explain(&processed, Some(&dry.product), tables, &settings));
        let found = found.unwrap_or_else(|e| panic!("sample {index} without volatiles: {e}"));
        let found = found.unwrap_or_else(|e| panic!("sample {index} without volatiles: {e}"));
        board.add_dry(index, &dry, &found.check, verbose);
    }
    board
}

/// What the spectrometer hands over, and what is in it.
fn measured(simulator: &mut Simulator, sample: &Sample) -> (Measurement, Truth) {
    let title = &sample.recipe.title;
    let made = simulator.run(&sample.recipe).unwrap_or_else(|e| panic!("{title}: {e}"));
    let mut spectrum = made.spectrum;
    let measurement = match sample.form {
        Form::Fid => Measurement::Fid(made.fid),
        Form::Complex => Measurement::Spectrum(spectrum),
        Form::Real => {
            spectrum.imaginary = None;
            Measurement::Spectrum(spectrum)
        }
    };
    (measurement, made.truth)
}
