//! Tables for spreadsheets and data frames: one row a finding or one row a spectrum.
//!
//! Columns are named once, with unit and meaning ([`Column`]); every format is written from the same rows, so a
//! CSV cell and a Parquet value never differ. What is not known is an empty cell or a null, never 0.
//!
//! ```
//! use lees_core::rack::Tags;
//! use lees_report::tables::{Rows, TableFormat, TableWriter, failed};
//!
//! let mut table = TableWriter::new(Rows::Spectra, TableFormat::Csv, Vec::new())?;
//! table.push(&failed("broken.jdx", None, "line 3: no data", &Tags::default()))?;
//! let text = String::from_utf8(table.finish()?).expect("text");
//! assert!(text.starts_with("path,sha256,title,"));
//! assert!(text.contains("line 3: no data"));
//! # Ok::<(), lees_report::tables::TableError>(())
//! ```

mod column;
#[cfg(feature = "columnar")]
mod columnar;
mod error;
mod finding;
mod lines;
mod safe;
mod spectrum;
mod tags;
mod text;
mod value;
mod writer;

pub use column::{Column, Kind};
pub use error::TableError;
pub use finding::findings;
pub use spectrum::{failed, spectrum};
pub use value::{Row, Value};
pub use writer::{Rows, TableFormat, TableWriter};
