//! What a caller may say about an input.

use lees_core::Megahertz;

use crate::limits::Limits;
use crate::unit::XUnit;

/// How to read; the default guesses everything the input does not say.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ReadOptions {
    /// Whether each deviation from the standard is an error instead of a warning.
    pub strict: bool,
    /// Upper bounds of what is read.
    pub limits: Limits,
    /// Observe frequency; wins over the input's own.
    pub field: Option<Megahertz>,
    /// How to read columns of numbers.
    pub text: TextOptions,
}

/// Overrides for plain text; `None` means: guess, and say what was guessed.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct TextOptions {
    /// What each column holds, from the left.
    pub columns: Option<Vec<Column>>,
    /// Unit of the abscissa: a unit of time makes the data an FID.
    pub unit: Option<XUnit>,
    /// First and last abscissa, for a single column of ordinates.
    pub range: Option<(f64, f64)>,
    /// Character between columns.
    pub delimiter: Option<char>,
    /// Whether a comma is the decimal point.
    pub decimal_comma: Option<bool>,
    /// Whether an uneven abscissa is resampled linearly onto an even one instead of being refused.
    pub resample: bool,
}

/// What a column of plain text holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Column {
    /// Abscissae.
    X,
    /// Real ordinates.
    Real,
    /// Imaginary ordinates.
    Imaginary,
    /// Nothing of interest.
    Skip,
}
