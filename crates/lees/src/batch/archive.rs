//! ZIP archives: their members as inputs.

use std::fs::File;
use std::io::{self, BufReader, Read};
use std::path::{Path, PathBuf};

use zip::ZipArchive;

use super::Source;

/// Unpacked bytes a member may have: four million points as generous text.
const LARGEST_MEMBER: u64 = 64 << 20;

/// Appends the wanted members of an archive, by name.
pub(super) fn members(path: &Path, found: &mut Vec<Result<Source, String>>, wanted: &dyn Fn(&str) -> bool) {
    let archive = match open(path) {
        Ok(archive) => archive,
        Err(fault) => {
            found.push(Err(format!("{}: not a readable archive: {fault}", path.display())));
            return;
        }
    };
    let mut names: Vec<&str> =
        archive.file_names().filter(|name| is_visible_file(name) && wanted(name)).collect();
    names.sort_unstable();
    found.extend(
        names.into_iter().map(|n| Ok(Source::Member { archive: path.to_owned(), member: n.to_owned() })),
    );
}

fn is_visible_file(name: &str) -> bool {
    !name.ends_with('/') && name.split('/').all(|part| !part.starts_with('.') && part != "__MACOSX")
}

fn open(path: &Path) -> io::Result<ZipArchive<BufReader<File>>> {
    Ok(ZipArchive::new(BufReader::new(File::open(path)?))?)
}

/// An archive kept open, since its list of members can be long.
#[derive(Default)]
pub(super) struct OpenArchive(Option<(PathBuf, ZipArchive<BufReader<File>>)>);

impl OpenArchive {
    /// The unpacked bytes of a member.
    pub(super) fn read(&mut self, path: &Path, member: &str) -> io::Result<Vec<u8>> {
        let mut archive = match self.0.take() {
            Some((open, archive)) if open == path => archive,
            _ => open(path)?,
        };
        let bytes = unpack(&mut archive, member);
        self.0 = Some((path.to_owned(), archive));
        bytes
    }
}

fn unpack(archive: &mut ZipArchive<BufReader<File>>, member: &str) -> io::Result<Vec<u8>> {
    let file = archive.by_name(member)?;
    let mut bytes = Vec::new();
    file.take(LARGEST_MEMBER + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > LARGEST_MEMBER {
        return Err(io::Error::other(format!("unpacks to more than {LARGEST_MEMBER} bytes")));
    }
    Ok(bytes)
}
