//! One writer for every format.

use std::io::Write;

use super::lines::Lines;
use super::text::Text;
use super::{Column, Kind, Row, TableError, Value, finding, spectrum};

/// What a row stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rows {
    /// One compound in one spectrum.
    Findings,
    /// One spectrum.
    Spectra,
}

impl Rows {
    /// The columns, in order.
    ///
    /// ```
    /// let columns = lees_report::tables::Rows::Spectra.columns();
    /// assert_eq!(columns[0].name, "path");
    /// ```
    #[must_use]
    pub fn columns(self) -> Vec<Column> {
        match self {
            Self::Findings => finding::columns(),
            Self::Spectra => spectrum::columns(),
        }
    }

    /// Name and version of the layout, kept in the metadata of Parquet and Arrow files.
    #[cfg(feature = "columnar")]
    #[must_use]
    pub(crate) const fn schema(self) -> &'static str {
        match self {
            Self::Findings => "lees/findings/1",
            Self::Spectra => "lees/spectra/1",
        }
    }
}

/// How a table is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TableFormat {
    /// Comma-separated values.
    Csv,
    /// Tab-separated values.
    Tsv,
    /// One JSON object a row.
    JsonLines,
    /// Apache Parquet, units in the column metadata.
    Parquet,
    /// Apache Arrow file format (IPC), units in the column metadata.
    Arrow,
}

enum Inner<W: Write + Send> {
    Text(Box<Text<W>>),
    Lines(Lines<W>),
    #[cfg(feature = "columnar")]
    Columnar(Box<super::columnar::Columnar<W>>),
}

/// Writes rows one by one.
pub struct TableWriter<W: Write + Send> {
    columns: Vec<Column>,
    inner: Inner<W>,
}

impl<W: Write + Send> TableWriter<W> {
    /// A table of `rows` in `format`, written to `out`; the header is written at once.
    ///
    /// # Errors
    /// When `out` cannot be written, or the format is not part of this build.
    ///
    /// ```
    /// use lees_report::tables::{Rows, TableFormat, TableWriter};
    /// let table = TableWriter::new(Rows::Findings, TableFormat::Tsv, Vec::new())?;
    /// let text = String::from_utf8(table.finish()?).expect("text");
    /// assert_eq!(text.lines().count(), 1, "the header alone");
    /// # Ok::<(), lees_report::tables::TableError>(())
    /// ```
    pub fn new(rows: Rows, format: TableFormat, out: W) -> Result<Self, TableError> {
        let columns = rows.columns();
        let inner = match format {
            TableFormat::Csv => Inner::Text(Box::new(Text::new(out, b',', &columns)?)),
            TableFormat::Tsv => Inner::Text(Box::new(Text::new(out, b'\t', &columns)?)),
            TableFormat::JsonLines => Inner::Lines(Lines::new(out, columns.clone())),
            TableFormat::Parquet | TableFormat::Arrow => columnar(rows, format, out)?,
        };
        Ok(Self { columns, inner })
    }

    /// Writes a row of [`super::findings`], [`super::spectrum`] or [`super::failed`].
    ///
    /// # Errors
    /// When the row does not fit the columns, or writing fails.
    ///
    /// ```
    /// use lees_core::rack::Tags;
    /// use lees_report::tables::{Rows, TableFormat, TableWriter, failed};
    /// let row = failed("broken.jdx", None, "line 3: no data", &Tags::default());
    /// let mut table = TableWriter::new(Rows::Spectra, TableFormat::Csv, Vec::new())?;
    /// table.push(&row)?;
    /// let mut other = TableWriter::new(Rows::Findings, TableFormat::Csv, Vec::new())?;
    /// assert!(other.push(&row).is_err(), "a row of another table");
    /// # Ok::<(), lees_report::tables::TableError>(())
    /// ```
    pub fn push(&mut self, row: &Row) -> Result<(), TableError> {
        fits(&self.columns, row)?;
        match &mut self.inner {
            Inner::Text(text) => text.push(row),
            Inner::Lines(lines) => lines.push(row),
            #[cfg(feature = "columnar")]
            Inner::Columnar(table) => table.push(row),
        }
    }

    /// Writes what is still held back, and the foot of the file where there is one.
    ///
    /// # Errors
    /// When writing fails.
    ///
    /// ```
    /// use lees_core::rack::Tags;
    /// use lees_report::tables::{Rows, TableFormat, TableWriter, failed};
    /// let mut table = TableWriter::new(Rows::Spectra, TableFormat::JsonLines, Vec::new())?;
    /// table.push(&failed("broken.jdx", None, "line 3: no data", &Tags::default()))?;
    /// let text = String::from_utf8(table.finish()?).expect("text");
    /// assert!(text.starts_with('{') && text.ends_with("}\n"));
    /// # Ok::<(), lees_report::tables::TableError>(())
    /// ```
    pub fn finish(self) -> Result<W, TableError> {
        match self.inner {
            Inner::Text(text) => text.finish(),
            Inner::Lines(lines) => lines.finish(),
            #[cfg(feature = "columnar")]
            Inner::Columnar(table) => table.finish(),
        }
    }
}

#[cfg(feature = "columnar")]
fn columnar<W: Write + Send>(rows: Rows, format: TableFormat, out: W) -> Result<Inner<W>, TableError> {
    Ok(Inner::Columnar(Box::new(super::columnar::Columnar::new(rows, format, out)?)))
}

#[cfg(not(feature = "columnar"))]
fn columnar<W: Write + Send>(_: Rows, format: TableFormat, _: W) -> Result<Inner<W>, TableError> {
    Err(TableError::NotBuilt(if format == TableFormat::Parquet { "Parquet" } else { "Arrow" }))
}

fn fits(columns: &[Column], row: &Row) -> Result<(), TableError> {
    if columns.len() != row.len() {
        return Err(TableError::Width { cells: row.len(), columns: columns.len() });
    }
    for (column, value) in columns.iter().zip(row) {
        let fits = match value {
            Value::Unknown(()) => true,
            Value::Count(_) => column.kind == Kind::Count,
            Value::Number(_) => column.kind == Kind::Number,
            Value::Text(_) => column.kind == Kind::Text,
        };
        if !fits {
            return Err(TableError::Kind { column: column.name, allowed: column.kind, found: value.clone() });
        }
    }
    Ok(())
}
