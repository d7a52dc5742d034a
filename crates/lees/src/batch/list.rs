//! From the paths given to the inputs behind them.

use std::ffi::{OsStr, OsString};
use std::path::{Component, Path, PathBuf};

use globset::{GlobBuilder, GlobMatcher};

use super::Source;
use super::archive;
use super::columns::may_be_spectrum;

/// Endings of file names that are looked into when a folder or an archive is given.
const SPECTRUM_ENDINGS: [&str; 12] =
    ["jdx", "dx", "jcamp", "jcm", "jcamp-dx", "txt", "csv", "tsv", "asc", "xy", "gz", "zip"];

/// Folders nested deeper than this are not entered.
const DEEPEST_FOLDER: usize = 32;

/// Characters that make a path a pattern.
const PATTERN: [char; 4] = ['*', '?', '[', '{'];

/// The inputs behind the paths, in the order given; within a folder or an archive by name.
///
/// A path may be a file, a folder (walked, hidden names left out), `-` for standard input, a ZIP archive (each
/// member is an input), a pattern such as `rack/*.jdx`, or a pattern within an archive such as
/// `rack.zip/fractions/*.jdx`. What cannot be listed stands in place as a message.
///
/// ```
/// use lees::batch::{Source, list};
/// let listed = list(&["-".into(), "no/such/*.jdx".into()]);
/// assert_eq!(listed[0], Ok(Source::Standard));
/// assert!(listed[1].is_err(), "a message in its place");
/// ```
#[must_use]
pub fn list(paths: &[PathBuf]) -> Vec<Result<Source, String>> {
    let mut found = Vec::new();
    for path in paths {
        let before = found.len();
        one(path, &mut found);
        if found.len() == before {
            found.push(Err(format!("{}: no spectrum file there", path.display())));
        }
    }
    found
}

fn one(path: &Path, found: &mut Vec<Result<Source, String>>) {
    if path.as_os_str() == OsStr::new("-") {
        found.push(Ok(Source::Standard));
    } else if path.is_dir() {
        walk(path, &mut Vec::new(), found, &|path| has_spectrum_ending(path) && may_be_spectrum(path));
    } else if is_archive(path) && path.is_file() {
        let before = found.len();
        archive::members(path, found, &|name| has_spectrum_ending(Path::new(name)));
        if found.len() == before {
            found.push(Ok(Source::File(path.to_owned())));
        }
    } else if path.exists() {
        found.push(Ok(Source::File(path.to_owned())));
    } else if let Some((archive, inside)) = split_archive(path) {
        match matcher(&inside) {
            Ok(pattern) => archive::members(&archive, found, &|name| pattern.is_match(name)),
            Err(fault) => found.push(Err(fault)),
        }
    } else if path.to_string_lossy().contains(PATTERN) {
        match matcher(&path.to_string_lossy()) {
            Ok(pattern) => walk(&fixed_part(path), &mut Vec::new(), found, &|path| pattern.is_match(path)),
            Err(fault) => found.push(Err(fault)),
        }
    } else {
        found.push(Ok(Source::File(path.to_owned())));
    }
}

/// Adds what is in a folder. `above` holds the folders around it, links resolved: a link back to one of them leads
/// nowhere new and is not followed.
fn walk(
    folder: &Path,
    above: &mut Vec<PathBuf>,
    found: &mut Vec<Result<Source, String>>,
    wanted: &dyn Fn(&Path) -> bool,
) {
    let (real, names) = match enter(folder, above) {
        Ok(Some(here)) => here,
        Ok(None) => return,
        Err(why) => return found.push(Err(format!("{}: {why}", folder.display()))),
    };
    above.push(real);
    for path in names.iter().map(|name| folder.join(name)).filter(|path| !is_hidden(path)) {
        if path.is_dir() {
            walk(&path, above, found, wanted);
        } else if wanted(&path) {
            if is_archive(&path) {
                archive::members(&path, found, &|name| has_spectrum_ending(Path::new(name)));
            } else {
                found.push(Ok(Source::File(path)));
            }
        }
    }
    above.pop();
}

/// A folder without links in its path, and the names in it; `None` when it is around itself.
fn enter(folder: &Path, above: &[PathBuf]) -> Result<Option<(PathBuf, Vec<OsString>)>, String> {
    if above.len() > DEEPEST_FOLDER {
        return Err(format!("nested deeper than {DEEPEST_FOLDER} folders"));
    }
    let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    let cannot_list = |fault: std::io::Error| format!("cannot list: {fault}");
    let real = std::fs::canonicalize(folder).map_err(cannot_list)?;
    if above.contains(&real) {
        return Ok(None);
    }
    let entries = std::fs::read_dir(folder).map_err(cannot_list)?;
    let mut names: Vec<OsString> = entries.filter_map(|entry| Some(entry.ok()?.file_name())).collect();
    names.sort();
    Ok(Some((real, names)))
}

fn is_hidden(path: &Path) -> bool {
    path.file_name().and_then(OsStr::to_str).is_some_and(|name| name.starts_with('.'))
}

fn ending(path: &Path) -> String {
    path.extension().and_then(OsStr::to_str).unwrap_or_default().to_ascii_lowercase()
}

