//! The resume file: what is done, a line each, appended as it happens.
//!
//! A line holds the input's name, the hash of its content, the hash of settings and product, and the result. Asked
//! again with the same three, the result is read from the file instead of being worked out: a resumed run hands
//! over exactly what an uninterrupted one would. A line cut short by a power failure is dropped.

use std::collections::HashMap;
use std::fs::{File, OpenOptions};
use std::io::{self, BufRead, BufReader, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::sha256;

/// First line of a resume file.
const HEADER: &str = r#"{"schema":"lees/resume/1"}"#;

/// A resume file cannot be used.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum JournalError {
    /// The disk or the like.
    #[error("{}: {fault}", path.display())]
    File {
        /// The resume file.
        path: PathBuf,
        /// What went wrong.
        fault: io::Error,
    },
    /// Another kind of file.
    #[error("{}: line 1: not a resume file; delete it or name another", path.display())]
    NotOne {
        /// The file.
        path: PathBuf,
    },
}

#[derive(Serialize)]
struct Written<'a, T> {
    name: &'a str,
    sha256: &'a str,
    settings: &'a str,
    result: &'a T,
}

#[derive(Deserialize)]
struct Key {
    name: String,
    sha256: String,
    settings: String,
}

#[derive(Deserialize)]
struct Kept<T> {
    result: T,
}

#[derive(Debug, Clone, Copy)]
struct Place {
    start: u64,
    length: usize,
}

/// An open resume file. Only places are kept in memory, not results.
#[derive(Debug)]
pub struct Journal {
    path: PathBuf,
    file: File,
    end: u64,
    places: HashMap<String, Place>,
}

impl Journal {
    /// Opens a resume file, made empty first unless `resume`.
    ///
    /// # Errors
    /// When it cannot be read or written, or is some other file.
    ///
    /// ```
    /// use lees::batch::Journal;
    /// let path = std::env::temp_dir().join(format!("lees-open-{}", std::process::id()));
    /// Journal::open(&path, false)?.keep("a.jdx", "hash", "settings", &1.5)?;
    /// assert_eq!(Journal::open(&path, true)?.len(), 1, "what an interrupted run had done");
    /// assert_eq!(Journal::open(&path, false)?.len(), 0, "begun anew");
    /// std::fs::write(&path, "my own notes\n").expect("written");
    /// assert!(Journal::open(&path, true).is_err(), "some other file is left alone");
    /// # std::fs::remove_file(&path).expect("there");
    /// # Ok::<(), lees::batch::JournalError>(())
    /// ```
    pub fn open(path: &Path, resume: bool) -> Result<Self, JournalError> {
        let at = |fault| JournalError::File { path: path.to_owned(), fault };
        let mut options = OpenOptions::new();
        let file = options.read(true).write(true).create(true).truncate(!resume).open(path).map_err(at)?;
        let mut journal = Self { path: path.to_owned(), file, end: 0, places: HashMap::new() };
        journal.load()?;
        journal.file.set_len(journal.end).map_err(at)?;
        if journal.end == 0 {
            journal.append(HEADER.as_bytes()).map_err(at)?;
        }
        Ok(journal)
    }

    /// How many results are kept.
    ///
    /// ```
    /// # use lees::batch::Journal;
    /// # let path = std::env::temp_dir().join(format!("lees-len-{}", std::process::id()));
    /// let mut journal = Journal::open(&path, false)?;
    /// journal.keep("a.jdx", "hash", "settings", &"dry")?;
    /// journal.keep("b.jdx", "hash", "settings", &"wet")?;
    /// assert_eq!(journal.len(), 2);
    /// # journal.remove()?;
    /// # Ok::<(), lees::batch::JournalError>(())
    /// ```
    #[must_use]
    pub fn len(&self) -> usize {
        self.places.len()
    }

