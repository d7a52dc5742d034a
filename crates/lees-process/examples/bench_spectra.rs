//! Writes simulated spectra with their truth, and what processing made of them, for comparison with general
//! libraries: `bench_spectra DIR`.

#[path = "../tests/support/mod.rs"]
mod support;

use std::fmt::Write as _;
use std::path::Path;

use lees_process::{Settings, lines};
use support::{Bench, TrueLine, line, multiplet};

/// Repeats for timing.
const REPEATS: u32 = 5;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let directory = std::env::args().nth(1).ok_or("usage: bench_spectra DIR")?;
    let directory = Path::new(&directory);
    std::fs::create_dir_all(directory)?;
    let bench = Bench { roll: 30.0, ..Bench::default() };
    for seed in 0..6u64 {
        write(directory, &bench, &scene(&bench, seed), seed)?;
    }
    Ok(())
}

/// A 3H singlet of S/N 3000, an OH of 40 Hz, an NH of 120 Hz, a 0.03H impurity, multiplets and weak lines.
fn scene(bench: &Bench, seed: u64) -> Vec<TrueLine> {
    let at = |hertz: f64| hertz + 13.7 * seed as f64;
    let proton = bench.area_for(3000.0, 1.0) / 3.0;
    let mut lines = vec![
        line(at(4100.0), 3.0 * proton, 0.7),
        line(at(3300.0), proton, 39.7),
        line(at(1900.0), proton, 119.7),
        line(at(4700.0), 0.03 * proton, 0.7),
    ];
    lines.extend(multiplet(at(2600.0), proton, 0.7, &[(8.1, 1), (1.6, 1)]));
    lines.extend(multiplet(at(5300.0), 2.0 * proton, 0.7, &[(7.1, 3)]));
    for k in 0..8 {
        lines.push(line(
            at(5600.0 + 60.0 * f64::from(k)),
            bench.area_for(12.0 + 2.0 * f64::from(k), 1.0),
            0.7,
        ));
    }
    lines
}

fn write(
    directory: &Path,
    bench: &Bench,
    truth: &[TrueLine],
    seed: u64,
) -> Result<(), Box<dyn std::error::Error>> {
    let values = bench.values(truth, 500 + seed);
    let settings = Settings::default();
    let clock = std::time::Instant::now();
    for _ in 0..REPEATS {
        let _ = lines::find(&values, bench.step(), &settings);
    }
    let milliseconds = clock.elapsed().as_secs_f64() * 1e3 / f64::from(REPEATS);
    let found = lines::find(&values, bench.step(), &settings);
    let bytes: Vec<u8> = values.iter().flat_map(|v| v.to_le_bytes()).collect();
    std::fs::write(directory.join(format!("{seed}.f64")), bytes)?;
    let base: Vec<u8> = found.baseline_values.iter().flat_map(|v| v.to_le_bytes()).collect();
    std::fs::write(directory.join(format!("{seed}.baseline.f64")), base)?;
    let mut text = String::from("kind,position_hz,area,width_hz\n");
    writeln!(text, "step,{},{milliseconds},0", bench.step())?;
    for l in truth {
        writeln!(text, "true,{},{},{}", l.position, l.area, l.lorentz + bench.broadening)?;
    }
    for l in &found.lines {
        writeln!(text, "found,{},{},{}", l.position, l.area, l.factor * found.shape.fwhm().0)?;
    }
    for (k, b) in (0..bench.points).step_by(64).map(|i| (i, bench.baseline(i))) {
        writeln!(text, "baseline,{},{b},0", k as f64 * bench.step())?;
    }
    std::fs::write(directory.join(format!("{seed}.csv")), text)?;
    Ok(())
}
