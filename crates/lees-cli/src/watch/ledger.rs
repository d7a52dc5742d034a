//! What was checked already, by content, across restarts.

use std::path::Path;

use lees::batch::Journal;
use lees_report::tables::Row;
use serde::{Deserialize, Serialize};

use crate::batch::Outcome;
use crate::failure::Failure;

/// The ledger's file name.
pub(super) const NAME: &str = ".lees-ledger";

/// What is remembered of a file.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct Entry {
    path: String,
    rows: Vec<Row>,
}

/// The ledger of one output folder.
pub(super) struct Ledger(Journal);

impl Ledger {
    pub(super) fn open(folder: &Path) -> Result<Self, Failure> {
        Journal::open(&folder.join(NAME), true).map(Self).map_err(Failure::usage)
    }

    /// The path under which this content was checked.
    pub(super) fn known(&mut self, sha256: &str) -> Option<String> {
        self.0.find::<Entry>("", sha256, "").map(|entry| entry.path)
    }

    /// Remembers a file; it will not be checked again.
    pub(super) fn enter(&mut self, path: &str, sha256: &str, outcomes: &[Outcome]) -> Result<(), Failure> {
        let rows = outcomes.iter().flat_map(|outcome| outcome.rows().iter().cloned()).collect();
        let entry = Entry { path: path.to_owned(), rows };
        self.0.keep("", sha256, "", &entry).map_err(Failure::input)
    }

    pub(super) fn len(&self) -> usize {
        self.0.len()
    }

    /// Every row, in the order of entry.
    pub(super) fn rows(&mut self, mut take: impl FnMut(&Row) -> Result<(), Failure>) -> Result<(), Failure> {
        self.0.each::<Entry, Failure>(|entry| entry.rows.iter().try_for_each(&mut take))
    }
}
