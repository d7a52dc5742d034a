//! What a figure should look like.

use lees_core::ShiftRange;

use crate::ReportError;

/// How several spectra share a figure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Arrangement {
    /// One below the other, on one axis.
    #[default]
    Stacked,
    /// Laid over each other, each in its colour, scaled alike on the product; the first is the widest and lies at the bottom.
    Overlaid,
}

/// Which regions are enlarged.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Insets {
    /// Weak signals and crowded stretches, as many as fit.
    #[default]
    Automatic,
    /// None.
    None,
    /// These; they are drawn and lettered from high shift to low, as the axis runs.
    Ranges(Vec<ShiftRange>),
}

/// Options of [`draw`](super::draw).
#[derive(Debug, Clone, PartialEq)]
pub struct FigureOptions {
    /// Width in mm; [`ONE_COLUMN`](Self::ONE_COLUMN) and [`TWO_COLUMNS`](Self::TWO_COLUMNS) suit journals.
    pub width_mm: f64,
    /// Height of each main trace in mm; `None` chooses by width.
    pub trace_mm: Option<f64>,
    /// The stretch to draw; `None` shows every visible signal.
    pub range: Option<ShiftRange>,
    /// The enlarged regions.
    pub insets: Insets,
    /// Whether running integrals of the product's signals are drawn, with the protons found under their numbers.
    pub integrals: bool,
    /// Whether volatiles, unexplained and uncounted signals are named.
    pub names: bool,
    /// Whether the product's signals are numbered.
    pub numbers: bool,
    /// Whether each spectrum's title and verdict stand over it; several spectra always have them.
    pub heading: bool,
    /// How several spectra share the figure.
    pub arrangement: Arrangement,
    /// Font size in points, at least 6.
    pub text_pt: f64,
    /// Width in mm of the columns of which the lowest and highest point are drawn.
    pub column_mm: f64,
    /// Whether the typeface is embedded, so that the SVG looks the same everywhere.
    pub embed_fonts: bool,
}

impl FigureOptions {
    /// A journal column of 84 mm (ACS author guidelines: 3.3 in, from memory).
    pub const ONE_COLUMN: f64 = 84.0;
    /// A journal page of two columns, 178 mm (ACS author guidelines: 7 in, from memory).
    pub const TWO_COLUMNS: f64 = 178.0;
    /// Narrowest and widest figure in mm.
    const WIDTHS: std::ops::RangeInclusive<f64> = 50.0..=1200.0;
    /// Lowest and tallest trace in mm.
    const TRACES: std::ops::RangeInclusive<f64> = 5.0..=600.0;
    /// Smallest and largest font in points; journals refuse less than 5 or 6.
    const FONTS: std::ops::RangeInclusive<f64> = 6.0..=24.0;
    /// Finest and coarsest column in mm.
    const COLUMNS: std::ops::RangeInclusive<f64> = 0.02..=2.0;

    /// # Errors
    /// [`ReportError::Option`] names the first value that cannot be drawn.
    pub(super) fn check(&self) -> Result<(), ReportError> {
        within("the figure's width", self.width_mm, Self::WIDTHS, "50 to 1200 mm")?;
        within("the trace's height", self.trace_mm.unwrap_or(20.0), Self::TRACES, "5 to 600 mm")?;
        within("the font size", self.text_pt, Self::FONTS, "6 to 24 pt")?;
        within("the column width", self.column_mm, Self::COLUMNS, "0.02 to 2 mm")?;
        let insets = if let Insets::Ranges(ranges) = &self.insets { ranges.as_slice() } else { &[] };
        for range in self.range.iter().chain(insets) {
            let sound = range.high.0.is_finite() && range.low.0.is_finite() && range.high.0 > range.low.0;
            if !sound {
                let read = format!("{} to {}", range.high, range.low);
                return Err(ReportError::Option {
                    what: "a shift range",
                    read,
                    allowed: "two different shifts",
                });
            }
        }
        Ok(())
    }
}

fn within(
    what: &'static str,
    value: f64,
    range: std::ops::RangeInclusive<f64>,
    allowed: &'static str,
) -> Result<(), ReportError> {
    if range.contains(&value) {
        return Ok(());
    }
    Err(ReportError::Option { what, read: value.to_string(), allowed })
}

impl Default for FigureOptions {
    fn default() -> Self {
        Self {
            width_mm: Self::TWO_COLUMNS,
            trace_mm: None,
            range: None,
            insets: Insets::Automatic,
            integrals: false,
            names: true,
            numbers: true,
            heading: false,
            arrangement: Arrangement::Stacked,
            text_pt: 7.0,
            column_mm: 0.07,
            embed_fonts: true,
        }
    }
}
