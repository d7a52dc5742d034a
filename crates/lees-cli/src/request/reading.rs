//! How to read, from flags.

use lees_core::Megahertz;
use lees_format::{ReadOptions, XUnit};

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
    Ok(options)
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
