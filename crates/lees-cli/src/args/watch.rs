//! `lees watch`.

use std::path::PathBuf;

use clap::Args;

use super::SampleArgs;

/// Check each new file in a folder as it arrives.
#[derive(Debug, Clone, Args)]
#[command(after_help = "\
Each file gets FILE.lees.txt and FILE.lees.json beside it (or in the folder of -o), with --report also FILE.lees.html,
watch.lees.csv a row, and standard output a line. What is done is remembered by content in .lees-ledger, so that a restart neither repeats nor loses a
file. Ends on Ctrl-C and SIGTERM. packaging/ has a unit file for a service.

Examples:
  lees watch /data/export --product dye.toml
  lees watch /data/export -o /data/checked --product dye.toml --limits ich-q3c
  lees watch /data/export -o /data/checked --product dye.toml --report
  lees watch /data/export --product dye.toml --once")]
pub(crate) struct WatchArgs {
    /// The folder, with all folders in it
    #[arg(value_name = "FOLDER")]
    pub(crate) folder: PathBuf,
    /// Write reports, rows and the ledger here instead of beside the files
    #[arg(short, long, value_name = "DIR")]
    pub(crate) output: Option<PathBuf>,
    /// Write the page of `lees report` for each file too, as FILE.lees.html
    #[arg(long)]
    pub(crate) report: bool,
    /// Seconds a file must have been left alone before it is read
    #[arg(long, value_name = "SECONDS", default_value_t = 2.0)]
    pub(crate) settle: f64,
    /// Check what is there, then end
    #[arg(long)]
    pub(crate) once: bool,
    /// The sample.
    #[command(flatten)]
    pub(crate) sample: SampleArgs,
}
