//! A CSV text as typed cells that know where they stand.

use csv::{ReaderBuilder, StringRecord, Trim};

use crate::MatchError;

/// A parsed table: header and rows.
pub(super) struct Sheet {
    file: String,
    header: StringRecord,
    header_line: u64,
    rows: Vec<(u64, StringRecord)>,
}

/// A column looked up once; cells of a missing column read as empty.
#[derive(Clone)]
pub(super) struct Column {
    name: String,
    at: Option<usize>,
}

/// One row, for reading cells.
pub(super) struct Row<'a> {
    file: &'a str,
    line: u64,
    record: &'a StringRecord,
}

/// A struct of columns, each looked up once by its header.
macro_rules! columns {
    ($($field:ident = $name:literal),* $(,)?) => {
        struct Columns { $($field: $crate::table::sheet::Column),* }
        impl Columns {
            fn of(sheet: &Sheet) -> Self {
                Self { $($field: sheet.column($name)),* }
            }
        }
    };
}
pub(super) use columns;

impl Sheet {
    /// Reads a CSV text with a header line; lines that start with `#` are comments.
    pub(super) fn read(text: &str, file: &str) -> Result<Self, MatchError> {
        let bare = text.strip_prefix('\u{feff}').unwrap_or(text);
        let mut reader =
            ReaderBuilder::new().trim(Trim::All).comment(Some(b'#')).from_reader(bare.as_bytes());
        let broken = |error: csv::Error| MatchError::Row {
            file: file.to_owned(),
            line: error.position().map_or(1, csv::Position::line),
            column: String::new(),
            read: error.to_string(),
            allowed: "comma-separated rows, each with as many cells as the header".to_owned(),
        };
        let header = reader.headers().map_err(broken)?.clone();
        let header_line = line_of(bare, &header);
        let rows = reader
            .records()
            .map(|record| record.map(|record| (line_of(bare, &record), record)))
            .collect::<Result<Vec<_>, _>>()
            .map_err(broken)?;
        Ok(Self { file: file.to_owned(), header, header_line, rows })
    }

    pub(super) fn header(&self) -> impl Iterator<Item = &str> {
        self.header.iter()
    }

    pub(super) fn column(&self, name: &str) -> Column {
        Column { name: name.to_owned(), at: self.header.iter().position(|cell| cell == name) }
    }

    pub(super) fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        self.rows.iter().map(|(line, record)| Row { file: &self.file, line: *line, record })
    }

    /// A fault in the header line.
    pub(super) fn header_fault(&self, column: &str, allowed: impl Into<String>) -> MatchError {
        MatchError::Row {
            file: self.file.clone(),
            line: self.header_line,
            column: column.to_owned(),
            read: self.header.iter().collect::<Vec<_>>().join(","),
            allowed: allowed.into(),
        }
    }
}

impl Row<'_> {
    /// The cell's text, empty when the column is missing.
    pub(super) fn text(&self, column: &Column) -> &str {
        column.at.and_then(|at| self.record.get(at)).unwrap_or("")
    }

    /// The cell's text when it has any.
    pub(super) fn some(&self, column: &Column) -> Option<String> {
        let text = self.text(column);
        (!text.is_empty()).then(|| text.to_owned())
    }

    pub(super) fn required(&self, column: &Column) -> Result<&str, MatchError> {
        match self.text(column) {
            "" => Err(self.fault(column, "a text, not an empty cell")),
            text => Ok(text),
        }
    }

    /// Parts of a cell between semicolons.
    pub(super) fn list(&self, column: &Column) -> Vec<String> {
        self.text(column)
            .split(';')
            .map(str::trim)
            .filter(|part| !part.is_empty())
            .map(str::to_owned)
            .collect()
    }

    pub(super) fn number(&self, column: &Column) -> Result<Option<f64>, MatchError> {
        match self.text(column) {
            "" => Ok(None),
            text => finite(text)
                .map(Some)
                .ok_or_else(|| self.fault(column, "a number with a decimal point, or an empty cell")),
        }
    }

    /// A number, or `low..high`.
    pub(super) fn range(&self, column: &Column) -> Result<Option<(f64, f64)>, MatchError> {
        match self.text(column) {
            "" => Ok(None),
            text => parse_range(text)
                .map(Some)
                .ok_or_else(|| self.fault(column, "a number, `low..high`, or an empty cell")),
        }
    }

    pub(super) fn numbers(&self, column: &Column) -> Result<Vec<f64>, MatchError> {
        self.list(column)
            .iter()
            .map(|part| finite(part).ok_or_else(|| self.fault(column, "numbers separated by `;`")))
            .collect()
    }

    /// A yes/no cell, `default` when empty.
    pub(super) fn flag(&self, column: &Column, default: bool) -> Result<bool, MatchError> {
        match self.text(column).to_ascii_lowercase().as_str() {
            "" => Ok(default),
            "true" | "yes" => Ok(true),
            "false" | "no" => Ok(false),
            _ => Err(self.fault(column, "true, false, yes, no")),
        }
    }

    pub(super) fn parsed<T: std::str::FromStr>(
        &self,
        column: &Column,
        allowed: &str,
    ) -> Result<Option<T>, MatchError> {
        match self.text(column) {
            "" => Ok(None),
            text => text.parse().map(Some).map_err(|_| self.fault(column, allowed)),
        }
    }

    pub(super) fn fault(&self, column: &Column, allowed: impl Into<String>) -> MatchError {
        MatchError::Row {
            file: self.file.to_owned(),
            line: self.line,
            column: column.name.clone(),
            read: self.text(column).to_owned(),
            allowed: allowed.into(),
        }
    }
}

/// The line a record stands in: the reader's position lies before the comments and empty lines it passes over.
fn line_of(text: &str, record: &StringRecord) -> u64 {
    let Some(position) = record.position() else { return 1 };
    let from = usize::try_from(position.byte()).ok().and_then(|byte| text.get(byte..)).unwrap_or("");
    let passed = from.lines().take_while(|line| line.is_empty() || line.starts_with('#')).count();
    position.line() + passed as u64
}

fn finite(text: &str) -> Option<f64> {
    text.parse::<f64>().ok().filter(|value| value.is_finite())
}

/// Reads `1.23` or `low..high`.
pub(super) fn parse_range(text: &str) -> Option<(f64, f64)> {
    match text.split_once("..") {
        None => finite(text).map(|value| (value, value)),
        Some((low, high)) => {
            let (low, high) = (finite(low.trim())?, finite(high.trim())?);
            (low <= high).then_some((low, high))
        }
    }
}
