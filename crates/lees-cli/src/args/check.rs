//! `lees check`.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::{ColourChoice, ProductArgs, RackArgs, ReadingArgs};

/// Flags that decide what is found and how it is judged; shared by every command that checks.
#[derive(Debug, Clone, Default, Args)]
#[command(next_help_heading = "Judging")]
pub(crate) struct JudgeArgs {
    /// Limits by name: ich-q3c (option 1 concentrations)
    #[arg(long, value_name = "NAME")]
    pub(crate) limits: Option<String>,
    /// Limit of one volatile, such as "2-propanol=0.5 wt%"; may be repeated
    #[arg(long, value_name = "NAME=VALUE")]
    pub(crate) limit: Vec<String>,
    /// Limit of the sum of all volatiles, such as "0.5 wt%"
    #[arg(long, value_name = "VALUE", allow_hyphen_values = true)]
    pub(crate) total_limit: Option<String>,
    /// More rows for the shift table (CSV, columns as in reference-tables)
    #[arg(long, value_name = "FILE.csv")]
    pub(crate) table: Vec<PathBuf>,
    /// Spectrum of the NMR solvent alone, to subtract the water and whatever else comes with it
    #[arg(long, value_name = "FILE")]
    pub(crate) blank: Option<PathBuf>,
    /// Longitudinal relaxation time in seconds of a compound or of the product, such as "dichloromethane=7.5" or "product=1.2"
    #[arg(long, value_name = "NAME=SECONDS")]
    pub(crate) t1: Vec<String>,
    /// Settings file (TOML); flags win over it
    #[arg(long, value_name = "FILE.toml")]
    pub(crate) settings: Option<PathBuf>,
    /// Change one setting, such as process.baseline.period_hz=900
    #[arg(long, value_name = "NAME=VALUE")]
    pub(crate) set: Vec<String>,
}

/// Flags for absolute purity and yield.
#[derive(Debug, Clone, Default, Args)]
#[command(next_help_heading = "Weighed amounts")]
pub(crate) struct WeighedArgs {
    /// Internal standard by name, or a CSV file with its row
    #[arg(long, value_name = "NAME", requires_all = ["standard_mass", "sample_mass"])]
    pub(crate) standard: Option<String>,
    /// Mass of the standard in the tube, mg
    #[arg(long, value_name = "MG", requires = "standard", allow_negative_numbers = true, value_parser = super::number)]
    pub(crate) standard_mass: Option<f64>,
    /// Mass of the sample in the tube, mg
    #[arg(long, value_name = "MG", requires = "standard", allow_negative_numbers = true, value_parser = super::number)]
    pub(crate) sample_mass: Option<f64>,
    /// Purity of the standard, per cent by mass
    #[arg(
        long,
        value_name = "PERCENT",
        requires = "standard",
        default_value_t = 100.0,
        value_parser = super::number,
        allow_negative_numbers = true
    )]
    pub(crate) standard_purity: f64,
    /// Weighed mass of the whole batch in g, to correct the yield
    #[arg(long, value_name = "G", allow_negative_numbers = true, value_parser = super::number)]
    pub(crate) mass: Option<f64>,
    /// Theoretical mass of the batch in g
    #[arg(long, value_name = "G", requires = "mass", allow_negative_numbers = true, value_parser = super::number)]
    pub(crate) theoretical: Option<f64>,
}

/// How results are printed.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, ValueEnum)]
pub(crate) enum CheckFormat {
    /// A table to read
    #[default]
    Text,
    /// One JSON object a line
    Json,
}

/// Identify and quantify volatiles against the product and give the verdict.
#[derive(Debug, Clone, Args)]
#[command(after_help = "\
Examples:
  lees check batch.jdx --product dye.toml
  lees check batch.jdx --formula C14H14F3NO2 --quantify 6.4-6.7=2H --total-limit '0.5 wt%'
  lees check fractions/ --product dye.toml --format json > fractions.jsonl
  lees check fractions/ --product dye.toml --sheet fractions.csv -o fractions.parquet
  lees check batch.jdx --product dye.toml --limits ich-q3c --explain
  lees check batch.jdx --product dye.toml --gate && echo 'may leave the oven'")]
pub(crate) struct CheckArgs {
    /// Spectrum files, folders of them, archives, patterns also within archives (rack.zip/f*/*.jdx), or - for standard
    /// input
    #[arg(required_unless_present = "sheet", value_name = "FILE")]
    pub(crate) files: Vec<PathBuf>,
    /// The product.
    #[command(flatten)]
    pub(crate) product: ProductArgs,
    /// Judging.
    #[command(flatten)]
    pub(crate) judge: JudgeArgs,
    /// Weighed amounts.
    #[command(flatten)]
    pub(crate) weighed: WeighedArgs,
    /// Reading.
    #[command(flatten)]
    pub(crate) reading: ReadingArgs,
    /// Output and many spectra.
    #[command(flatten)]
    pub(crate) rack: RackArgs,
    /// Print where each uncertainty comes from and what would shrink it
    #[arg(long)]
    pub(crate) explain: bool,
    /// Write every intermediate (baseline, residual, lines, windows) as CSV and a figure into this folder
    #[arg(long, value_name = "DIR")]
    pub(crate) trace: Option<PathBuf>,
    /// Exit with 10 if something needs drying, 11 if something is undecided
    #[arg(long)]
    pub(crate) gate: bool,
    /// When to use colour
    #[arg(long, value_enum, default_value_t, value_name = "WHEN")]
    pub(crate) color: ColourChoice,
}
