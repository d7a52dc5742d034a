//! From an input to its bytes.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;
use std::time::SystemTime;

use super::Source;
use super::archive::OpenArchive;

/// Bytes an input may have: a hundred times the largest one-dimensional export seen.
const LARGEST_INPUT: u64 = 256 << 20;

/// Reads inputs; keeps the last archive open.
#[derive(Default)]
pub struct Reader {
    archive: OpenArchive,
}

impl Reader {
    /// All bytes of an input.
    ///
    /// # Errors
    /// When it cannot be read or is larger than any spectrum; the message leads with the input's name.
    ///
    /// ```
    /// use lees::batch::{Reader, Source};
    /// let path = std::env::temp_dir().join(format!("lees-read-{}.jdx", std::process::id()));
    /// std::fs::write(&path, "##TITLE=a").expect("written");
    /// assert_eq!(Reader::default().read(&Source::File(path.clone())), Ok(b"##TITLE=a".to_vec()));
    /// std::fs::remove_file(&path).expect("there");
    /// assert!(Reader::default().read(&Source::File(path)).unwrap_err().contains(": cannot read: "));
    /// ```
    pub fn read(&mut self, source: &Source) -> Result<Vec<u8>, String> {
        let bytes = match source {
            Source::Standard => bounded(io::stdin().lock()),
            Source::File(path) => file(path),
            Source::Member { archive, member } => self.archive.read(archive, member),
        };
        bytes.map_err(|fault| source.cannot_read(&fault))
    }
}

fn file(path: &Path) -> io::Result<Vec<u8>> {
    let file = File::open(path)?;
    unchanged(&file, &file)
}

/// Reads a file; one that is written to meanwhile gives an error instead of half the old and half the new.
fn unchanged(file: &File, input: impl Read) -> io::Result<Vec<u8>> {
    let before = stamp(file)?;
    let bytes = bounded(input)?;
    if stamp(file)? != before {
        return Err(io::Error::other("it changed while it was read; try again once it is written"));
    }
    Ok(bytes)
}

/// Size and time of last change of a regular file; a pipe or a device has neither.
fn stamp(file: &File) -> io::Result<Option<(u64, SystemTime)>> {
    let metadata = file.metadata()?;
    if !metadata.is_file() {
        return Ok(None);
    }
    Ok(Some((metadata.len(), metadata.modified()?)))
}

fn bounded(input: impl Read) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    input.take(LARGEST_INPUT + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > LARGEST_INPUT {
        return Err(io::Error::other(format!("more than {LARGEST_INPUT} bytes")));
    }
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write;
    use std::path::PathBuf;

    /// Changes the file when its end is read, as another program might.
    struct Meddler<'a> {
        file: &'a File,
        path: PathBuf,
        change: fn(&Path),
    }

    impl Read for Meddler<'_> {
        fn read(&mut self, room: &mut [u8]) -> io::Result<usize> {
            let count = self.file.read(room)?;
            if count == 0 {
                (self.change)(&self.path);
            }
            Ok(count)
        }
    }

    fn read_while(change: fn(&Path)) -> io::Result<Vec<u8>> {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.jdx");
        std::fs::write(&path, "as it was").unwrap();
        let file = File::open(&path).unwrap();
        unchanged(&file, Meddler { file: &file, path, change })
    }

    #[test]
    fn a_file_that_changes_while_it_is_read_is_an_error() {
        assert_eq!(read_while(|_| {}).unwrap(), b"as it was");
        let grown = read_while(|path| {
            let mut file = std::fs::OpenOptions::new().append(true).open(path).unwrap();
            file.write_all(b", and more").unwrap();
        });
        assert!(grown.unwrap_err().to_string().contains("changed while it was read"));
        let cut = read_while(|path| std::fs::write(path, "").unwrap());
        assert!(cut.unwrap_err().to_string().contains("changed while it was read"));
    }

    #[test]
    fn a_file_replaced_by_another_is_read_as_it_was() {
        let replaced = read_while(|path| {
            let other = path.with_extension("new");
            std::fs::write(&other, "as it is now, and longer").unwrap();
            std::fs::rename(other, path).unwrap();
        });
        assert_eq!(replaced.unwrap(), b"as it was");
    }
}