    /// Whether none is.
    ///
    /// ```
    /// # use lees::batch::Journal;
    /// # let path = std::env::temp_dir().join(format!("lees-empty-{}", std::process::id()));
    /// let journal = Journal::open(&path, false)?;
    /// assert!(journal.is_empty());
    /// # journal.remove()?;
    /// # Ok::<(), lees::batch::JournalError>(())
    /// ```
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.places.is_empty()
    }

    /// Deletes the file: everything is done.
    ///
    /// # Errors
    /// When it cannot be deleted.
    ///
    /// ```
    /// # use lees::batch::Journal;
    /// # let path = std::env::temp_dir().join(format!("lees-remove-{}", std::process::id()));
    /// Journal::open(&path, false)?.remove()?;
    /// assert!(!path.exists());
    /// # Ok::<(), lees::batch::JournalError>(())
    /// ```
    pub fn remove(self) -> Result<(), JournalError> {
        std::fs::remove_file(&self.path).map_err(|fault| JournalError::File { path: self.path, fault })
    }

    fn load(&mut self) -> Result<(), JournalError> {
        let at = |fault| JournalError::File { path: self.path.clone(), fault };
        let mut reader = BufReader::new(&self.file);
        let mut line = Vec::new();
        let (mut end, mut places) = (0_u64, HashMap::new());
        loop {
            line.clear();
            let length = reader.read_until(b'\n', &mut line).map_err(at)?;
            if line.pop() != Some(b'\n') {
                break;
            }
            if end == 0 && line != HEADER.as_bytes() {
                return Err(JournalError::NotOne { path: self.path.clone() });
            }
            if let Ok(key) = serde_json::from_slice::<Key>(&line) {
                let place = Place { start: end, length: line.len() };
                places.insert(identity(&key.name, &key.sha256, &key.settings), place);
            }
            end += length as u64;
        }
        if end == 0 && !line.is_empty() && !HEADER.as_bytes().starts_with(&line) {
            return Err(JournalError::NotOne { path: self.path.clone() });
        }
        (self.end, self.places) = (end, places);
        Ok(())
    }

    /// Whether a result of an input is kept.
    ///
    /// ```
    /// # use lees::batch::Journal;
    /// # let path = std::env::temp_dir().join(format!("lees-has-{}", std::process::id()));
    /// let mut journal = Journal::open(&path, false)?;
    /// journal.keep("a.jdx", "hash", "limit 0.5", &"dry")?;
    /// assert!(journal.has("a.jdx", "hash", "limit 0.5"));
    /// assert!(!journal.has("a.jdx", "hash", "limit 0.1"), "another question has another answer");
    /// # journal.remove()?;
    /// # Ok::<(), lees::batch::JournalError>(())
    /// ```
    #[must_use]
    pub fn has(&self, name: &str, sha256: &str, settings: &str) -> bool {
        self.places.contains_key(&identity(name, sha256, settings))
    }

    /// The kept result of an input, when there is one.
    pub(crate) fn find<T: DeserializeOwned>(
        &mut self,
        name: &str,
        sha256: &str,
        settings: &str,
    ) -> Option<T> {
        let place = *self.places.get(&identity(name, sha256, settings))?;
        let mut line = vec![0; place.length];
        self.file.seek(SeekFrom::Start(place.start)).ok()?;
        self.file.read_exact(&mut line).ok()?;
        serde_json::from_slice::<Kept<T>>(&line).ok().map(|kept| kept.result)
    }

    /// Appends a result; on disk (but for the system's own buffers) when this returns.
    ///
    /// # Errors
    /// When the file cannot be written.
    ///
    /// ```
    /// # use lees::batch::Journal;
    /// # let path = std::env::temp_dir().join(format!("lees-keep-{}", std::process::id()));
    /// let mut journal = Journal::open(&path, false)?;
    /// journal.keep("a.jdx", "hash", "settings", &0.21)?;
    /// assert!(std::fs::read_to_string(&path).expect("text").contains("0.21"), "on disk at once");
    /// # journal.remove()?;
    /// # Ok::<(), lees::batch::JournalError>(())
    /// ```
    pub fn keep<T: Serialize>(
        &mut self,
        name: &str,
        sha256: &str,
        settings: &str,
        result: &T,
    ) -> Result<(), JournalError> {
        let at = |fault| JournalError::File { path: self.path.clone(), fault };
        let line =
            serde_json::to_vec(&Written { name, sha256, settings, result }).map_err(|e| at(e.into()))?;
        let place = Place { start: self.end, length: line.len() };
        self.append(&line).map_err(|fault| JournalError::File { path: self.path.clone(), fault })?;
        self.places.insert(identity(name, sha256, settings), place);
        Ok(())
    }

    /// Hands every kept result to `take`, in the order they were kept.
    ///
    /// # Errors
    /// When the file cannot be read, or `take` gives an error.
    ///
    /// ```
    /// # use lees::batch::{Journal, JournalError};
    /// # let path = std::env::temp_dir().join(format!("lees-each-{}", std::process::id()));
    /// let mut journal = Journal::open(&path, false)?;
    /// journal.keep("a.jdx", "hash", "settings", &0.21)?;
    /// journal.keep("b.jdx", "hash", "settings", &0.34)?;
    /// let mut contents = Vec::new();
    /// journal.each(|wt_percent: f64| {
    ///     contents.push(wt_percent);
    ///     Ok::<(), JournalError>(())
    /// })?;
    /// assert_eq!(contents, [0.21, 0.34]);
    /// # journal.remove()?;
    /// # Ok::<(), lees::batch::JournalError>(())
    /// ```
    pub fn each<T: DeserializeOwned, E: From<JournalError>>(
        &mut self,
        mut take: impl FnMut(T) -> Result<(), E>,
    ) -> Result<(), E> {
        let at = |fault| JournalError::File { path: self.path.clone(), fault };
        self.file.seek(SeekFrom::Start(0)).map_err(at)?;
        for line in BufReader::new(&self.file).lines() {
            if let Ok(kept) = serde_json::from_str::<Kept<T>>(&line.map_err(at)?) {
                take(kept.result)?;
            }
        }
        Ok(())
    }

    fn append(&mut self, line: &[u8]) -> io::Result<()> {
        self.file.seek(SeekFrom::Start(self.end))?;
        let line = [line, b"\n"].concat();
        self.file.write_all(&line)?;
        self.end += line.len() as u64;
        Ok(())
    }
}

