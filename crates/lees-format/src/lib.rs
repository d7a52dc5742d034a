//! Bytes to values and back: the file formats. Knows no chemistry.
//!
//! [`read`] takes the bytes of a JCAMP-DX file, of columns of numbers, or of a `.gz` or `.zip` of these, and
//! gives a [`Document`] of [`Block`]s. [`Document::measurements`] picks what can be checked.

mod acquisition;
mod archive;
mod choose;
mod clean;
mod document;
mod error;
mod even;
mod group_delay;
mod jcamp;
pub mod journal;
mod limits;
mod lines;
mod measurement;
mod options;
pub mod product;
mod read;
mod sequential;
mod shift;
mod sniff;
mod sum;
mod text;
mod unit;
mod warnings;
pub mod write;

pub use choose::{Chosen, Prefer};
pub use clean::clean_text;
pub use document::{Block, Document, OrdinateSummary};
pub use error::{ErrorKind, FormatError};
pub use jcamp::kind::Kind;
pub use jcamp::table::{Abscissae, Table};
pub use lees_core::BlockSummary;
pub use limits::Limits;
pub use measurement::ASSUMED_FIELD;
pub use options::{Column, ReadOptions, TextOptions};
pub use read::read;
pub use shift::ShiftSpan;
pub use sum::exact_sum;
pub use unit::XUnit;
