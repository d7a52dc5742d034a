//! What was checked already, by name and content, across restarts.

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
    rows: Vec<Row>,
}

/// The ledger of one output folder. A file is its name within the watched folder and its content: a copy under another
/// name is another file, and so is a file that was written anew.
pub(super) struct Ledger(Journal);

impl Ledger {
    pub(super) fn open(folder: &Path) -> Result<Self, Failure> {
        Ok(Self(Journal::open(&folder.join(NAME), true)?))
    }

    /// Whether this file was checked.
    pub(super) fn knows(&self, name: &str, sha256: &str) -> bool {
        self.0.has(name, sha256, "")
    }

    /// Remembers a file; it will not be checked again.
    pub(super) fn enter(&mut self, name: &str, sha256: &str, outcomes: &[Outcome]) -> Result<(), Failure> {
        let rows = outcomes.iter().flat_map(|outcome| outcome.rows().iter().cloned()).collect();
        self.0.keep(name, sha256, "", &Entry { rows }).map_err(Failure::input)
    }

    pub(super) fn len(&self) -> usize {
        self.0.len()
    }

    /// Every row, in the order of entry.
    pub(super) fn rows(&mut self, mut take: impl FnMut(&Row) -> Result<(), Failure>) -> Result<(), Failure> {
        self.0.each::<Entry, Failure>(|entry| entry.rows.iter().try_for_each(&mut take))
    }
}
