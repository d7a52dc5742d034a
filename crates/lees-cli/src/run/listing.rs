//! `lees listing`.

use lees_report::listing::{ListingStyle, Order, line};

use super::checks::checks;
use crate::args::ListingArgs;
use crate::failure::{Ending, Failure};
use crate::out;
use crate::request::job::job;

/// Prints the journal line of every spectrum in the file.
pub(crate) fn listing(args: &ListingArgs) -> Result<Ending, Failure> {
    let job = job(&args.sample)?;
    let checks = checks(&job, std::slice::from_ref(&args.file))?;
    let style = ListingStyle {
        shift_decimals: args.decimals,
        descending: !args.ascending,
        ranges_descend: !args.ascending,
        residuals: args.solvents,
        order: if args.protons_first { Order::ProtonsFirst } else { Order::PatternFirst },
        total_protons: args.protons,
        ..ListingStyle::default()
    };
    for check in &checks.done {
        out::print(&(line(check, &style).map_err(Failure::usage)? + "\n"))?;
    }
    Ok(checks.ending)
}
