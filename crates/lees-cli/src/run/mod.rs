//! One file a command.

mod checks;
mod convert;
mod draw;
mod drying;
mod inspect;
mod listing;
mod lookup;
mod manual;
mod report;
mod simulate;

use crate::args::Command;
use crate::failure::{Ending, Failure};

/// Runs a command.
pub(crate) fn run(command: &Command) -> Result<Ending, Failure> {
    match command {
        Command::Check(args) => crate::batch::check(args),
        Command::Inspect(args) => inspect::inspect(args),
        Command::Listing(args) => listing::listing(args),
        Command::Draw(args) => draw::draw(args),
        Command::Report(args) => report::report(args),
        Command::Drying(args) => drying::drying(args),
        Command::Lookup(args) => lookup::lookup(args),
        Command::Simulate(args) => simulate::simulate(args),
        Command::Convert(args) => convert::convert(args),
        Command::Manual(args) => manual::manual(args),
        Command::Watch(args) => crate::watch::watch(args),
    }
}
