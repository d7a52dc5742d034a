//! Why a table could not be written.

use std::io;

use thiserror::Error;

/// A table could not be written.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum TableError {
    /// The disk, the pipe or the like.
    #[error("cannot write the table: {0}")]
    Write(#[from] io::Error),
    /// A row with another number of cells than there are columns.
    #[error("a row of {cells} cells for {columns} columns")]
    Width {
        /// Cells of the row.
        cells: usize,
        /// Columns of the table.
        columns: usize,
    },
    /// A cell of another kind than its column.
    #[error("column `{column}` holds {allowed:?}, not {found:?}")]
    Kind {
        /// The column.
        column: &'static str,
        /// What it holds.
        allowed: super::Kind,
        /// The cell.
        found: super::Value,
    },
    /// The format was left out when the program was built.
    #[error("this build has no {0}; build with the feature `columnar`")]
    NotBuilt(&'static str),
    /// The columnar writer refused.
    #[error("cannot write the table: {0}")]
    Columnar(String),
}

impl From<csv::Error> for TableError {
    fn from(fault: csv::Error) -> Self {
        // Its own conversion loses the kind of the fault: whether it was a closed pipe.
        match fault.into_kind() {
            csv::ErrorKind::Io(fault) => Self::Write(fault),
            other => Self::Write(io::Error::other(format!("{other:?}"))),
        }
    }
}
