//! `lees draw`: the annotated spectrum as SVG, PNG and PDF.
//!
//! Signs and words, top to bottom: names of what is not product, each with a sign (filled triangle: volatile; open
//! diamond: unexplained; ring: not counted) and a leader to its signal; the trace, tall lines broken where they are
//! clipped; the product's signals, bracketed, numbered and with their protons; the shift axis.

mod axis;
mod color;
mod compose;
mod drying;
pub(crate) mod export;
pub(crate) mod font;
mod frame;
mod inset;
mod mark;
mod names;
mod numbers;
mod options;
mod panel;
mod place;
pub(crate) mod sample;
mod scale;
pub(crate) mod sheet;
mod steps;
mod ticks;
mod trace;

use lees_core::check::Check;

pub use drying::{DryingChart, DryingPoint, drying};
pub use export::{pdf, png};
pub use options::{Arrangement, FigureOptions, Insets};
pub use steps::{Steps, steps};

use crate::ReportError;

/// A finished picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Svg {
    text: String,
    width_mm: f64,
    height_mm: f64,
}

impl Svg {
    /// The picture as SVG text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.text
    }

    /// The picture as SVG text, owned.
    #[must_use]
    pub fn into_string(self) -> String {
        self.text
    }

    /// Width and height in mm.
    #[must_use]
    pub const fn size_mm(&self) -> (f64, f64) {
        (self.width_mm, self.height_mm)
    }
}

/// Draws one or several checked spectra.
///
/// ```no_run
/// use lees_report::figure::{FigureOptions, draw, pdf, png};
/// # fn report(check: &lees_core::check::Check) -> Result<(), lees_report::ReportError> {
/// let options = FigureOptions { width_mm: FigureOptions::ONE_COLUMN, ..FigureOptions::default() };
/// let svg = draw(&[check], &options)?;
/// let (for_screen, for_print) = (png(&svg, 300.0)?, pdf(&svg)?);
/// # Ok(())
/// # }
/// ```
///
/// # Errors
/// [`ReportError`] when nothing is given, an option cannot be drawn, or the drawing library refuses.
pub fn draw(checks: &[&Check], options: &FigureOptions) -> Result<Svg, ReportError> {
    options.check()?;
    compose::draw(checks, options)
}

/// The stretch a figure of the check shows by default.
pub(crate) fn view(check: &Check) -> lees_core::ShiftRange {
    scale::default_range(check)
}

/// The intensity at the top of a figure of a stretch.
pub(crate) fn full(check: &Check, range: lees_core::ShiftRange) -> f64 {
    scale::full(check, range)
}

/// The same as [`draw`], as text.
///
/// # Errors
/// As [`draw`].
pub fn svg(checks: &[&Check], options: &FigureOptions) -> Result<String, ReportError> {
    draw(checks, options).map(Svg::into_string)
}
