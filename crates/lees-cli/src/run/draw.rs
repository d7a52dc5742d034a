//! `lees draw`.

use lees_core::ShiftRange;
use lees_format::journal;
use lees_report::figure::{Arrangement, FigureOptions, Insets, draw as draw_figure};

use super::checks::checks;
use crate::args::DrawArgs;
use crate::failure::{Ending, Failure};
use crate::picture;
use crate::place::place;
use crate::request::job::job;

/// Draws the annotated spectrum or spectra.
pub(crate) fn draw(args: &DrawArgs) -> Result<Ending, Failure> {
    let form = picture::form(&args.output)?;
    let output = place(&args.output)?;
    let options = options(args)?;
    let job = job(&args.sample)?;
    let checks = checks(&job, &args.files)?;
    let svg = draw_figure(&checks.all(), &options).map_err(Failure::usage)?;
    picture::write(svg, form, f64::from(args.dpi), &output)?;
    Ok(checks.ending)
}

fn options(args: &DrawArgs) -> Result<FigureOptions, Failure> {
    let ranges: Vec<ShiftRange> =
        args.inset.iter().map(|text| range("--inset", text)).collect::<Result<_, _>>()?;
    let insets = match (args.no_inset, ranges.is_empty()) {
        (true, _) => Insets::None,
        (false, true) => Insets::Automatic,
        (false, false) => Insets::Ranges(ranges),
    };
    Ok(FigureOptions {
        width_mm: if args.columns == 1 { FigureOptions::ONE_COLUMN } else { FigureOptions::TWO_COLUMNS },
        range: args.range.as_deref().map(|text| range("--range", text)).transpose()?,
        insets,
        integrals: args.integrals,
        arrangement: if args.overlay { Arrangement::Overlaid } else { Arrangement::Stacked },
        ..FigureOptions::default()
    })
}

fn range(flag: &str, text: &str) -> Result<ShiftRange, Failure> {
    journal::range(text).map_err(|fault| Failure::usage(format!("{flag} {text}: {fault}")))
}
