//! One JSON object a row.

use std::io::Write;

use serde::Serializer;
use serde::ser::SerializeMap;

use super::{Column, Row, TableError};

pub(super) struct Lines<W: Write> {
    out: W,
    columns: Vec<Column>,
}

impl<W: Write> Lines<W> {
    pub(super) const fn new(out: W, columns: Vec<Column>) -> Self {
        Self { out, columns }
    }

    pub(super) fn push(&mut self, row: &Row) -> Result<(), TableError> {
        let mut object = serde_json::Serializer::new(Vec::new());
        let mut map = object.serialize_map(Some(row.len())).map_err(std::io::Error::from)?;
        for (column, value) in self.columns.iter().zip(row) {
            map.serialize_entry(column.name, value).map_err(std::io::Error::from)?;
        }
        map.end().map_err(std::io::Error::from)?;
        let mut line = object.into_inner();
        line.push(b'\n');
        self.out.write_all(&line)?;
        Ok(())
    }

    pub(super) fn finish(mut self) -> Result<W, TableError> {
        self.out.flush()?;
        Ok(self.out)
    }
}
