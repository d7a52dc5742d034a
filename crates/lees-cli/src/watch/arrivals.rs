//! Files on their way in, until they are whole.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant, SystemTime};

use lees::batch::{Source, has_spectrum_ending, list, may_be_spectrum};
use lees::sha256;

use super::outputs::is_ours;
use super::whole::is_whole;

/// How long a file that does not look whole is waited for after its last change; then it is checked as it is, and
/// the message says what is missing.
const PATIENCE: Duration = Duration::from_secs(60);

/// Size and time of last change.
type Stamp = (u64, SystemTime);

/// A file that is whole.
#[derive(Debug)]
pub(super) struct Arrival {
    pub(super) path: PathBuf,
    pub(super) sha256: String,
}

struct Waiting {
    stamp: Option<Stamp>,
    since: Instant,
}

/// The files that are waited for, and those dealt with as they were.
pub(super) struct Arrivals {
    folder: PathBuf,
    output: Option<PathBuf>,
    settle: Duration,
    waiting: BTreeMap<PathBuf, Waiting>,
    dealt: BTreeMap<PathBuf, Stamp>,
}

impl Arrivals {
    pub(super) fn new(folder: &Path, output: Option<&Path>, settle: Duration) -> Self {
        let absolute = |path: &Path| std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
        let output = output.map(absolute).filter(|output| *output != absolute(folder));
        Self { folder: folder.to_owned(), output, settle, waiting: BTreeMap::new(), dealt: BTreeMap::new() }
    }

    /// Looks at everything in the folder.
    pub(super) fn list(&mut self) {
        let files: BTreeSet<PathBuf> =
            list(std::slice::from_ref(&self.folder)).into_iter().flatten().filter_map(file).collect();
        files.into_iter().for_each(|path| self.saw(path));
    }

    /// Something happened to a path; a folder stands for everything in it.
    pub(super) fn saw(&mut self, path: PathBuf) {
        if path.is_dir() {
            let inside = list(std::slice::from_ref(&path)).into_iter().flatten().filter_map(file);
            inside.collect::<BTreeSet<_>>().into_iter().for_each(|path| self.saw_file(path));
        } else {
            self.saw_file(path);
        }
    }

    fn saw_file(&mut self, path: PathBuf) {
        let stamp = stamp(&path);
        let unchanged = stamp.is_some() && self.dealt.get(&path) == stamp.as_ref();
        if !unchanged && self.is_wanted(&path) && (stamp.is_some() || self.waiting.contains_key(&path)) {
            self.waiting.entry(path).or_insert_with(|| Waiting { stamp, since: Instant::now() });
        }
    }

    fn is_wanted(&self, path: &Path) -> bool {
        let inside = path.strip_prefix(&self.folder).unwrap_or(path);
        let hidden = inside.components().any(|part| part.as_os_str().to_string_lossy().starts_with('.'));
        let absolute = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
        let output = self.output.as_ref().is_some_and(|output| absolute.starts_with(output));
        !hidden && !output && !is_ours(path) && has_spectrum_ending(path)
    }

    /// Takes out the files that are whole, notes and tables aside; tells of those that are gone.
    pub(super) fn ready(&mut self, gone: &mut dyn FnMut(&Path)) -> Vec<Arrival> {
        let paths: Vec<PathBuf> = self.waiting.keys().cloned().collect();
        paths.into_iter().filter_map(|path| self.look(path, gone)).collect()
    }

    fn look(&mut self, path: PathBuf, gone: &mut dyn FnMut(&Path)) -> Option<Arrival> {
        let now = stamp(&path);
        let waiting = self.waiting.get_mut(&path)?;
        let Some(found) = now else {
            self.waiting.remove(&path);
            self.dealt.remove(&path);
            gone(&path);
            return None;
        };
        if waiting.stamp != now {
            *waiting = Waiting { stamp: now, since: Instant::now() };
        }
        let still = waiting.since.elapsed();
        if still < self.settle {
            return None;
        }
        let bytes = std::fs::read(&path).ok()?;
        let moved = stamp(&path) != now || bytes.len() as u64 != found.0;
        if moved || (!is_whole(&path, &bytes) && still < PATIENCE.max(self.settle)) {
            return None;
        }
        self.waiting.remove(&path);
        self.dealt.insert(path.clone(), found);
        if !may_be_spectrum(&path) {
            return None;
        }
        Some(Arrival { sha256: sha256(&bytes), path })
    }

    /// Looks at a path anew at the next listing.
    pub(super) fn forget(&mut self, path: &Path) {
        self.dealt.remove(path);
    }

    pub(super) fn is_empty(&self) -> bool {
        self.waiting.is_empty()
    }
}

/// Archives are watched as files: their members are read together.
fn file(source: Source) -> Option<PathBuf> {
    match source {
        Source::Standard => None,
        Source::File(path) | Source::Member { archive: path, .. } => Some(path),
    }
}

fn stamp(path: &Path) -> Option<Stamp> {
    let metadata = std::fs::metadata(path).ok().filter(std::fs::Metadata::is_file)?;
    Some((metadata.len(), metadata.modified().ok()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    const WHOLE: &str = "##TITLE= x\n##END=\n";

    fn ready(arrivals: &mut Arrivals) -> Vec<String> {
        let found = arrivals.ready(&mut |_| {});
        found.iter().map(|a| a.path.file_name().unwrap().to_string_lossy().into_owned()).collect()
    }

    #[test]
    fn a_file_is_ready_once_it_is_whole_and_still() {
        let folder = tempfile::tempdir().unwrap();
        let mut arrivals = Arrivals::new(folder.path(), None, Duration::from_millis(30));
        let path = folder.path().join("a.jdx");
        std::fs::write(&path, "##TITLE= x\n").unwrap();
        arrivals.saw(path.clone());
        assert!(ready(&mut arrivals).is_empty(), "too young");
        std::thread::sleep(Duration::from_millis(50));
        assert!(ready(&mut arrivals).is_empty(), "still, but without an end");
        std::fs::write(&path, WHOLE).unwrap();
        assert!(ready(&mut arrivals).is_empty(), "just changed");
        std::thread::sleep(Duration::from_millis(50));
        assert_eq!(ready(&mut arrivals), ["a.jdx"]);
        arrivals.list();
        assert!(arrivals.is_empty(), "dealt with, unchanged");
    }

    #[test]
    fn own_reports_hidden_files_and_other_files_are_not_wanted() {
        let folder = tempfile::tempdir().unwrap();
        let out = folder.path().join("checked");
        std::fs::create_dir(&out).unwrap();
        for name in ["a.jdx.lees.txt", "watch.lees.csv", ".b.jdx", "c.md", "checked/d.jdx"] {
            std::fs::write(folder.path().join(name), WHOLE).unwrap();
        }
        let mut arrivals = Arrivals::new(folder.path(), Some(&out), Duration::ZERO);
        arrivals.list();
        assert!(arrivals.is_empty());
    }

    #[test]
    fn a_deleted_file_is_told_of_and_dropped() {
        let folder = tempfile::tempdir().unwrap();
        let mut arrivals = Arrivals::new(folder.path(), None, Duration::ZERO);
        let path = folder.path().join("a.jdx");
        std::fs::write(&path, WHOLE).unwrap();
        arrivals.saw(path.clone());
        std::fs::remove_file(&path).unwrap();
        let mut told = Vec::new();
        assert!(arrivals.ready(&mut |path| told.push(path.to_owned())).is_empty());
        assert_eq!(told, [path]);
        assert!(arrivals.is_empty());
    }
}
