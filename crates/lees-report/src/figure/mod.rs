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
pub(crate) mod ordered;
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
    ///
    /// ```
    /// use lees_report::figure::{FigureOptions, draw};
    /// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/checked_dye.rs")); }
    /// # use made::*;
    /// let check = checked_dye(); // a dye with 1.4 wt% 2-propanol
    /// assert!(draw(&[&check], &FigureOptions::default())?.as_str().contains("2-propanol"), "the label at 4.04 ppm");
    /// # Ok::<(), lees_report::ReportError>(())
    /// ```
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.text
    }

    /// The picture as SVG text, owned.
    ///
    /// ```
    /// use lees_report::figure::{DryingChart, DryingPoint, drying};
    /// let points = vec![DryingPoint { hours: 2.0, wt_percent: 0.9, low: 0.8, high: 1.0 }];
    /// let svg: String = drying(&DryingChart { points, ..DryingChart::default() })?.into_string();
    /// assert!(svg.trim_end().ends_with("</svg>"));
    /// # Ok::<(), lees_report::ReportError>(())
    /// ```
    #[must_use]
    pub fn into_string(self) -> String {
        self.text
    }

    /// Width and height in mm.
    ///
    /// ```
    /// use lees_report::figure::{FigureOptions, draw};
    /// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/checked_dye.rs")); }
    /// # use made::*;
    /// let check = checked_dye(); // a dye with 1.4 wt% 2-propanol
    /// let narrow = FigureOptions { width_mm: FigureOptions::ONE_COLUMN, ..FigureOptions::default() };
    /// assert_eq!(draw(&[&check], &narrow)?.size_mm().0, FigureOptions::ONE_COLUMN);
    /// # Ok::<(), lees_report::ReportError>(())
    /// ```
    #[must_use]
    pub const fn size_mm(&self) -> (f64, f64) {
        (self.width_mm, self.height_mm)
    }
}

/// Draws one or several checked spectra.
///
/// ```
/// use lees_report::figure::{FigureOptions, draw, pdf, png};
/// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/checked_dye.rs")); }
/// # use made::*;
/// let check = checked_dye(); // a dye with 1.4 wt% 2-propanol
/// let options = FigureOptions { width_mm: FigureOptions::ONE_COLUMN, ..FigureOptions::default() };
/// let svg = draw(&[&check], &options)?;
/// let (for_screen, for_print) = (png(&svg, 96.0)?, pdf(&svg)?);
/// assert!(for_screen.starts_with(b"\x89PNG") && for_print.starts_with(b"%PDF"));
/// # Ok::<(), lees_report::ReportError>(())
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
pub(crate) fn svg(checks: &[&Check], options: &FigureOptions) -> Result<String, ReportError> {
    draw(checks, options).map(Svg::into_string)
}