fn identity(name: &str, content: &str, settings: &str) -> String {
    sha256([name, content, settings].join("\0").as_bytes())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_come_back_and_a_torn_line_does_not() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("r");
        let mut journal = Journal::open(&path, false).unwrap();
        journal.keep("a", "1", "s", &vec![0.1 + 0.2]).unwrap();
        journal.keep("b", "2", "s", &vec![1.5]).unwrap();
        drop(journal);
        let whole = std::fs::read(&path).unwrap();
        for cut in 0..whole.len() {
            std::fs::write(&path, &whole[..cut]).unwrap();
            let mut journal = Journal::open(&path, true).unwrap();
            let lines = whole[..cut].iter().filter(|b| **b == b'\n').count();
            assert_eq!(journal.len(), lines.saturating_sub(1), "cut at {cut}");
            let first: Option<Vec<f64>> = journal.find("a", "1", "s");
            assert_eq!(first, (lines >= 2).then(|| vec![0.1 + 0.2]));
            journal.keep("c", "3", "s", &vec![2.5]).unwrap();
            drop(journal);
            let mut journal = Journal::open(&path, true).unwrap();
            assert_eq!(journal.find::<Vec<f64>>("c", "3", "s"), Some(vec![2.5]), "cut at {cut}");
        }
    }

    #[test]
    fn other_content_or_settings_are_not_done() {
        let folder = tempfile::tempdir().unwrap();
        let mut journal = Journal::open(&folder.path().join("r"), true).unwrap();
        journal.keep("a", "1", "s", &7_u8).unwrap();
        assert_eq!(journal.find::<u8>("a", "1", "s"), Some(7));
        assert!(journal.has("a", "1", "s"));
        for (name, content, settings) in [("b", "1", "s"), ("a", "2", "s"), ("a", "1", "t")] {
            assert_eq!(journal.find::<u8>(name, content, settings), None);
            assert!(!journal.has(name, content, settings));
        }
    }

    #[test]
    fn another_file_is_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("notes");
        for text in ["dear diary\n", "dear diary"] {
            std::fs::write(&path, text).unwrap();
            assert!(matches!(Journal::open(&path, true), Err(JournalError::NotOne { .. })));
            assert_eq!(std::fs::read_to_string(&path).unwrap(), text);
        }
    }
}
