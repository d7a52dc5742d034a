//! The axis of a text: unit, order, evenness.

use crate::document::Block;
use crate::error::{ErrorKind, FormatError};
use crate::even;
use crate::jcamp::kind::Kind;
use crate::jcamp::table::Abscissae;
use crate::options::ReadOptions;
use crate::unit::XUnit;
use crate::warnings::Warnings;

use super::columns::Columns;
use super::header::Header;

/// Shifts in ppm stay below this; larger abscissae are hertz.
const LARGEST_SHIFT: f64 = 60.0;

/// Finds unit and axis and puts the tables into the block.
///
/// # Errors
/// When a single column comes without a range, or the abscissae are not even.
pub(crate) fn place(
    block: &mut Block,
    columns: Columns,
    header: &Header,
    options: &ReadOptions,
    warnings: &mut Warnings,
) -> Result<(), FormatError> {
    let Columns { x, mut real, mut imaginary, first_line } = columns;
    let range = options.text.range.or(header.first.zip(header.last));
    let abscissae = match x {
        Some(x) => {
            even_or_resampled(&x, &mut real, &mut imaginary, options, warnings)
                .map_err(|e| e.on_line(first_line))?;
            (x[0], x[x.len() - 1])
        }
        None => range.filter(|(a, b)| a.is_finite() && b.is_finite() && a != b).ok_or_else(|| {
            let allowed = "a first and a last abscissa, in the header or given by hand (--x-range 12,-2)";
            FormatError::new(ErrorKind::Missing, "a single column of numbers", allowed).on_line(first_line)
        })?,
    };
    let (unit, why) = unit(abscissae, imaginary.is_some(), header, options);
    block.notes.push(format!("abscissa in {} ({why})", unit.name()));
    block.kind = if unit.is_time() { Kind::Fid } else { Kind::Spectrum };
    block.data_type = if unit.is_time() { "NMR FID (text)" } else { "NMR SPECTRUM (text)" }.to_owned();
    block.x_unit = Some(unit.name().to_owned());
    let (first, last) = abscissae;
    block.imaginary = imaginary.is_some().then_some(1);
    block.tables = super::tables(&Abscissae::Even { first, last }, real, imaginary, first_line);
    block.real = Some(0);
    Ok(())
}

fn even_or_resampled(
    x: &[f64],
    real: &mut Vec<f64>,
    imaginary: &mut Option<Vec<f64>>,
    options: &ReadOptions,
    warnings: &mut Warnings,
) -> Result<(), FormatError> {
    let Err(error) = even::check(x) else {
        return Ok(());
    };
    if !even::is_monotonic(x) {
        let read = "abscissae that go up and down";
        return Err(FormatError::new(ErrorKind::Damaged, read, "abscissae in ascending or descending order"));
    }
    if !options.text.resample {
        return Err(error);
    }
    *real = even::resample(x, real);
    if let Some(list) = imaginary {
        *list = even::resample(x, list);
    }
    warnings
        .add("uneven abscissae; ordinates interpolated linearly at as many even ones between first and last");
    Ok(())
}

fn unit(
    (first, last): (f64, f64),
    has_imaginary: bool,
    header: &Header,
    options: &ReadOptions,
) -> (XUnit, &'static str) {
    if let Some(unit) = options.text.unit {
        return (unit, "as given");
    }
    if let Some(unit) = header.unit {
        return (unit, "by the header");
    }
    if first == 0.0 && last > 0.0 && last < LARGEST_SHIFT && has_imaginary {
        return (XUnit::Seconds, "guessed: it starts at 0 and rises, and there is an imaginary part");
    }
    if first.abs().max(last.abs()) > LARGEST_SHIFT {
        (XUnit::Hertz, "guessed from its size")
    } else {
        (XUnit::Ppm, "guessed from its size")
    }
}
