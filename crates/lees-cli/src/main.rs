//! The `lees` program: arguments become a checked request, one run returns the exit code.

mod args;
mod batch;
mod failure;
mod file_form;
mod out;
mod picture;
mod place;
mod request;
mod run;
mod screen;
mod trace;
mod watch;

use std::path::Path;
use std::process::ExitCode;

use clap::Parser;
use clap::error::ErrorKind;

fn main() -> ExitCode {
    let cli = args::Cli::try_parse().unwrap_or_else(|error| refuse(&error));
    match run::run(&cli.command) {
        Ok(ending) => ending.code(),
        Err(failure) => {
            if !failure.is_closed() {
                out::say(&failure);
            }
            failure.code()
        }
    }
}

/// Ends with what clap says, and with the command that is most often meant where a file stands in its place.
fn refuse(error: &clap::Error) -> ! {
    let first = std::env::args_os().nth(1);
    let file = first.filter(|word| error.kind() == ErrorKind::InvalidSubcommand && Path::new(word).exists());
    if let Some(file) = file {
        out::say(format!("to check a file, write: lees check {}", Path::new(&file).display()));
    }
    error.exit()
}
