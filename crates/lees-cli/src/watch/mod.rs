//! `lees watch`: each new file checked once, when it is whole.

mod arrivals;
mod events;
mod ledger;
mod outputs;
mod whole;

use std::borrow::Cow;
use std::path::{Path, PathBuf};
use std::time::Duration;

use lees::batch::{Batch, Done, Source, Stop};

use lees_core::rack::Tags;
use lees_report::tables::Rows;

use crate::args::WatchArgs;
use crate::batch::{Outcome, Plan, Want, stop_on_signal, worker};
use crate::failure::{Ending, Failure};
use crate::out;

use arrivals::{Arrival, Arrivals};
use events::Events;
use ledger::Ledger;
use outputs::Outputs;

/// How often waiting files are looked at.
const LOOK: Duration = Duration::from_millis(200);
/// Seconds between full listings of the folder, for events the system lost (network folders send none at all).
const RELIST: Duration = Duration::from_secs(60);

/// Watches until stopped; with `--once` until everything there is checked.
pub(crate) fn watch(args: &WatchArgs) -> Result<Ending, Failure> {
    let folder = &args.folder;
    if !folder.is_dir() {
        return Err(Failure::usage(format!("{}: not a folder", folder.display())));
    }
    let settle = Duration::try_from_secs_f64(args.settle).map_err(|_| {
        Failure::usage(format!(
            "--settle: read `{}`; allowed is a number of seconds, not below 0",
            args.settle
        ))
    })?;
    let plan = Plan::of(&args.sample)?;
    let stop = stop_on_signal()?;
    let events = Events::new(folder)?;
    let place = args.output.clone().unwrap_or_else(|| folder.clone());
    std::fs::create_dir_all(&place)
        .map_err(|fault| Failure::usage(format!("{}: {fault}", place.display())))?;
    let mut watcher = Watcher {
        ledger: Ledger::open(&place)?,
        outputs: Outputs::new(folder, args.output.as_deref(), &place),
        arrivals: Arrivals::new(folder, args.output.as_deref(), settle),
        plan,
        stop,
        page: args.report,
        failed: false,
    };
    watcher.outputs.rewrite_table(&mut watcher.ledger)?;
    out::print(&format!("watching {}; {} files known\n", folder.display(), watcher.ledger.len()))?;
    watcher.run(&events, args.once)
}

struct Watcher {
    plan: Plan,
    stop: Stop,
    ledger: Ledger,
    arrivals: Arrivals,
    outputs: Outputs,
    /// Whether each file gets its page.
    page: bool,
    /// Whether something could not be checked.
    failed: bool,
}

impl Watcher {
    fn run(&mut self, events: &Events, once: bool) -> Result<Ending, Failure> {
        self.arrivals.list();
        let mut listed = std::time::Instant::now();
        while !self.stop.is_raised() {
            let news = events.wait(LOOK);
            if news.lost || listed.elapsed() >= RELIST {
                self.arrivals.list();
                listed = std::time::Instant::now();
            }
            news.paths.into_iter().for_each(|path| self.arrivals.saw(path));
            let ready = self
                .arrivals
                .ready(&mut |path| out::say(format!("gone before it was whole: {}", path.display())));
            self.deal(ready)?;
            if once && self.arrivals.is_empty() {
                break;
            }
        }
        out::print("stopped\n")?;
        Ok(if once && self.failed { Ending::SomeFailed } else { Ending::Well })
    }

    /// Checks files that are whole, on all cores; those that are known already are passed over.
    fn deal(&mut self, ready: Vec<Arrival>) -> Result<(), Failure> {
        let new = |arrival: &Arrival| {
            let name = self.outputs.name(&arrival.path);
            !self.ledger.knows(&name, &arrival.sha256)
        };
        let fresh: Vec<_> =
            ready.into_iter().filter(new).map(|arrival| Ok(Source::File(arrival.path))).collect();
        let want = want(self.page);
        let (plan, ledger, outputs, arrivals) =
            (&self.plan, &mut self.ledger, &self.outputs, &mut self.arrivals);
        let failed = &mut self.failed;
        let batch = Batch { stop: self.stop.clone(), ..Batch::default() };
        let ran = batch.run(
            &fresh,
            |_| String::new(),
            || worker(plan, want),
            None,
            |done| {
                *failed |= has_failed(&done);
                record(&done, ledger, outputs, arrivals)
            },
        );
        // What a stop leaves undone is found again at the next start.
        ran.map(|_| ()).map_err(|fault| Failure::input(fault.to_string()))
    }
}

