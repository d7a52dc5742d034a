//! `draw`, `listing`, `report`.

use std::path::PathBuf;

use clap::Args;

use super::{SampleArgs, WeighedArgs};

/// Draw the annotated spectrum.
#[derive(Debug, Clone, Args)]
#[command(after_help = "\
Examples:
  lees draw batch.jdx --product dye.toml -o batch.svg
  lees draw batch.jdx --product dye.toml -o batch.png --dpi 600 --columns 1
  lees draw before.jdx after.jdx --product dye.toml --stack -o drying.pdf
  lees draw batch.jdx --product dye.toml --range 4.5-0.5 --inset 4.2-3.9 -o septet.svg")]
pub(crate) struct DrawArgs {
    /// Spectrum files
    #[arg(required = true, value_name = "FILE")]
    pub(crate) files: Vec<PathBuf>,
    /// Where to write: .svg, .png or .pdf
    #[arg(short, long, value_name = "OUT")]
    pub(crate) output: PathBuf,
    /// Shift range to show, such as 9-0.5
    #[arg(long, value_name = "HIGH-LOW", allow_hyphen_values = true)]
    pub(crate) range: Option<String>,
    /// A stretch to enlarge; may be repeated. Without it the program chooses
    #[arg(long, value_name = "HIGH-LOW", allow_hyphen_values = true)]
    pub(crate) inset: Vec<String>,
    /// No insets at all
    #[arg(long, conflicts_with = "inset")]
    pub(crate) no_inset: bool,
    /// Draw integral traces
    #[arg(long)]
    pub(crate) integrals: bool,
    /// Put several spectra above one another
    #[arg(long, conflicts_with = "overlay")]
    pub(crate) stack: bool,
    /// Put several spectra on top of one another
    #[arg(long)]
    pub(crate) overlay: bool,
    /// Journal width: 1 or 2 columns
    #[arg(long, value_name = "N", default_value_t = 2, value_parser = clap::value_parser!(u8).range(1..=2))]
    pub(crate) columns: u8,
    /// Resolution of a PNG
    #[arg(long, value_name = "DPI", default_value_t = 300, value_parser = clap::value_parser!(u32).range(36..=2400))]
    pub(crate) dpi: u32,
    /// The sample.
    #[command(flatten)]
    pub(crate) sample: SampleArgs,
}

/// Write the journal line.
#[derive(Debug, Clone, Args)]
#[command(after_help = "\
Examples:
  lees listing batch.jdx --product dye.toml
  lees listing batch.jdx --product dye.toml --decimals 3 --solvents")]
pub(crate) struct ListingArgs {
    /// Spectrum file, or - for standard input
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,
    /// Decimals of a shift, 1 to 4
    #[arg(long, value_name = "N", default_value_t = 2, value_parser = clap::value_parser!(u8).range(1..=4))]
    pub(crate) decimals: u8,
    /// List from low to high shift
    #[arg(long)]
    pub(crate) ascending: bool,
    /// Put the protons before the pattern, as in (1H, d, J = 9.0 Hz)
    #[arg(long)]
    pub(crate) protons_first: bool,
    /// All protons of the compound, to scale by when no product is described
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = super::positive)]
    pub(crate) protons: Option<f64>,
    /// Append a sentence on residual solvents
    #[arg(long)]
    pub(crate) solvents: bool,
    /// The sample.
    #[command(flatten)]
    pub(crate) sample: SampleArgs,
}

/// Write one self-contained page.
#[derive(Debug, Clone, Args)]
#[command(after_help = "\
Examples:
  lees report batch.jdx --product dye.toml -o batch.html
  lees report fractions/ --product dye.toml -o fractions.html
  lees report batch.jdx --product dye.toml -o batch.pdf
  lees report batch.jdx --product dye.toml --mass 1.84 --theoretical 2.10 -o batch.pdf")]
pub(crate) struct ReportArgs {
    /// Spectrum files or folders of them
    #[arg(required = true, value_name = "FILE")]
    pub(crate) files: Vec<PathBuf>,
    /// Where to write: .html or .pdf
    #[arg(short, long, value_name = "OUT")]
    pub(crate) output: PathBuf,
    /// The sample.
    #[command(flatten)]
    pub(crate) sample: SampleArgs,
    /// What was weighed.
    #[command(flatten)]
    pub(crate) weighed: WeighedArgs,
}
