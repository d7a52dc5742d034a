//! Renderings of a check: JSON, terminal tables, the journal line, figures, pages. Computes nothing of chemistry.
//!
//! Every function here takes a finished [`lees_core::check::Check`] and turns it into text or a picture. What is
//! not known stays `null`, `n/a` or an empty cell; no number is written with more digits than its uncertainty
//! allows.

mod clean;
mod error;
pub mod figure;
mod formula;
pub mod json;
pub mod listing;
mod number;
pub mod page;
pub mod tables;
pub mod terminal;
mod words;

pub use clean::clean;
pub use error::ReportError;
