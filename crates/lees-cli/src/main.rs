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

use std::process::ExitCode;

use clap::Parser;

fn main() -> ExitCode {
    let cli = args::Cli::parse();
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
