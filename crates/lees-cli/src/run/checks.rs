//! Whole results, for the commands that draw or write pages from them.

use std::path::PathBuf;

use lees::batch::{Reader, list};
use lees::{Checker, Job};
use lees_core::check::Check;

use crate::failure::{Ending, Failure};
use crate::out;

/// Results in input order; what failed was said on standard error.
pub(crate) struct Checks {
    /// The results.
    pub(crate) done: Vec<Check>,
    /// Whether every input gave one.
    pub(crate) ending: Ending,
}

impl Checks {
    /// References, as the renderings take them.
    pub(crate) fn all(&self) -> Vec<&Check> {
        self.done.iter().collect()
    }
}

/// Checks every spectrum behind the paths.
pub(crate) fn checks(job: &Job, paths: &[PathBuf]) -> Result<Checks, Failure> {
    let mut checker = Checker::new(job).map_err(Failure::usage)?;
    let mut reader = Reader::default();
    let mut found = Checks { done: Vec::new(), ending: Ending::Well };
    for source in list(paths) {
        let results = source.and_then(|source| {
            let bytes = reader.read(&source)?;
            checker.check(&bytes, &source.name()).map_err(|fault| fault.to_string())
        });
        match results {
            Ok(results) => {
                for result in results {
                    found.take(result.map_err(|fault| fault.to_string()));
                }
            }
            Err(fault) => found.take(Err(fault)),
        }
    }
    if found.done.is_empty() {
        return Err(Failure::input("nothing could be checked, so nothing was written"));
    }
    Ok(found)
}

impl Checks {
    fn take(&mut self, result: Result<Check, String>) {
        match result {
            Ok(check) => self.done.push(check),
            Err(fault) => {
                out::say(fault);
                self.ending = Ending::SomeFailed;
            }
        }
    }
}
