//! The sense of rotation, the carrier and the group delay of FIDs, against spectra of the same samples processed
//! elsewhere. Needs the optional folder of real exports; says so and passes without it.

#![allow(clippy::unwrap_used, clippy::panic, clippy::print_stdout)]

use lees_core::complex::{modulus, polar};
use std::path::PathBuf;

use lees_core::{Fid, Measurement, Spectrum};
use lees_format::{Prefer, ReadOptions, read};
use lees_fourier::Plans;
use num_complex::Complex64;

fn folder() -> Option<PathBuf> {
    let named = std::env::var_os("LEES_CORPUS").map(PathBuf::from);
    let beside = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../../shared/corpus");
    named.or(Some(beside)).filter(|path| path.is_dir())
}

fn measure(path: &std::path::Path) -> Option<Measurement> {
    let bytes = std::fs::read(path).ok()?;
    let document = read(&bytes, "file", &ReadOptions::default()).ok()?;
    Some(document.measurements(Prefer::Both).ok()?.remove(0).measurement)
}

/// Magnitudes on a grid of 0.005 ppm from 14 down to -2, the FID's turn as read or reversed.
fn of_fid(fid: &Fid, reversed: bool) -> Vec<f64> {
    let size = (2 * fid.points.len()).next_power_of_two();
    let mut data: Vec<Complex64> = fid.points.iter().map(|p| if reversed { p.conj() } else { *p }).collect();
    data.resize(size, Complex64::default());
    Plans::new().forward(size).process(&mut data);
    let (field, carrier) = (fid.acquisition.field.value(), fid.carrier.unwrap().value());
    let width = fid.spectral_width().value();
    let mut grid = vec![0.0; GRID];
    for (k, value) in data.iter().enumerate() {
        let turn = if k < size / 2 { k as f64 } else { k as f64 - size as f64 };
        put(&mut grid, carrier + turn * width / size as f64 / field, modulus(*value));
    }
    grid
}

fn of_spectrum(spectrum: &Spectrum) -> Vec<f64> {
    let mut grid = vec![0.0; GRID];
    for (i, y) in spectrum.real.iter().enumerate() {
        put(&mut grid, spectrum.axis.shift(i).value(), y.abs());
    }
    grid
}

const GRID: usize = 3200;
const CELL: f64 = 0.005;

fn put(grid: &mut [f64], shift: f64, size: f64) {
    let at = ((14.0 - shift) / CELL).round();
    if at >= 0.0 && at < GRID as f64 {
        let cell = &mut grid[at as usize];
        *cell = cell.max(size);
    }
}

/// Best correlation of square roots (so that one strong line does not decide alone) and the move that gives it.
/// The reversed FID may move as well, so its correlation is high where a spectrum is nearly symmetric.
fn best(a: &[f64], b: &[f64]) -> (f64, i64) {
    let root = |list: &[f64]| {
        let mean = list.iter().map(|v| v.sqrt()).sum::<f64>() / list.len() as f64;
        list.iter().map(|v| v.sqrt() - mean).collect::<Vec<_>>()
    };
    let (a, b) = (root(a), root(b));
    let norm = |list: &[f64]| list.iter().map(|v| v * v).sum::<f64>().sqrt();
    let at = |lag: i64| {
        let pairs =
            (0..GRID as i64).filter_map(|i| Some((a[i as usize], *b.get(usize::try_from(i + lag).ok()?)?)));
        pairs.map(|(x, y)| x * y).sum::<f64>() / (norm(&a) * norm(&b))
    };
    (-100..=100).map(|lag| (at(lag), lag)).max_by(|x, y| x.0.total_cmp(&y.0)).unwrap()
}

