//! `lees draw`: the annotated spectrum as SVG, PNG and PDF.
//!
//! Signs and words, top to bottom: names of what is not product, each with a sign (filled triangle: volatile; open
//! diamond: unexplained; ring: not counted) and a leader to its signal; the trace, tall lines broken where they are
//! clipped; the product's signals, bracketed, numbered and with their protons; the shift axis.

mod axis;
mod color;
mod compose;
mod export;
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
mod ticks;
mod trace;

use lees_core::check::Check;

pub(crate) use export::tree;
pub use export::{pdf, png};
pub use options::{Arrangement, FigureOptions, Insets};

use crate::ReportError;

/// A finished picture.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Svg(String);

impl Svg {
    /// The picture as SVG text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The picture as SVG text, owned.
    #[must_use]
    pub fn into_string(self) -> String {
        self.0
    }
}

/// Draws one or several checked spectra.
///
/// # Errors
/// [`ReportError`] when nothing is given, an option cannot be drawn, or the drawing library refuses.
pub fn draw(checks: &[&Check], options: &FigureOptions) -> Result<Svg, ReportError> {
    options.check()?;
    compose::draw(checks, options).map(Svg)
}

/// The same as [`draw`], as text.
///
/// # Errors
/// As [`draw`].
pub fn svg(checks: &[&Check], options: &FigureOptions) -> Result<String, ReportError> {
    draw(checks, options).map(Svg::into_string)
}
