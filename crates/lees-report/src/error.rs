//! What can go wrong while rendering.

use thiserror::Error;

/// A picture or page could not be made.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum ReportError {
    /// Nothing was given to draw.
    #[error("no spectrum was given to draw; give at least one")]
    Empty,
    /// A width, height, range or resolution that cannot be drawn.
    #[error("{what} is {read}; allowed: {allowed}")]
    Option {
        /// Which option.
        what: &'static str,
        /// What was read.
        read: String,
        /// What is allowed.
        allowed: &'static str,
    },
    /// The drawing library refused.
    #[error("the figure could not be drawn: {0}")]
    Draw(String),
    /// A journal line needs proton counts.
    #[error(
        "a journal line needs proton counts: describe the product, or give the number of its protons (--protons 16)"
    )]
    NoProtons,
    /// SVG could not become PNG or PDF.
    #[error("the figure could not be written as {format}: {why}")]
    Export {
        /// `PNG` or `PDF`.
        format: &'static str,
        /// The library's own words.
        why: String,
    },
    /// A bundled file is damaged.
    #[error("a bundled font cannot be read: {0}")]
    Font(String),
}