#[test]
fn fids_transform_to_the_spectra_of_the_same_samples() {
    let Some(folder) = folder() else {
        println!("no folder of real exports beside the workspace: this test ran without it");
        return;
    };
    let mut pairs = 0;
    let mut faults = Vec::new();
    for entry in std::fs::read_dir(&folder).unwrap().flatten() {
        let path = entry.path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let Some(stem) = name.strip_suffix("_1h.fid.dx") else { continue };
        let twin = folder.join(format!("{stem}_1h.dx"));
        let (Some(Measurement::Fid(fid)), Some(Measurement::Spectrum(spectrum))) =
            (measure(&path), measure(&twin))
        else {
            continue;
        };
        let target = of_spectrum(&spectrum);
        let (direct, lag) = best(&of_fid(&fid, false), &target);
        let (mirrored, _) = best(&of_fid(&fid, true), &target);
        let off = lag as f64 * CELL;
        println!(
            "{stem}: correlation {direct:.3} at {off:+.3} ppm, reversed {mirrored:.3}, delay {:?}",
            fid.group_delay
        );
        faults.extend(
            (direct < 0.8 || direct < mirrored + 0.1).then(|| format!("{stem}: turns the wrong way")),
        );
        faults.extend((off.abs() > 0.02).then(|| format!("{stem}: carrier off by {off} ppm")));
        pairs += 1;
    }
    println!("{pairs} FIDs compared");
    assert!(faults.is_empty(), "{}", faults.join("\n"));
    assert!(pairs > 0 || std::env::var_os("LEES_CORPUS").is_none());
}

/// Sequentially sampled data show mirror images of all lines unless the half dwell is allowed for.
#[test]
fn sequential_sampling_leaves_no_mirror_images() {
    let mut table = [String::new(), String::new()];
    let (points, width, lines) = (1024_usize, 1000.0, [(137.0, 1.0), (-260.0, 0.4)]);
    let signal = |t: f64| -> Complex64 {
        let line =
            |(hz, size): &(f64, f64)| polar(size * libm::exp(-8.0 * t), 2.0 * std::f64::consts::PI * hz * t);
        lines.iter().map(line).sum()
    };
    for n in 0..points {
        for (part, half) in [(0, 0.0), (1, 0.5)] {
            let value = signal((n as f64 + half) / width);
            let value = if part == 0 { value.re } else { value.im };
            table[part].push_str(&format!("{n} {:.0}\n", value * 1e6));
        }
    }
    let last = (points - 1) as f64 / width;
    let file = format!(
        "##TITLE= two lines\n##JCAMP-DX= 5.00\n##DATA TYPE= NMR FID\n##.OBSERVE FREQUENCY= 100\n##.ACQUISITION MODE= \
         SEQUENTIAL\n##NTUPLES= NMR FID\n##VAR_NAME= TIME, FID/REAL, FID/IMAG, PAGE NUMBER\n##SYMBOL= X, R, I, N\n\
         ##VAR_TYPE= INDEPENDENT, DEPENDENT, DEPENDENT, PAGE\n##VAR_DIM= {points}, {points}, {points}, 2\n##UNITS= \
         SECONDS, ARBITRARY UNITS, ARBITRARY UNITS,\n##FIRST= 0, 0, 0, 1\n##LAST= {last}, 0, 0, 2\n##PAGE= N=1\n\
         ##DATA TABLE= (X++(R..R)), XYDATA\n{}##PAGE= N=2\n##DATA TABLE= (X++(I..I)), XYDATA\n{}##END NTUPLES=\n##END=\n",
        table[0], table[1]
    );
    let document = read(file.as_bytes(), "sequential.jdx", &ReadOptions::default()).unwrap();
    let Measurement::Fid(fid) = document.blocks[0].measurement().unwrap() else { panic!("no FID") };
    let transform = |mut data: Vec<Complex64>| {
        Plans::new().forward(points).process(&mut data);
        data
    };
    let read = transform(fid.points.to_vec());
    let ideal = transform((0..points).map(|n| signal(n as f64 / width) * 1e6).collect());
    let highest = ideal.iter().map(|v| modulus(*v)).fold(0.0, f64::max);
    let worst = read.iter().zip(&ideal).map(|(a, b)| modulus(a - b)).fold(0.0, f64::max);
    // The jump at time zero rings for a few points: a per cent of the highest line, spread over all frequencies.
    assert!(worst < 0.01 * highest, "{worst} of {highest}");
}
