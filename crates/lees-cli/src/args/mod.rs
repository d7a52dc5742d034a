//! What can be typed. Checked and turned into requests by [`crate::request`].

mod check;
mod draw;
mod drying;
mod manual;
mod number;
mod product;
mod rack;
mod reading;
mod sample;
mod small;
mod watch;

use clap::builder::styling::{Style, Styles};
use clap::{Parser, Subcommand};

pub(crate) use check::{CheckArgs, CheckFormat, JudgeArgs, WeighedArgs};
pub(crate) use draw::{DrawArgs, ListingArgs, ReportArgs};
pub(crate) use drying::DryingArgs;
pub(crate) use manual::ManualArgs;
pub(crate) use number::decimal_comma;
use number::{number, positive};
pub(crate) use product::ProductArgs;
pub(crate) use rack::{RackArgs, RackFormat};
pub(crate) use reading::{ColourChoice, ReadingArgs};
pub(crate) use sample::SampleArgs;
pub(crate) use small::{ConvertArgs, Encoding, InspectArgs, InspectFormat, LookupArgs, SimulateArgs};
pub(crate) use watch::WatchArgs;

const PLAIN: Styles = Styles::styled()
    .header(Style::new().bold())
    .usage(Style::new().bold())
    .literal(Style::new().bold())
    .placeholder(Style::new());

/// Tell from one proton NMR spectrum what volatile is left in a product, how much, and whether to dry again.
#[derive(Debug, Parser)]
#[command(name = "lees", version, styles = PLAIN, max_term_width = 100, propagate_version = true)]
#[command(after_help = "\
First steps:
  lees check batch.jdx --product dye.toml     the verdict for one batch
  lees inspect batch.jdx                      what is in the file
  lees lookup 5.30                            what could stand at 5.30 ppm in CDCl3
  lees help check                             every option of a command, with examples

Exit codes: 0 everything read and checked; 1 at least one input failed; 2 a wrong command line,
settings or product file; with --gate also 10 (something needs drying) and 11 (something is
undecided); 130 interrupted.")]
pub(crate) struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub(crate) command: Command,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Identify and quantify volatiles against the product and give the verdict
    Check(Box<CheckArgs>),
    /// Show what is in a file: kind, points, axis, field, solvent, ranges
    Inspect(InspectArgs),
    /// Write the journal line of the product's 1H spectrum
    Listing(ListingArgs),
    /// Draw the annotated spectrum (SVG, PNG or PDF)
    Draw(DrawArgs),
    /// Write one self-contained page: table, spectra to zoom, verdicts, cautions
    Report(ReportArgs),
    /// Follow the content over a drying series and say how much longer it needs
    Drying(DryingArgs),
    /// Ask what could stand at a shift, or where a solvent shows
    Lookup(LookupArgs),
    /// Make a spectrum or FID with known content from a recipe
    Simulate(SimulateArgs),
    /// Turn a FID into a spectrum, or one encoding into another
    Convert(ConvertArgs),
    /// Check each new file in a folder as it arrives
    Watch(Box<WatchArgs>),
    /// Write the manual pages and the shell completions
    Manual(ManualArgs),
}
