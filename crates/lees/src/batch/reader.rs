//! From an input to its bytes.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

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
    pub fn read(&mut self, source: &Source) -> Result<Vec<u8>, String> {
        let bytes = match source {
            Source::Standard => bounded(io::stdin().lock()),
            Source::File(path) => file(path),
            Source::Member { archive, member } => self.archive.read(archive, member),
        };
        bytes.map_err(|fault| format!("{}: cannot read: {fault}", source.name()))
    }
}

fn file(path: &Path) -> io::Result<Vec<u8>> {
    bounded(File::open(path)?)
}

fn bounded(input: impl Read) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    input.take(LARGEST_INPUT + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > LARGEST_INPUT {
        return Err(io::Error::other(format!("more than {LARGEST_INPUT} bytes")));
    }
    Ok(bytes)
}
