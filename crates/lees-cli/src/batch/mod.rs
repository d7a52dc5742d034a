//! `lees check`: any number of inputs, on all cores, in order.

mod form;
mod interrupt;
mod outcome;
mod plan;
mod progress;
mod sheet;
mod sink;
mod story;
mod target;
mod worker;

use std::path::{Path, PathBuf};

use lees::batch::{Batch, Journal, RunError, list};

use crate::args::CheckArgs;
use crate::failure::{Ending, Failure};
use crate::out;
use crate::place::{place, spare};

pub(crate) use interrupt::stop_on_signal;
pub(crate) use outcome::{Outcome, Want, failed_row};
pub(crate) use plan::Plan;
pub(crate) use sheet::drying_times;
pub(crate) use worker::worker;

use form::Form;
use progress::Progress;
use sink::Sink;

/// Checks every input and hands over verdicts, rows or objects.
pub(crate) fn check(args: &CheckArgs) -> Result<Ending, Failure> {
    let form = Form::new(args)?;
    let plan = Plan::new(args)?;
    let sources = list(&inputs(args, &plan));
    let output = args.rack.output.as_deref().map(place).transpose()?;
    if let Some(output) = &output {
        spare(output, sources.iter().flatten())?;
    }
    let stop = stop_on_signal()?;
    let mut journal = journal(args)?;
    if let Some(kept) = journal.as_ref().filter(|j| !j.is_empty()) {
        out::say(format!("{} results taken over from {}", kept.len(), resume_path(args).display()));
    }
    let want = form.want(args, sources.len());
    let mut progress = Progress::new(sources.len());
    let mut sink = Sink::new(args, output.as_deref(), form, &plan, sources.len())?;
    let batch = Batch { stop: stop.clone(), ..args.rack.jobs().map_or_else(Batch::default, jobs) };
    let ran = batch.run(
        &sources,
        |source| plan.key(source, want),
        || worker(&plan, want),
        journal.as_mut(),
        |done| {
            progress.step();
            sink.take(&done, &progress)
        },
    );
    progress.finish();
    let count = ran.map_err(|fault| match fault {
        RunError::Sink(failure) => failure,
        RunError::Journal(fault) => Failure::input(fault),
    })?;
    let ending = sink.finish()?;
    if count < sources.len() {
        stopped(args, count, sources.len());
        return Ok(Ending::Stopped);
    }
    if let Some(journal) = journal {
        journal.remove().map_err(Failure::input)?;
    }
    Ok(ending)
}

fn jobs(jobs: usize) -> Batch {
    Batch { jobs, ..Batch::default() }
}

/// The paths typed; when there are none, the files of the sheet in its order.
fn inputs(args: &CheckArgs, plan: &Plan) -> Vec<PathBuf> {
    if args.files.is_empty() { plan.sheet_files() } else { args.files.clone() }
}

fn stopped(args: &CheckArgs, count: usize, all: usize) {
    let how = match &args.rack.output {
        Some(path) => format!("; {} has the rows so far, --resume does the rest", path.display()),
        None => String::new(),
    };
    out::say(format!("stopped after {count} of {all}{how}"));
}

/// The resume file of a run that writes a file.
fn journal(args: &CheckArgs) -> Result<Option<Journal>, Failure> {
    if args.rack.output.is_none() {
        return Ok(None);
    }
    Ok(Some(Journal::open(&resume_path(args), args.rack.resume)?))
}

fn resume_path(args: &CheckArgs) -> PathBuf {
    let output = args.rack.output.as_deref().unwrap_or(Path::new("lees"));
    beside(output, ".resume")
}

/// `rows.csv` as `rows.csv.resume`.
fn beside(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    PathBuf::from(name)
}
