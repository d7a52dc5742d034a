//! Many spectra at once: tables, sheets, resuming.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use lees_report::tables::Rows;

/// How results are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum RackFormat {
    /// Text to read
    Text,
    /// One JSON object a line
    Json,
    /// Comma-separated values, safe to open in a spreadsheet
    Csv,
    /// Tab-separated values, safe to open in a spreadsheet
    Tsv,
    /// Apache Parquet, with units in the column metadata
    Parquet,
    /// Apache Arrow, with units in the column metadata
    Arrow,
}

/// What a row stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum RowsChoice {
    /// One compound in one spectrum
    Findings,
    /// One spectrum
    Spectra,
}

impl From<RowsChoice> for Rows {
    fn from(choice: RowsChoice) -> Self {
        match choice {
            RowsChoice::Findings => Self::Findings,
            RowsChoice::Spectra => Self::Spectra,
        }
    }
}

/// Flags for many spectra.
#[derive(Debug, Clone, Default, Args)]
#[command(next_help_heading = "Output and many spectra")]
pub(crate) struct RackArgs {
    /// How results are written; without it text, or what the ending of -o says
    #[arg(long, value_enum, value_name = "FORM")]
    pub(crate) format: Option<RackFormat>,
    /// Write into this file instead of standard output; the summary is printed
    #[arg(short, long, value_name = "OUT")]
    pub(crate) output: Option<PathBuf>,
    /// What a row of a table stands for; with --format json it makes rows of the objects
    #[arg(long, value_enum, value_name = "WHAT")]
    pub(crate) rows: Option<RowsChoice>,
    /// CSV with columns file, product, drying time, batch, fraction, mass (all but file optional; paths relative to it)
    #[arg(long, value_name = "FILE.csv")]
    pub(crate) sheet: Option<PathBuf>,
    /// Spectra checked at the same time; without it as many as the machine has cores
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    jobs: Option<u16>,
    /// Take over what an interrupted run with the same -o has done already
    #[arg(long)]
    pub(crate) resume: bool,
}

impl RackArgs {
    /// Spectra checked at the same time.
    pub(crate) fn jobs(&self) -> Option<usize> {
        self.jobs.map(usize::from)
    }
}
