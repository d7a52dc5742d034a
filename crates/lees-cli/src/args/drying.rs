//! `lees drying`.

use std::path::PathBuf;

use clap::Args;

use super::{CheckFormat, ColourChoice, SampleArgs};

/// Follow the content over a drying series.
#[derive(Debug, Clone, Args)]
#[command(after_help = "\
Times come from --times, from a CSV (columns file and drying time), or from file names such as dried-6h.jdx.

Examples:
  lees drying dried-0h.jdx dried-2h.jdx dried-6h.jdx --product dye.toml
  lees drying a.jdx b.jdx c.jdx --times 0,2,6 --product dye.toml -o drying.svg
  lees drying --sheet series.csv --product dye.toml")]
pub(crate) struct DryingArgs {
    /// Spectra of one batch, each after another drying time
    #[arg(value_name = "FILE", required_unless_present = "sheet")]
    pub(crate) files: Vec<PathBuf>,
    /// Drying times in hours, in the order of the files
    #[arg(long, value_name = "HOURS,...", value_delimiter = ',', allow_hyphen_values = true, value_parser = super::number)]
    pub(crate) times: Vec<f64>,
    /// CSV with columns file and drying time, in hours unless the title has a unit: drying time (min); files relative to it
    #[arg(long, value_name = "FILE.csv", conflicts_with = "times")]
    pub(crate) sheet: Option<PathBuf>,
    /// Follow one volatile instead of the sum
    #[arg(long, value_name = "NAME")]
    pub(crate) of: Option<String>,
    /// Draw content against time: .svg, .png or .pdf
    #[arg(short, long, value_name = "OUT")]
    pub(crate) output: Option<PathBuf>,
    /// How it is printed
    #[arg(long, value_enum, default_value_t, value_name = "FORM")]
    pub(crate) format: CheckFormat,
    /// The sample.
    #[command(flatten)]
    pub(crate) sample: SampleArgs,
    /// When to use colour
    #[arg(long, value_enum, default_value_t, value_name = "WHEN")]
    pub(crate) color: ColourChoice,
}
