//! Writes one spectrum and one FID in every encoding into a folder, with the true values beside them, so that
//! other decoders can be compared point for point: `cargo run -p lees-format --example write_every_encoding -- DIR`.

use lees_core::complex::polar;
use std::error::Error;
use std::path::Path;

use lees_core::{Acquisition, Fid, Measurement, Megahertz, Nucleus, Ppm, Seconds, ShiftAxis, Spectrum};
use lees_format::write::{Encoding, WriteOptions, jcamp, text};
use ndarray::Array1;
use num_complex::Complex64;

/// Points of the spectrum and of the FID.
const POINTS: usize = 4096;

/// Repeatable whole-number noise.
fn noise(state: &mut u64) -> f64 {
    *state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
    ((*state >> 33) % 401) as f64 - 200.0
}

/// Lines, flat stretches and noise, so that every kind of token occurs.
fn ordinate(index: usize, state: &mut u64) -> f64 {
    let at =
        |centre: f64, width: f64, height: f64| height / (1.0 + ((index as f64 - centre) / width).powi(2));
    if index % 1000 < 120 {
        return 0.0;
    }
    let lines = at(700.0, 3.0, 5e8) + at(2100.3, 5.0, -2e7) + at(3333.3, 2.0, 9e6);
    lines.round() + noise(state)
}

fn acquisition() -> Acquisition {
    let mut acquisition = Acquisition::at_field(Megahertz(400.13));
    acquisition.title = "every token".to_owned();
    acquisition.nucleus = Some(Nucleus::Proton);
    acquisition.solvent = Some("CDCl3".to_owned());
    acquisition
}

fn spectrum(imaginary: bool, factor: f64) -> Result<Measurement, Box<dyn Error>> {
    let mut state = 1;
    let mut part = || -> Array1<f64> { (0..POINTS).map(|i| ordinate(i, &mut state) * factor).collect() };
    let axis = ShiftAxis::new(Ppm(12.02), Ppm(-1.98), POINTS, Megahertz(400.13)).ok_or("the axis falls")?;
    let (real, second) = (part(), part());
    let imaginary = imaginary.then_some(second);
    Ok(Measurement::Spectrum(Spectrum { axis, real, imaginary, acquisition: acquisition() }))
}

fn fid() -> Measurement {
    let mut state = 7;
    let point = |n: usize| {
        let decay = libm::exp(-(n as f64) / 900.0) * 1e7;
        let turn = polar(decay, 0.37 * n as f64);
        Complex64::new(turn.re.round() + noise(&mut state), turn.im.round() + noise(&mut state))
    };
    let points = (0..POINTS).map(point).collect();
    let (carrier, group_delay) = (Some(Ppm(5.0)), None);
    Measurement::Fid(Fid {
        points,
        dwell: Seconds(1.25e-4),
        carrier,
        group_delay,
        acquisition: acquisition(),
    })
}

/// The true values: one line a point, abscissa, real and imaginary part.
fn truth(measurement: &Measurement) -> String {
    match measurement {
        Measurement::Spectrum(s) => s
            .real
            .iter()
            .enumerate()
            .map(|(i, y)| {
                let imaginary = s.imaginary.as_ref().map(|im| format!(" {:?}", im[i])).unwrap_or_default();
                format!("{:?} {y:?}{imaginary}\n", s.axis.shift(i).value())
            })
            .collect(),
        Measurement::Fid(f) => f
            .points
            .iter()
            .enumerate()
            .map(|(i, p)| format!("{:?} {:?} {:?}\n", f.dwell.value() * i as f64, p.re, p.im))
            .collect(),
    }
}

fn main() -> Result<(), Box<dyn Error>> {
    let folder = std::env::args().nth(1).ok_or("name a folder")?;
    let folder = Path::new(&folder);
    std::fs::create_dir_all(folder)?;
    let cases = [
        ("spectrum", spectrum(false, 1.0)?),
        ("scaled", spectrum(false, 0.125)?),
        ("complex", spectrum(true, 1.0)?),
        ("fid", fid()),
    ];
    for (name, measurement) in &cases {
        std::fs::write(folder.join(format!("{name}.truth")), truth(measurement))?;
        for encoding in Encoding::ALL {
            let options = WriteOptions { encoding, ..WriteOptions::default() };
            let written = jcamp(measurement, &options);
            std::fs::write(folder.join(format!("{name}.{}.jdx", encoding.name())), written.bytes)?;
        }
        std::fs::write(
            folder.join(format!("{name}.txt")),
            text(measurement, &WriteOptions::default()).bytes,
        )?;
    }
    Ok(())
}
