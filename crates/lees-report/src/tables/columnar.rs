//! Parquet and Arrow: the same rows, turned into columns a batch at a time.

use std::collections::HashMap;
use std::io::Write;
use std::sync::Arc;

use arrow_array::{ArrayRef, Float64Array, Int64Array, RecordBatch, StringArray};
use arrow_ipc::writer::FileWriter;
use arrow_schema::{DataType, Field, Schema, SchemaRef};
use parquet::arrow::ArrowWriter;
use parquet::basic::Compression;
use parquet::file::metadata::KeyValue;
use parquet::file::properties::WriterProperties;

use super::{Column, Kind, Row, Rows, TableError, TableFormat, Value};

/// Rows held back before they are written: some MB at most, and the same cut for the same rows, so that a table
/// written twice is the same byte for byte.
const BATCH: usize = 4096;

pub(super) struct Columnar<W: Write + Send> {
    columns: Vec<Column>,
    schema: SchemaRef,
    waiting: Vec<Row>,
    sink: Sink<W>,
}

enum Sink<W: Write + Send> {
    Parquet(ArrowWriter<W>),
    Arrow(FileWriter<W>),
}

impl<W: Write + Send> Columnar<W> {
    pub(super) fn new(rows: Rows, format: TableFormat, out: W) -> Result<Self, TableError> {
        let columns = rows.columns();
        let schema = schema(rows, &columns);
        let sink = match format {
            TableFormat::Arrow => Sink::Arrow(FileWriter::try_new(out, &schema).map_err(fault)?),
            _ => {
                let properties = properties(rows, &columns);
                Sink::Parquet(
                    ArrowWriter::try_new(out, Arc::clone(&schema), Some(properties)).map_err(fault)?,
                )
            }
        };
        Ok(Self { columns, schema, waiting: Vec::new(), sink })
    }

    pub(super) fn push(&mut self, row: &Row) -> Result<(), TableError> {
        self.waiting.push(row.clone());
        if self.waiting.len() >= BATCH { self.flush() } else { Ok(()) }
    }

    fn flush(&mut self) -> Result<(), TableError> {
        if self.waiting.is_empty() {
            return Ok(());
        }
        let arrays =
            self.columns.iter().enumerate().map(|(i, column)| array(column, i, &self.waiting)).collect();
        let batch = RecordBatch::try_new(Arc::clone(&self.schema), arrays).map_err(fault)?;
        self.waiting.clear();
        match &mut self.sink {
            Sink::Parquet(writer) => writer.write(&batch).map_err(fault),
            Sink::Arrow(writer) => writer.write(&batch).map_err(fault),
        }
    }

    pub(super) fn finish(mut self) -> Result<W, TableError> {
        self.flush()?;
        match self.sink {
            Sink::Parquet(writer) => writer.into_inner().map_err(fault),
            Sink::Arrow(writer) => writer.into_inner().map_err(fault),
        }
    }
}

fn fault(fault: impl std::fmt::Display) -> TableError {
    TableError::Columnar(fault.to_string())
}

fn schema(rows: Rows, columns: &[Column]) -> SchemaRef {
    let fields: Vec<Field> = columns.iter().map(field).collect();
    let about = HashMap::from([("schema".to_owned(), rows.schema().to_owned())]);
    Arc::new(Schema::new_with_metadata(fields, about))
}

fn field(column: &Column) -> Field {
    let kind = match column.kind {
        Kind::Text => DataType::Utf8,
        Kind::Number => DataType::Float64,
        Kind::Count => DataType::Int64,
    };
    let metadata =
        [("unit", column.unit), ("about", column.about)].map(|(key, text)| (key.to_owned(), text.to_owned()));
    Field::new(column.name, kind, true).with_metadata(HashMap::from(metadata))
}

/// Snappy, and the units once more in the file's key-value metadata for readers that know no Arrow.
fn properties(rows: Rows, columns: &[Column]) -> WriterProperties {
    let units: serde_json::Map<_, _> = columns
        .iter()
        .filter(|c| !c.unit.is_empty())
        .map(|c| (c.name.to_owned(), serde_json::Value::from(c.unit)))
        .collect();
    let units = KeyValue::new("units".to_owned(), serde_json::Value::Object(units).to_string());
    let schema = KeyValue::new("schema".to_owned(), rows.schema().to_owned());
    WriterProperties::builder()
        .set_compression(Compression::SNAPPY)
        .set_key_value_metadata(Some(vec![schema, units]))
        .build()
}

fn array(column: &Column, index: usize, rows: &[Row]) -> ArrayRef {
    let cells = rows.iter().map(|row| row.get(index));
    match column.kind {
        Kind::Text => Arc::new(StringArray::from_iter(cells.map(|cell| match cell {
            Some(Value::Text(words)) => Some(words.as_str()),
            _ => None,
        }))),
        Kind::Number => Arc::new(Float64Array::from_iter(cells.map(|cell| match cell {
            Some(Value::Number(x)) => Some(*x),
            _ => None,
        }))),
        Kind::Count => Arc::new(Int64Array::from_iter(cells.map(|cell| match cell {
            Some(Value::Count(n)) => Some(*n),
            _ => None,
        }))),
    }
}
