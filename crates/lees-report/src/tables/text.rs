//! Comma- and tab-separated values.
//!
//! UTF-8, header first, lines ended by LF, quotes where needed (RFC 4180 but for the line end).

use std::borrow::Cow;
use std::io::Write;

use super::safe::disarm;
use super::{Column, Row, TableError, Value};

pub(super) struct Text<W: Write> {
    writer: csv::Writer<W>,
}

impl<W: Write> Text<W> {
    pub(super) fn new(out: W, delimiter: u8, columns: &[Column]) -> Result<Self, TableError> {
        let mut writer = csv::WriterBuilder::new().delimiter(delimiter).from_writer(out);
        writer.write_record(columns.iter().map(|c| c.name))?;
        Ok(Self { writer })
    }

    pub(super) fn push(&mut self, row: &Row) -> Result<(), TableError> {
        self.writer.write_record(row.iter().map(|value| cell(value).into_owned()))?;
        Ok(())
    }

    pub(super) fn finish(self) -> Result<W, TableError> {
        self.writer.into_inner().map_err(|fault| TableError::Write(fault.into_error()))
    }
}

/// The shortest text that reads back as the same value.
fn cell(value: &Value) -> Cow<'_, str> {
    match value {
        Value::Unknown(()) => Cow::Borrowed(""),
        Value::Count(n) => Cow::Owned(n.to_string()),
        Value::Number(x) => Cow::Owned(format!("{x:?}")),
        Value::Text(words) => disarm(words),
    }
}
