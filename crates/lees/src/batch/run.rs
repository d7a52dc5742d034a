//! The engine: read, look up or work out, hand over in order.

use std::ops::ControlFlow;
use std::sync::{Mutex, PoisonError};

use serde::Serialize;
use serde::de::DeserializeOwned;
use thiserror::Error;

use super::{Journal, JournalError, Reader, Source, Stop, parallel};
use crate::sha256;

/// How a batch is run.
#[derive(Debug, Clone)]
pub struct Batch {
    /// Threads that check at the same time.
    pub jobs: usize,
    /// Raised to end early.
    pub stop: Stop,
}

impl Default for Batch {
    /// As many threads as the machine has cores, never stopped.
    fn default() -> Self {
        Self { jobs: std::thread::available_parallelism().map_or(1, usize::from), stop: Stop::default() }
    }
}

/// An input that was dealt with.
#[derive(Debug, Clone, PartialEq)]
pub struct Done<T> {
    /// Its place in the list.
    pub index: usize,
    /// Its name; empty when it could not even be listed.
    pub name: String,
    /// SHA-256 of its bytes; `None` when it could not be read.
    pub sha256: Option<String>,
    /// What the worker made of it, or why it made nothing: the bytes could not be had, or (with the SHA-256 there) the
    /// program itself failed on them.
    pub result: Result<T, String>,
    /// Whether the result came from the resume file.
    pub resumed: bool,
}

