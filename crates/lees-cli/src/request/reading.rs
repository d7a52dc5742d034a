//! How to read, from flags.

use lees_core::Megahertz;
use lees_format::{Column, ReadOptions, XUnit};

use crate::args::ReadingArgs;
use crate::failure::Failure;

/// Reading options from flags.
pub(crate) fn options(args: &ReadingArgs) -> Result<ReadOptions, Failure> {
    let mut options = ReadOptions::default();
    options.strict = args.strict;
    options.limits = options.limits.raised(args.raise_limits.max(1) as usize);
    options.field = args.field_mhz.map(positive).transpose()?.map(Megahertz);
    options.text.unit = args.x_unit.as_deref().map(unit).transpose()?;
    options.text.range = args.x_range.as_deref().map(ends).transpose()?;
    if !args.layout.is_empty() {
        options.text.columns = Some(args.layout.iter().map(|name| column(name)).collect::<Result<_, _>>()?);
    }
    options.text.delimiter = args.delimiter.as_deref().map(delimiter).transpose()?;
    options.text.decimal_comma = args.decimal_comma.then_some(true);
    options.text.resample = args.resample;
    Ok(options)
}

fn column(name: &str) -> Result<Column, Failure> {
    match name.trim().to_ascii_lowercase().as_str() {
        "x" | "ppm" | "hz" | "time" => Ok(Column::X),
        "real" | "y" => Ok(Column::Real),
        "imaginary" | "imag" => Ok(Column::Imaginary),
        "skip" | "-" => Ok(Column::Skip),
        _ => Err(Failure::usage(format!("--layout: `{name}`; allowed are x, real, imaginary, skip"))),
    }
}

fn delimiter(name: &str) -> Result<char, Failure> {
    match name.trim().to_ascii_lowercase().as_str() {
        "comma" | "," => Ok(','),
        "semicolon" | ";" => Ok(';'),
        "tab" | "\\t" => Ok('\t'),
        "blank" | "space" | "" => Ok(' '),
        _ => Err(Failure::usage(format!("--delimiter {name}: allowed are comma, semicolon, tab, blank"))),
    }
}

fn positive(field: f64) -> Result<f64, Failure> {
    let sound = field.is_finite() && field > 0.0;
    if sound { Ok(field) } else { Err(Failure::usage(format!("--field-mhz {field}: must be above 0"))) }
}

fn unit(text: &str) -> Result<XUnit, Failure> {
    XUnit::from_label(text)
        .ok_or_else(|| Failure::usage(format!("--x-unit {text}: allowed are ppm, hz, khz, seconds, ms, us")))
}

fn ends(text: &str) -> Result<(f64, f64), Failure> {
    let fault = || Failure::usage(format!("--x-range {text}: write FIRST,LAST, such as 12,-2"));
    let (first, last) = text.split_once(',').ok_or_else(fault)?;
    let number = |part: &str| part.trim().parse::<f64>().ok().filter(|x| x.is_finite()).ok_or_else(fault);
    let (first, last) = (number(first)?, number(last)?);
    if first == last { Err(fault()) } else { Ok((first, last)) }
}
