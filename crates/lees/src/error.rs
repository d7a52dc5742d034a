//! What can go wrong between bytes and verdict.

use thiserror::Error;

/// Why there is no result.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum Error {
    /// The input could not be read, or holds nothing that can be checked.
    #[error("{0}")]
    Format(#[from] lees_format::FormatError),
    /// The spectrum could not be processed.
    #[error("{name}: {source}")]
    Process {
        /// The input's name.
        name: String,
        /// The reason.
        source: Box<lees_process::ProcessError>,
    },
    /// The spectrum could not be matched.
    #[error("{name}: {source}")]
    Match {
        /// The input's name.
        name: String,
        /// The reason.
        source: Box<lees_match::MatchError>,
    },
    /// What the caller asked for cannot be meant: a product, limit, setting or table is wrong.
    #[error("{0}")]
    Usage(String),
}

impl Error {
    /// Whether the request is at fault, not the input.
    ///
    /// ```
    /// let fault = lees::Settings::default().change("process.baseline.perod_hz=900").unwrap_err();
    /// assert!(fault.is_usage(), "misspelt by the caller");
    /// ```
    #[must_use]
    pub const fn is_usage(&self) -> bool {
        matches!(self, Self::Usage(_))
    }
}