fn is_archive(path: &Path) -> bool {
    ending(path) == "zip"
}

/// Whether a folder's file is worth reading, by the ending of its name.
///
/// ```
/// assert!(lees::batch::has_spectrum_ending("batch.JDX".as_ref()));
/// assert!(!lees::batch::has_spectrum_ending("notes.md".as_ref()));
/// ```
#[must_use]
pub fn has_spectrum_ending(path: &Path) -> bool {
    SPECTRUM_ENDINGS.contains(&ending(path).as_str())
}

/// `a/rack.zip/b/*.jdx` as `a/rack.zip` and `b/*.jdx`, when the former is a file.
fn split_archive(path: &Path) -> Option<(PathBuf, String)> {
    let archive = path.ancestors().skip(1).find(|part| is_archive(part) && part.is_file())?;
    let inside = path.strip_prefix(archive).ok()?;
    let parts: Vec<_> = inside.components().map(|part| part.as_os_str().to_string_lossy()).collect();
    Some((archive.to_owned(), parts.join("/")))
}

/// The folders in front of the first part that is a pattern.
fn fixed_part(path: &Path) -> PathBuf {
    let plain = |part: &Component<'_>| !part.as_os_str().to_string_lossy().contains(PATTERN);
    path.components().take_while(plain).collect()
}

fn matcher(pattern: &str) -> Result<GlobMatcher, String> {
    let glob = GlobBuilder::new(pattern).literal_separator(true).build();
    glob.map(|glob| glob.compile_matcher())
        .map_err(|fault| format!("`{pattern}` is no pattern: {}", fault.kind()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write;

    fn names(paths: &[PathBuf], base: &Path) -> Vec<String> {
        let base = format!("{}/", base.display());
        list(paths).into_iter().map(|s| s.map_or_else(|e| e, |s| s.name()).replace(&base, "")).collect()
    }

    fn rack() -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        std::fs::create_dir(folder.path().join("b")).unwrap();
        for name in ["c.jdx", "a.dx", "b/x.txt", "notes.md", ".hidden.jdx"] {
            std::fs::write(folder.path().join(name), "7.26 1.0\n").unwrap();
        }
        let mut zip = zip::ZipWriter::new(std::fs::File::create(folder.path().join("r.zip")).unwrap());
        for name in ["f/2.jdx", "f/10.jdx", "f/readme.md", "g/1.dx", ".hid/1.dx"] {
            zip.start_file(name, zip::write::SimpleFileOptions::default()).unwrap();
            zip.write_all(name.as_bytes()).unwrap();
        }
        zip.finish().unwrap();
        folder
    }

    #[test]
    fn folders_are_walked_in_order_and_only_spectra_are_taken() {
        let rack = rack();
        let found = names(&[rack.path().to_owned()], rack.path());
        assert_eq!(found, ["a.dx", "b/x.txt", "c.jdx", "r.zip/f/10.jdx", "r.zip/f/2.jdx", "r.zip/g/1.dx"]);
    }

    #[cfg(unix)]
    #[test]
    fn links_that_lead_back_are_not_followed() {
        let rack = rack();
        for name in ["again", "b/up", "b/self"] {
            let to = if name == "b/self" { rack.path().join("b") } else { rack.path().to_owned() };
            std::os::unix::fs::symlink(to, rack.path().join(name)).unwrap();
        }
        let elsewhere = tempfile::tempdir().unwrap();
        std::fs::write(elsewhere.path().join("e.jdx"), "").unwrap();
        std::os::unix::fs::symlink(elsewhere.path(), rack.path().join("d")).unwrap();
        let found = names(&[rack.path().to_owned()], rack.path());
        assert_eq!(found[..4], ["a.dx", "b/x.txt", "c.jdx", "d/e.jdx"]);
        assert_eq!(found.len(), 7);
    }

    #[test]
    fn patterns_on_disk_and_within_archives() {
        let rack = rack();
        let path = |inside: &str| rack.path().join(inside);
        assert_eq!(names(&[path("*.jdx")], rack.path()), ["c.jdx"]);
        assert_eq!(names(&[path("**/*.txt")], rack.path()), ["b/x.txt"]);
        assert_eq!(names(&[path("r.zip/f/*.jdx")], rack.path()), ["r.zip/f/10.jdx", "r.zip/f/2.jdx"]);
        assert_eq!(names(&[path("r.zip/g/1.dx")], rack.path()), ["r.zip/g/1.dx"]);
        assert_eq!(names(&[path("r.zip/h/*")], rack.path()), ["r.zip/h/*: no spectrum file there"]);
        assert!(names(&[path("r.zip/[")], rack.path())[0].contains("is no pattern"));
    }

    #[test]
    fn what_is_missing_stands_in_place() {
        let rack = rack();
        let found = list(&[rack.path().join("none.jdx"), rack.path().join("a.dx"), PathBuf::from("-")]);
        assert_eq!(found.len(), 3);
        assert_eq!(found[0], Ok(Source::File(rack.path().join("none.jdx"))), "reading it will say why");
        assert_eq!(found[2], Ok(Source::Standard));
    }
}
