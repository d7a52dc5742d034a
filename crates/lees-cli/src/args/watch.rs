//! `lees watch`.

use std::path::PathBuf;

use clap::Args;

use super::SampleArgs;

/// Check each new file in a folder as it arrives.
#[derive(Debug, Clone, Args)]
#[command(after_help = "\
Each file gets FILE.lees.txt and FILE.lees.json beside it (or in the folder of -o), with --report \
also FILE.lees.html; watch.lees.csv gets a row a spectrum, standard output a line. A zip is one file \
whose reports have every spectrum in it.

What is done is remembered in .lees-ledger by name and content, so that a restart neither repeats nor \
loses a file: a copy under another name gets reports of its own, a file written again with the same \
content is not checked again, and with other settings only what is new is checked (delete the ledger \
to check all again).

Ends on Ctrl-C and SIGTERM; with --once the exit code is 1 when a file checked in this run failed. packaging/ has a unit \
file for a service.

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
    #[arg(long, value_name = "SECONDS", default_value_t = 2.0, allow_negative_numbers = true)]
    pub(crate) settle: f64,
    /// Check what is there, then end
    #[arg(long)]
    pub(crate) once: bool,
    /// The sample.
    #[command(flatten)]
    pub(crate) sample: SampleArgs,
}
