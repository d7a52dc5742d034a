//! `lees manual`.

use std::path::PathBuf;

use clap::Args;

/// Write the manual pages and the shell completions.
#[derive(Debug, Clone, Args)]
#[command(after_help = "\
Examples:
  lees manual -o share        share/man1/lees.1 and one page a command, share/completions/ for four shells")]
pub(crate) struct ManualArgs {
    /// Folder to write into
    #[arg(short, long, value_name = "DIR")]
    pub(crate) output: PathBuf,
}
