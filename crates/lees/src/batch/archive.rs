//! ZIP archives: their members as inputs.

use std::fs::File;
use std::io::{self, BufReader, Cursor, Read, Seek};
use std::path::{Path, PathBuf};

use zip::ZipArchive;

use super::Source;
use super::list::has_spectrum_ending;

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
    let names = names(&archive, wanted).into_iter();
    found.extend(names.map(|member| Ok(Source::Member { archive: path.to_owned(), member })));
}

fn names<R: Read + Seek>(archive: &ZipArchive<R>, wanted: &dyn Fn(&str) -> bool) -> Vec<String> {
    let wanted = archive.file_names().filter(|name| is_visible_file(name) && wanted(name));
    let mut names: Vec<String> = wanted.map(str::to_owned).collect();
    names.sort_unstable();
    names
}

/// The members of an archive that is in memory already, those named like spectra and by name, as [`list`] and
/// [`Reader`] would give them, unpacked one at a time. `None` when the bytes are no archive, or nothing in it is named
/// like a spectrum.
///
/// [`list`]: super::list
/// [`Reader`]: super::Reader
///
/// ```
/// assert!(lees::batch::unpacked("rack.zip".as_ref(), b"no archive").is_none());
/// ```
pub fn unpacked<'a>(
    path: &'a Path,
    bytes: &'a [u8],
) -> Option<impl Iterator<Item = (Source, Result<Vec<u8>, String>)> + 'a> {
    let mut archive = ZipArchive::new(Cursor::new(bytes)).ok()?;
    let names = names(&archive, &|name| has_spectrum_ending(Path::new(name)));
    let each = move |member: String| {
        let content = unpack(&mut archive, &member);
        let source = Source::Member { archive: path.to_owned(), member };
        let content = content.map_err(|fault| source.cannot_read(&fault));
        (source, content)
    };
    (!names.is_empty()).then(|| names.into_iter().map(each))
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

fn unpack<R: Read + Seek>(archive: &mut ZipArchive<R>, member: &str) -> io::Result<Vec<u8>> {
    let file = archive.by_name(member)?;
    let mut bytes = Vec::new();
    file.take(LARGEST_MEMBER + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > LARGEST_MEMBER {
        return Err(io::Error::other(format!("unpacks to more than {LARGEST_MEMBER} bytes")));
    }
    Ok(bytes)
}
