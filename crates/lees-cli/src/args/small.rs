//! `inspect`, `lookup`, `simulate`, `convert`.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::{ColourChoice, ReadingArgs};

/// How `inspect` prints.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, ValueEnum)]
pub(crate) enum InspectFormat {
    /// Lines to read
    #[default]
    Text,
    /// One JSON object a line
    Json,
}

/// Show what is in a file; no chemistry.
#[derive(Debug, Clone, Args)]
#[command(after_help = "\
Examples:
  lees inspect batch.jdx
  lees inspect archive/ --format json")]
pub(crate) struct InspectArgs {
    /// Files, folders of them, or - for standard input
    #[arg(required = true, value_name = "FILE")]
    pub(crate) files: Vec<PathBuf>,
    /// Reading.
    #[command(flatten)]
    pub(crate) reading: ReadingArgs,
    /// How it is printed
    #[arg(long, value_enum, default_value_t, value_name = "FORM")]
    pub(crate) format: InspectFormat,
}

/// Ask what could stand at a shift, or where a solvent shows.
#[derive(Debug, Clone, Args)]
#[command(after_help = "\
Examples:
  lees lookup 5.30
  lees lookup 'ethyl acetate'
  lees lookup 2.50 --solvent DMSO-d6 --within 0.05")]
pub(crate) struct LookupArgs {
    /// A shift in ppm, or a name, alias or CAS number
    #[arg(required = true, value_name = "SHIFT|NAME", allow_hyphen_values = true)]
    pub(crate) what: String,
    /// NMR solvent
    #[arg(long, value_name = "NAME", default_value = "CDCl3")]
    pub(crate) solvent: String,
    /// How far from the shift to look, ppm
    #[arg(long, value_name = "PPM", default_value_t = 0.05, value_parser = super::number, allow_negative_numbers = true)]
    pub(crate) within: f64,
    /// More rows for the shift table (CSV)
    #[arg(long, value_name = "FILE.csv")]
    pub(crate) table: Vec<PathBuf>,
    /// When to use colour
    #[arg(long, value_enum, default_value_t, value_name = "WHEN")]
    pub(crate) color: ColourChoice,
}

/// Make a spectrum or FID with known content from a recipe.
#[derive(Debug, Clone, Args)]
#[command(after_help = "\
Examples:
  lees simulate recipe.toml -o batch.jdx
  lees simulate recipe.toml -o batch.jdx --truth batch.json

The guide's chapter simulate.md explains recipes; demo-spectra/recipes holds some.")]
pub(crate) struct SimulateArgs {
    /// The recipe (TOML)
    #[arg(value_name = "RECIPE")]
    pub(crate) recipe: PathBuf,
    /// Where to write it: .jdx, .dx or .txt
    #[arg(short, long, value_name = "OUT")]
    pub(crate) output: PathBuf,
    /// Also write what was planted, as JSON
    #[arg(long, value_name = "FILE.json")]
    pub(crate) truth: Option<PathBuf>,
    /// Replace the recipe's random seed
    #[arg(long, value_name = "N")]
    pub(crate) seed: Option<u64>,
}

/// Encodings of a JCAMP-DX table.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, ValueEnum)]
pub(crate) enum Encoding {
    /// Plain numbers
    Affn,
    /// Plain numbers in columns of equal width
    Fix,
    /// Signs as separators
    Pac,
    /// Squeezed digits
    Sqz,
    /// Differences
    Dif,
    /// Differences with repeat counts
    #[default]
    Difdup,
}

/// Turn a FID into a spectrum, or one encoding into another.
#[derive(Debug, Clone, Args)]
#[command(after_help = "\
Examples:
  lees convert fid.dx -o spectrum.jdx
  lees convert spectrum.jdx -o spectrum.txt
  lees convert fid.dx -o fid-plain.dx --keep-fid --encoding fix")]
pub(crate) struct ConvertArgs {
    /// The input file, or - for standard input
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,
    /// Where to write: .jdx or .dx for JCAMP-DX, .txt, .csv or .tsv for columns
    #[arg(short, long, value_name = "OUT")]
    pub(crate) output: PathBuf,
    /// Encoding of a JCAMP-DX table
    #[arg(long, value_enum, default_value_t, value_name = "FORM")]
    pub(crate) encoding: Encoding,
    /// Write a FID as a FID instead of transforming it
    #[arg(long)]
    pub(crate) keep_fid: bool,
    /// Which spectrum of a file that holds several, counted from 1
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(crate) block: usize,
    /// Reading.
    #[command(flatten)]
    pub(crate) reading: ReadingArgs,
}