/// A run broke off.
#[derive(Debug, Error)]
pub enum RunError<E> {
    /// Whoever takes the results cannot take more.
    #[error("{0}")]
    Sink(E),
    /// The resume file cannot be written.
    #[error(transparent)]
    Journal(#[from] JournalError),
}

impl Batch {
    /// Deals with every source and hands the results to `sink` in the order of the sources; says how many were
    /// handed over, which is fewer than listed when the run was stopped.
    ///
    /// `settings` gives for each source a text that changes whenever its result could (hash of settings and
    /// product). `make` makes a worker for each thread; a worker gets the source, its bytes and their SHA-256.
    /// With a journal, results kept there are not worked out again, and new ones are kept before they are handed
    /// over. Unreadable inputs, and those the worker panicked on, are not kept: they are tried again.
    ///
    /// # Errors
    /// When `sink` gives an error or the journal cannot be written.
    ///
    /// ```
    /// use lees::batch::{Batch, Source};
    /// let sources = [Err("rack.zip: no archive".to_owned()), Ok(Source::File("no/such/file.jdx".into()))];
    /// let mut faults = Vec::new();
    /// let work = |_: &Source, bytes: &[u8], _: &str| bytes.len();
    /// let count = Batch::default().run(&sources, |_| String::new(), || work, None, |done| {
    ///     faults.push(done.result.unwrap_err());
    ///     Ok::<(), std::convert::Infallible>(())
    /// });
    /// assert_eq!(count.expect("the sink takes everything"), 2, "bad inputs are handed over like good ones");
    /// assert!(faults[0].contains("no archive") && faults[1].contains("cannot read"));
    /// ```
    pub fn run<T, W, E>(
        &self,
        sources: &[Result<Source, String>],
        settings: impl Fn(&Source) -> String + Sync,
        make: impl Fn() -> W + Sync,
        journal: Option<&mut Journal>,
        mut sink: impl FnMut(Done<T>) -> Result<(), E>,
    ) -> Result<usize, RunError<E>>
    where
        T: Send + Serialize + DeserializeOwned,
        W: FnMut(&Source, &[u8], &str) -> T,
    {
        let journal = journal.map(Mutex::new);
        let (mut count, mut fault) = (0, None);
        let items = sources.iter().enumerate().take_while(|_| !self.stop.is_raised());
        let worker = || {
            let (mut reader, mut worker) = (Reader::default(), None);
            let (journal, settings, make) = (journal.as_ref(), &settings, &make);
            move |(index, source): (usize, &Result<Source, String>)| {
                let mut work = |source: &Source, bytes: &[u8], hash: &str| {
                    parallel::guarded(&mut worker, make, |work| work(source, bytes, hash))
                };
                deal(index, source, &mut reader, &mut work, settings, journal)
            }
        };
        parallel::ordered(self.jobs, items, worker, |dealt| {
            let done = dealt.unwrap_or_else(|fault| lost(sources, count, fault));
            match hand_over(done, &settings, sources, journal.as_ref(), &mut sink) {
                Ok(()) => {
                    count += 1;
                    ControlFlow::Continue(())
                }
                Err(broken) => {
                    fault = Some(broken);
                    ControlFlow::Break(())
                }
            }
        });
        fault.map_or(Ok(count), Err)
    }
}

fn deal<T: DeserializeOwned>(
    index: usize,
    source: &Result<Source, String>,
    reader: &mut Reader,
    work: &mut impl FnMut(&Source, &[u8], &str) -> Result<T, String>,
    settings: &impl Fn(&Source) -> String,
    journal: Option<&Mutex<&mut Journal>>,
) -> Done<T> {
    let nothing =
        |name: String, why: String| Done { index, name, sha256: None, result: Err(why), resumed: false };
    let source = match source {
        Ok(source) => source,
        Err(why) => return nothing(String::new(), why.clone()),
    };
    let name = source.name();
    let bytes = match reader.read(source) {
        Ok(bytes) => bytes,
        Err(why) => return nothing(name, why),
    };
    let hash = sha256(&bytes);
    let kept = journal.and_then(|journal| {
        let mut journal = journal.lock().unwrap_or_else(PoisonError::into_inner);
        journal.find(&name, &hash, &settings(source))
    });
    let resumed = kept.is_some();
    let result = match kept {
        Some(kept) => Ok(kept),
        None => work(source, &bytes, &hash).map_err(|fault| format!("{name}: {fault}")),
    };
    Done { index, name, sha256: Some(hash), result, resumed }
}

/// The input whose reading panicked.
fn lost<T>(sources: &[Result<Source, String>], index: usize, fault: String) -> Done<T> {
    let name = sources.get(index).and_then(|s| s.as_ref().ok()).map(Source::name).unwrap_or_default();
    Done { index, result: Err(format!("{name}: {fault}")), name, sha256: None, resumed: false }
}

fn hand_over<T: Serialize, E>(
    done: Done<T>,
    settings: &impl Fn(&Source) -> String,
    sources: &[Result<Source, String>],
    journal: Option<&Mutex<&mut Journal>>,
    sink: &mut impl FnMut(Done<T>) -> Result<(), E>,
) -> Result<(), RunError<E>> {
    if let (Some(journal), Some(hash), Ok(result), false) =
        (journal, &done.sha256, &done.result, done.resumed)
        && let Some(Ok(source)) = sources.get(done.index)
    {
        let mut journal = journal.lock().unwrap_or_else(PoisonError::into_inner);
        journal.keep(&done.name, hash, &settings(source), result)?;
    }
    sink(done).map_err(RunError::Sink)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::convert::Infallible;
    use std::sync::atomic::{AtomicUsize, Ordering};

    fn written(folder: &std::path::Path, files: &[(&str, &str)]) -> Vec<Result<Source, String>> {
        files
            .iter()
            .map(|(name, text)| {
                let path = folder.join(name);
                std::fs::write(&path, text).unwrap();
                Ok(Source::File(path))
            })
            .collect()
    }

    #[test]
    fn a_worker_that_panics_costs_its_input_alone_and_is_made_anew() {
        let folder = tempfile::tempdir().unwrap();
        let sources = written(folder.path(), &[("a", "1"), ("b", "boom"), ("c", "3")]);
        let (made, mut done) = (AtomicUsize::new(0), Vec::new());
        let make = || {
            made.fetch_add(1, Ordering::SeqCst);
            |_: &Source, bytes: &[u8], _: &str| {
                if bytes == b"boom" { panic!("four letters") } else { bytes.len() }
            }
        };
        let take = |one| {
            done.push(one);
            Ok::<(), Infallible>(())
        };
        let mut journal = Journal::open(&folder.path().join("kept"), true).unwrap();
        let batch = Batch { jobs: 1, ..Batch::default() };
        assert_eq!(batch.run(&sources, |_| String::new(), make, Some(&mut journal), take).unwrap(), 3);
        let results: Vec<_> = done.iter().map(|d: &Done<usize>| d.result.clone()).collect();
        let why = format!("{}: a fault of the program: four letters", folder.path().join("b").display());
        assert_eq!(results, [Ok(1), Err(why), Ok(1)]);
        let hash = sha256(b"boom");
        assert_eq!(done[1].sha256.as_ref(), Some(&hash), "it was read");
        assert!(!journal.has(&done[1].name, &hash, ""), "tried again by the next run");
        assert!(journal.has(&done[2].name, &sha256(b"3"), ""));
        assert_eq!(made.load(Ordering::SeqCst), 2);
    }

    #[test]
    fn an_input_that_is_not_there_has_no_hash() {
        let mut done = Vec::new();
        let sources = [Err("no such folder".to_owned()), Ok(Source::File("none/such.jdx".into()))];
        let make = || |_: &Source, bytes: &[u8], _: &str| bytes.len();
        let take = |one| {
            done.push(one);
            Ok::<(), Infallible>(())
        };
        Batch::default().run(&sources, |_| String::new(), make, None, take).unwrap();
        assert_eq!(done[0].result, Err("no such folder".to_owned()));
        assert!(done.iter().all(|d: &Done<usize>| d.sha256.is_none() && d.result.is_err()));
    }

    #[test]
    fn a_sink_that_can_take_no_more_ends_the_run() {
        let folder = tempfile::tempdir().unwrap();
        let sources = written(folder.path(), &[("a", "1"), ("b", "22"), ("c", "333")]);
        let make = || |_: &Source, bytes: &[u8], _: &str| bytes.len();
        let batch = Batch { jobs: 1, ..Batch::default() };
        let mut taken = 0;
        let ran = batch.run(
            &sources,
            |_| String::new(),
            make,
            None,
            |_| {
                taken += 1;
                if taken == 2 { Err("full") } else { Ok(()) }
            },
        );
        assert!(matches!(ran, Err(RunError::Sink("full"))), "{ran:?}");
        assert_eq!(taken, 2);
    }
}
