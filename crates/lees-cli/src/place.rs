//! Where an output may go, asked before any work starts.

use std::path::{Path, PathBuf};

use lees::batch::Source;

use crate::failure::Failure;

/// The place of an output: a link leads to what it points at, so that the link stays.
///
/// A folder, a folder that is missing and anything else that is no file are refused.
pub(crate) fn place(output: &Path) -> Result<PathBuf, Failure> {
    let wrong = |what: &str| Err(Failure::usage(format!("{}: {what}", output.display())));
    let place = std::fs::canonicalize(output).unwrap_or_else(|_| output.to_owned());
    if place.is_dir() {
        return wrong("cannot write: it is a folder; name a file");
    }
    if place.exists() && !place.is_file() {
        return wrong("cannot write: it is no regular file");
    }
    match place.parent() {
        Some(folder) if !folder.as_os_str().is_empty() && !folder.is_dir() => {
            wrong("cannot write: its folder is not there")
        }
        _ => Ok(place),
    }
}

/// Refuses an output that is one of the inputs: a measurement is never overwritten.
pub(crate) fn spare<'a>(output: &Path, inputs: impl IntoIterator<Item = &'a Source>) -> Result<(), Failure> {
    let Ok(output) = std::fs::canonicalize(output) else { return Ok(()) };
    let same = |source: &Source| {
        source.path().is_some_and(|path| std::fs::canonicalize(path).is_ok_and(|path| path == output))
    };
    match inputs.into_iter().find(|source| same(source)) {
        None => Ok(()),
        Some(input) => {
            let name = input.name();
            Err(Failure::usage(format!("{}: would overwrite the input {name}", output.display())))
        }
    }
}
