//! What can go wrong.

use thiserror::Error;

/// Why a measurement could not be processed.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum ProcessError {
    /// The measurement is too short to tell lines from noise.
    #[error("{points} points are too few: at least {least} are needed")]
    TooFewPoints {
        /// How many there are.
        points: usize,
        /// How many are needed.
        least: usize,
    },
    /// A value is not a finite number.
    #[error(
        "point {index} (counted from 0) of the {part} part is {value}: every point must be a finite number"
    )]
    NotFinite {
        /// Where, counted from zero.
        index: usize,
        /// `real` or `imaginary`.
        part: &'static str,
        /// What stands there.
        value: f64,
    },
    /// Two parts that belong together differ in length.
    #[error("the {part} part has {got} points, the axis {expected}")]
    Length {
        /// `real` or `imaginary`.
        part: &'static str,
        /// Points found.
        got: usize,
        /// Points the axis has.
        expected: usize,
    },
    /// All points are equal: there is no signal and no noise to measure.
    #[error("the spectrum is constant: neither signal nor noise")]
    Constant,
    /// A parameter of the recording makes no axis.
    #[error("the {name} is {value}: {allowed}")]
    Acquisition {
        /// Which parameter.
        name: &'static str,
        /// The value found.
        value: String,
        /// What would be allowed.
        allowed: &'static str,
    },
}
