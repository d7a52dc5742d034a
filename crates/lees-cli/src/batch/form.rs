//! What is written: text, objects or rows.

use std::path::Path;

use lees_report::tables::{Rows, TableFormat};

use super::Want;
use crate::args::{CheckArgs, RackFormat};
use crate::failure::Failure;
use crate::screen;

/// The form of the output, decided.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Form {
    /// Text to read.
    Text,
    /// The whole result, one JSON object a line.
    Objects,
    /// A table.
    Table(Rows, TableFormat),
}

impl Form {
    pub(super) fn new(args: &CheckArgs) -> Result<Self, Failure> {
        let rack = &args.rack;
        let format = match (rack.format, &rack.output) {
            (Some(format), _) => format,
            (None, Some(path)) => by_ending(path)?,
            (None, None) => RackFormat::Text,
        };
        if rack.resume && rack.output.is_none() {
            return Err(Failure::usage("--resume goes with -o FILE: what is done is kept beside that file"));
        }
        let rows = rack.rows.map_or(Rows::Findings, Into::into);
        let table = |format| Ok(Self::Table(rows, format));
        match format {
            RackFormat::Text if rack.output.is_some() => {
                Err(Failure::usage("-o writes tables: give it --format json, csv, tsv, parquet or arrow"))
            }
            RackFormat::Text => Ok(Self::Text),
            RackFormat::Json if rack.rows.is_none() => Ok(Self::Objects),
            RackFormat::Json => table(TableFormat::JsonLines),
            RackFormat::Csv => table(TableFormat::Csv),
            RackFormat::Tsv => table(TableFormat::Tsv),
            RackFormat::Parquet | RackFormat::Arrow if rack.output.is_none() => {
                Err(Failure::usage("Parquet and Arrow are no text: name a file with -o"))
            }
            RackFormat::Parquet => table(TableFormat::Parquet),
            RackFormat::Arrow => table(TableFormat::Arrow),
        }
    }

    /// What the workers have to prepare.
    pub(super) fn want(self, args: &CheckArgs, inputs: usize) -> Want {
        match self {
            Self::Text => Want {
                text: inputs == 1 || args.explain,
                explain: args.explain,
                style: screen::style(args.color),
                ..Want::default()
            },
            Self::Objects => Want { object: true, ..Want::default() },
            Self::Table(rows, _) => Want { rows: Some(rows), ..Want::default() },
        }
    }
}

fn by_ending(path: &Path) -> Result<RackFormat, Failure> {
    let ending = path.extension().map(|e| e.to_string_lossy().to_ascii_lowercase()).unwrap_or_default();
    match ending.as_str() {
        "csv" => Ok(RackFormat::Csv),
        "tsv" => Ok(RackFormat::Tsv),
        "jsonl" | "ndjson" | "json" => Ok(RackFormat::Json),
        "parquet" => Ok(RackFormat::Parquet),
        "arrow" => Ok(RackFormat::Arrow),
        "html" | "pdf" | "svg" | "png" => Err(Failure::usage(format!(
            "{}: `check` writes tables (.csv, .tsv, .jsonl, .parquet, .arrow); `lees report` writes a page (.html, .pdf), `lees draw` \
             a figure (.svg, .png, .pdf)",
            path.display()
        ))),
        _ => Err(Failure::usage(format!(
            "{}: cannot tell the format from the ending; allowed are .csv, .tsv, .jsonl, .parquet, .arrow, or --format",
            path.display()
        ))),
    }
}
