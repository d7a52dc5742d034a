//! The phase as a table: what was there before, what was taken off, what is left of each line.

use lees::Traced;

use super::tables::{csv, shift};
use crate::failure::Failure;

/// Every point before and after; `None` when nothing was turned or no imaginary part is left to turn back.
pub(super) fn table(traced: &Traced) -> Result<Option<String>, Failure> {
    let (spectrum, processed) = (&traced.check.spectrum, &traced.processed);
    let Some(imaginary) = spectrum.imaginary.as_ref().filter(|_| processed.phase.applied) else {
        return Ok(None);
    };
    let points = spectrum.real.len() as f64;
    let real = spectrum.real.iter().zip(&processed.baseline).map(|(y, baseline)| y + baseline);
    let rows = real.zip(imaginary).enumerate().map(|(i, (re, im))| {
        let report = &processed.phase;
        let degrees = report.ph0_deg + report.ph1_deg * (i as f64 - report.pivot) / points;
        let (sin, cos) = libm::sincos(degrees.to_radians());
        let numbers = [re * cos - im * sin, re * sin + im * cos, degrees, re, *im];
        let place = shift(spectrum.axis.shift(i).0);
        std::iter::once(place).chain(numbers.map(|n| n.to_string())).collect()
    });
    let header = ["shift_ppm", "real_before", "imaginary_before", "phase_deg", "real", "imaginary"];
    csv(&header, rows).map(Some)
}

/// The lines whose phases were measured.
pub(super) fn lines(traced: &Traced) -> Result<String, Failure> {
    let offset = traced.check.reference.as_ref().map_or(0.0, |reference| reference.applied.0);
    let rows = traced.processed.phase.lines.iter().map(|line| {
        let numbers = [line.phase_deg, line.u_deg, line.residual_deg, line.snr];
        let mut row = vec![shift(line.shift.0 + offset)];
        row.extend(numbers.map(|n| n.to_string()));
        row.push(line.used.to_string());
        row
    });
    csv(&["shift_ppm", "phase_deg", "phase_u_deg", "left_deg", "height_over_noise", "used"], rows)
}