/// What is kept of each file.
fn want(page: bool) -> Want {
    Want { text: true, object: true, rows: Some(Rows::Spectra), page, unpack: true, ..Want::default() }
}

fn has_failed(done: &Done<Vec<Outcome>>) -> bool {
    let failed = |outcome: &Outcome| matches!(outcome, Outcome::Failed { .. });
    done.result.as_ref().map_or(true, |outcomes| outcomes.iter().any(failed))
}

/// Writes the reports, then the ledger, then the row: a crash in between repeats a report but never a row.
fn record(
    done: &Done<Vec<Outcome>>,
    ledger: &mut Ledger,
    outputs: &Outputs,
    arrivals: &mut Arrivals,
) -> Result<(), Failure> {
    let path = PathBuf::from(&done.name);
    let Some(sha256) = &done.sha256 else {
        return unreadable(done, &path, arrivals);
    };
    let outcomes = &match &done.result {
        Ok(outcomes) => Cow::Borrowed(outcomes.as_slice()),
        // The program itself failed on it: remembered like any other failure, not tried again as it is.
        Err(why) => Cow::Owned(vec![Outcome::failed(&done.name, sha256, why, &Tags::default(), want(false))]),
    };
    outputs.reports(&path, outcomes)?;
    ledger.enter(&outputs.name(&path), sha256, outcomes)?;
    outputs.rows(outcomes)?;
    outcomes.iter().try_for_each(|outcome| outputs::log(&path, outcome))
}

/// A file that is there but cannot be read is tried again at the next listing; one that is gone is gone.
fn unreadable(done: &Done<Vec<Outcome>>, path: &Path, arrivals: &mut Arrivals) -> Result<(), Failure> {
    arrivals.forget(path);
    if path.exists() {
        out::say(done.result.as_ref().err().cloned().unwrap_or_default());
    } else {
        out::say(format!("gone before it was read: {}", path.display()));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_the_program_fails_on_has_its_row_and_is_not_tried_again() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.jdx");
        std::fs::write(&path, "##END=\n").unwrap();
        let sha256 = lees::sha256(b"##END=\n");
        let mut ledger = Ledger::open(folder.path()).unwrap();
        let outputs = Outputs::new(folder.path(), None, folder.path());
        outputs.rewrite_table(&mut ledger).unwrap();
        let mut arrivals = Arrivals::new(folder.path(), None, Duration::ZERO);
        arrivals.list();
        assert_eq!(arrivals.ready(&mut |_| {}).len(), 1);

        let (name, why) = (path.display().to_string(), "a fault of the program: by zero".to_owned());
        let done = Done { index: 0, name, sha256: Some(sha256.clone()), result: Err(why), resumed: false };
        assert!(has_failed(&done));
        record(&done, &mut ledger, &outputs, &mut arrivals).unwrap();

        assert!(ledger.knows("a.jdx", &sha256));
        arrivals.list();
        assert!(arrivals.is_empty(), "the same content is not looked at again");
        let table = std::fs::read_to_string(folder.path().join("watch.lees.csv")).unwrap();
        let rows: Vec<&str> = table.lines().skip(1).collect();
        assert_eq!(rows.len(), 1);
        assert!(rows[0].contains(&sha256) && rows[0].contains("a fault of the program: by zero"), "{table}");
        outputs.rewrite_table(&mut Ledger::open(folder.path()).unwrap()).unwrap();
        assert_eq!(std::fs::read_to_string(folder.path().join("watch.lees.csv")).unwrap(), table);
        let report = std::fs::read_to_string(folder.path().join("a.jdx.lees.txt")).unwrap();
        assert_eq!(report, "FAILED  a fault of the program: by zero\n");
    }

    #[test]
    fn a_file_that_cannot_be_read_is_tried_again() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.jdx");
        std::fs::write(&path, "##END=\n").unwrap();
        let mut ledger = Ledger::open(folder.path()).unwrap();
        let outputs = Outputs::new(folder.path(), None, folder.path());
        let mut arrivals = Arrivals::new(folder.path(), None, Duration::ZERO);
        arrivals.list();
        assert_eq!(arrivals.ready(&mut |_| {}).len(), 1);
        let (name, why) = (path.display().to_string(), "a.jdx: no right to read".to_owned());
        let done = Done { index: 0, name, sha256: None, result: Err(why), resumed: false };
        record(&done, &mut ledger, &outputs, &mut arrivals).unwrap();
        assert_eq!(ledger.len(), 0);
        arrivals.list();
        assert!(!arrivals.is_empty());
    }
}
