//! Where objects and rows go: standard output, or a file that is whole under its name.

use std::fs::File;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use tempfile::TempPath;

use lees_report::tables::{Row, Rows, TableError, TableFormat, TableWriter};

use super::beside;
use crate::failure::Failure;
use crate::out;

/// Standard output or a file beside its final name.
pub(super) enum Place {
    Standard,
    /// The part is deleted when it cannot be finished.
    Aside {
        writer: BufWriter<File>,
        part: TempPath,
        path: PathBuf,
    },
}

impl Place {
    pub(super) fn new(path: Option<&Path>) -> Result<Self, Failure> {
        let Some(path) = path else { return Ok(Self::Standard) };
        let part = beside(path, ".part");
        let file = File::create(&part).map_err(|fault| unwritable(&part, &fault))?;
        let part = TempPath::try_from_path(part).map_err(|fault| unwritable(path, &fault))?;
        Ok(Self::Aside { writer: BufWriter::new(file), part, path: path.to_owned() })
    }

    /// Gives the file its name.
    pub(super) fn finish(self) -> Result<(), Failure> {
        let Self::Aside { writer, part, path } = self else { return Ok(()) };
        let file = writer.into_inner().map_err(|fault| unwritable(&part, fault.error()))?;
        file.sync_all().map_err(|fault| unwritable(&part, &fault))?;
        part.persist(&path).map_err(|fault| unwritable(&path, &fault.error))
    }
}

impl Write for Place {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match self {
            Self::Standard => io::stdout().lock().write(bytes),
            Self::Aside { writer, .. } => writer.write(bytes),
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        match self {
            Self::Standard => io::stdout().lock().flush(),
            Self::Aside { writer, .. } => writer.flush(),
        }
    }
}

fn unwritable(path: &Path, fault: &io::Error) -> Failure {
    Failure::input(format!("{}: cannot write: {fault}", path.display()))
}

/// Takes objects or rows.
pub(super) enum Target {
    Words(Place),
    Table(Box<TableWriter<Place>>),
}

impl Target {
    pub(super) fn words(path: Option<&Path>) -> Result<Self, Failure> {
        Ok(Self::Words(Place::new(path)?))
    }

    pub(super) fn table(path: Option<&Path>, rows: Rows, format: TableFormat) -> Result<Self, Failure> {
        Ok(Self::Table(Box::new(TableWriter::new(rows, format, Place::new(path)?).map_err(table)?)))
    }

    pub(super) fn put(&mut self, words: &str, rows: &[Row]) -> Result<(), Failure> {
        match self {
            Self::Words(Place::Standard) => out::print(words),
            Self::Words(place) => place.write_all(words.as_bytes()).map_err(|fault| table(fault.into())),
            Self::Table(writer) => rows.iter().try_for_each(|row| writer.push(row)).map_err(table),
        }
    }

    pub(super) fn finish(self) -> Result<(), Failure> {
        match self {
            Self::Words(place) => place.finish(),
            Self::Table(writer) => {
                let mut place = writer.finish().map_err(table)?;
                place.flush().map_err(|fault| table(fault.into()))?;
                place.finish()
            }
        }
    }
}

/// A reader that went away has seen enough, which is no failure.
fn table(fault: TableError) -> Failure {
    if let TableError::Write(inner) = &fault
        && inner.kind() == io::ErrorKind::BrokenPipe
    {
        return Failure::closed();
    }
    Failure::input(fault)
}
