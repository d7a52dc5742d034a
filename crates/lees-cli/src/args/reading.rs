//! How input is read and output coloured, for every command that reads spectra.

use clap::{Args, ValueEnum};

/// Flags for reading.
#[derive(Debug, Clone, Default, Args)]
#[command(next_help_heading = "Reading")]
pub(crate) struct ReadingArgs {
    /// NMR solvent, when the file does not say or says it wrongly: CDCl3, DMSO-d6 ...
    #[arg(long, value_name = "NAME")]
    pub(crate) solvent: Option<String>,
    /// Spectrometer frequency in MHz, for plain text that does not give it
    #[arg(long, value_name = "MHZ", allow_negative_numbers = true, value_parser = super::number)]
    pub(crate) field_mhz: Option<f64>,
    /// Unit of the x column of plain text: ppm, hz or seconds
    #[arg(long, value_name = "UNIT")]
    pub(crate) x_unit: Option<String>,
    /// First and last x of a one-column text file, such as 12,-2
    #[arg(long, value_name = "FIRST,LAST", allow_hyphen_values = true)]
    pub(crate) x_range: Option<String>,
    /// What each column of plain text holds: x, real, imaginary, skip
    #[arg(long, value_name = "NAME,...", value_delimiter = ',')]
    pub(crate) layout: Vec<String>,
    /// Character between columns of plain text: comma, semicolon, tab or blank
    #[arg(long, value_name = "NAME")]
    pub(crate) delimiter: Option<String>,
    /// Take a comma in plain text as the decimal point
    #[arg(long)]
    pub(crate) decimal_comma: bool,
    /// Resample an uneven x column onto an even one instead of refusing it
    #[arg(long)]
    pub(crate) resample: bool,
    /// Refuse files that deviate from the format instead of warning
    #[arg(long)]
    pub(crate) strict: bool,
    /// Raise the guards against hostile files (sizes, nesting, repeats) by this factor
    #[arg(long, value_name = "FACTOR", default_value_t = 1)]
    pub(crate) raise_limits: u32,
}

/// When to colour the terminal.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, ValueEnum)]
pub(crate) enum ColourChoice {
    /// On a terminal, unless NO_COLOR is set
    #[default]
    Auto,
    /// Always
    Always,
    /// Never
    Never,
}
