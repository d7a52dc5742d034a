//! From paths to bytes: archives, folders, what shares an ending with spectra, a resume file that is none.

#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests fail the test")]

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use lees::batch::{Batch, Done, Journal, JournalError, Reader, RunError, Source, list, may_be_spectrum};

fn zipped(path: &Path, files: &[(&str, &[u8])]) {
    let mut zip = zip::ZipWriter::new(fs::File::create(path).unwrap());
    for (name, bytes) in files {
        zip.start_file(*name, zip::write::SimpleFileOptions::default()).unwrap();
        zip.write_all(bytes).unwrap();
    }
    zip.finish().unwrap();
}

fn member(archive: &Path, member: &str) -> Source {
    Source::Member { archive: archive.to_owned(), member: member.to_owned() }
}

#[test]
fn one_reader_goes_from_archive_to_archive_and_back() {
    let folder = tempfile::tempdir().unwrap();
    let [one, two] = ["one.zip", "two.zip"].map(|name| folder.path().join(name));
    zipped(&one, &[("a.jdx", b"one a"), ("b.jdx", b"one b")]);
    zipped(&two, &[("a.jdx", b"two a")]);
    let mut reader = Reader::default();
    for (archive, name, bytes) in [
        (&one, "b.jdx", "one b"),
        (&two, "a.jdx", "two a"),
        (&one, "a.jdx", "one a"),
        (&one, "b.jdx", "one b"),
    ] {
        assert_eq!(reader.read(&member(archive, name)).as_deref(), Ok(bytes.as_bytes()));
    }
    let fault = reader.read(&member(&two, "b.jdx")).unwrap_err();
    assert!(fault.starts_with(&format!("{}/b.jdx: cannot read: ", two.display())), "{fault}");
    assert_eq!(reader.read(&member(&two, "a.jdx")).as_deref(), Ok(&b"two a"[..]), "the fault stays alone");
    fs::write(&two, "no archive any more").unwrap();
    reader.read(&member(&one, "a.jdx")).unwrap();
    assert!(reader.read(&member(&two, "a.jdx")).is_err());
}

#[test]
fn tables_and_notes_in_a_folder_are_no_inputs() {
    let folder = tempfile::tempdir().unwrap();
    let files = [
        ("a.csv", "ppm;intensity\n12.0;3.5\n", true),
        ("b.csv", "file,product\na.jdx,dye.toml\n", false),
        ("c.txt", "Dear all,\n\n7 spectra\n", false),
        ("d.txt", "\n\n  ##TITLE= under a wrong ending\n", true),
        ("e.tsv", "", false),
        ("f.jdx", "whatever it is, it says that it is one", true),
        ("g.xy", "x y\n1e3\t-2.5E-3\n", true),
    ];
    for (name, text, wanted) in files {
        let path = folder.path().join(name);
        fs::write(&path, text).unwrap();
        assert_eq!(may_be_spectrum(&path), wanted, "{name}");
    }
    let found = list(&[folder.path().to_owned()]);
    let wanted = files.iter().filter(|file| file.2).map(|file| Ok(Source::File(folder.path().join(file.0))));
    assert_eq!(found, wanted.collect::<Vec<_>>());
    // Named itself, it is an input: reading it will say what is wrong.
    let letter = folder.path().join("c.txt");
    assert_eq!(list(std::slice::from_ref(&letter)), [Ok(Source::File(letter))]);
    assert!(may_be_spectrum(&folder.path().join("gone.csv")), "what cannot be read is reported later");
}

#[test]
fn a_folder_without_spectra_and_one_nested_without_end_are_messages() {
    let folder = tempfile::tempdir().unwrap();
    let told = |path: &Path| list(&[path.to_owned()]).remove(0).unwrap_err();
    assert!(told(folder.path()).ends_with(": no spectrum file there"));
    let mut deep = folder.path().to_owned();
    for _ in 0..40 {
        deep.push("d");
    }
    fs::create_dir_all(&deep).unwrap();
    fs::write(folder.path().join("z.jdx"), "").unwrap();
    let found = list(&[folder.path().to_owned()]);
    let [Err(why), Ok(other)] = found.as_slice() else { panic!("{found:?}") };
    assert!(why.ends_with(": nested deeper than 32 folders"), "{why}");
    assert_eq!(other, &Source::File(folder.path().join("z.jdx")), "the others are there");
}

#[test]
fn patterns_that_are_none_or_meet_nothing_are_messages() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let told = |path: PathBuf| list(&[path]).remove(0).unwrap_err();
    assert!(told(path("[a")).contains("is no pattern: "));
    assert!(told(path("*.jdx")).ends_with("*.jdx: no spectrum file there"));
    assert!(told(path("none/*.jdx")).contains("none: cannot list: "));
    // An archive in which nothing is named like a spectrum may be one packed spectrum.
    zipped(&path("odd.zip"), &[("spectrum", b"##TITLE=")]);
    assert_eq!(list(&[path("odd.zip")]), [Ok(Source::File(path("odd.zip")))]);
    assert_eq!(list(&[path("odd.zip/spec*")]), [Ok(member(&path("odd.zip"), "spectrum"))]);
}

#[test]
fn some_other_file_is_not_taken_for_a_resume_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("notes");
    for notes in ["my notes", "my notes\n", "{\"schema\":\"lees/resume/2\"}\n", "\n"] {
        fs::write(&path, notes).unwrap();
        let fault = Journal::open(&path, true).unwrap_err();
        assert!(matches!(fault, JournalError::NotOne { .. }), "{fault}");
        assert!(fault.to_string().starts_with(&format!("{}: line 1: ", path.display())), "{fault}");
        assert_eq!(fs::read_to_string(&path).unwrap(), notes, "left alone");
    }
}

/// A result that cannot be written down, as on a full disk.
#[derive(Debug, Clone, PartialEq, serde::Deserialize)]
struct Unwritable;

impl serde::Serialize for Unwritable {
    fn serialize<S: serde::Serializer>(&self, _: S) -> Result<S::Ok, S::Error> {
        Err(serde::ser::Error::custom("no room"))
    }
}

#[test]
fn a_run_ends_when_its_resume_file_takes_no_more() {
    let folder = tempfile::tempdir().unwrap();
    let sources: Vec<_> = ["a", "b"]
        .iter()
        .map(|name| {
            let path = folder.path().join(name);
            fs::write(&path, name).unwrap();
            Ok(Source::File(path))
        })
        .collect();
    let mut journal = Journal::open(&folder.path().join("resume"), false).unwrap();
    let mut taken = 0;
    let take = |_: Done<Unwritable>| {
        taken += 1;
        Ok::<(), String>(())
    };
    let make = || |_: &Source, _: &[u8], _: &str| Unwritable;
    let ran = Batch { jobs: 1, ..Batch::default() }.run(
        &sources,
        |_| String::new(),
        make,
        Some(&mut journal),
        take,
    );
    assert!(matches!(&ran, Err(RunError::Journal(JournalError::File { .. }))), "{ran:?}");
    assert!(ran.unwrap_err().to_string().contains("resume: no room"));
    assert_eq!(taken, 0, "what is not kept is not handed over");
    assert!(journal.is_empty());
}

#[test]
fn what_was_kept_is_not_worked_out_again_unless_the_question_changed() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.jdx");
    fs::write(&path, "four").unwrap();
    let sources = [Ok(Source::File(path))];
    let mut journal = Journal::open(&folder.path().join("resume"), false).unwrap();
    let mut run = |question: &str| {
        let mut all = Vec::new();
        let make = || |_: &Source, bytes: &[u8], _: &str| bytes.len();
        let take = |done: Done<usize>| {
            all.push((done.result, done.resumed));
            Ok::<(), String>(())
        };
        Batch::default().run(&sources, |_| question.to_owned(), make, Some(&mut journal), take).unwrap();
        all
    };
    assert_eq!(run("limit 0.5"), [(Ok(4), false)]);
    assert_eq!(run("limit 0.5"), [(Ok(4), true)]);
    assert_eq!(run("limit 0.1"), [(Ok(4), false)]);
    assert_eq!(run("limit 0.5"), [(Ok(4), true)], "both answers are kept");
}

#[test]
fn a_run_that_is_stopped_begins_nothing_new() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a");
    fs::write(&path, "a").unwrap();
    let sources: Vec<Result<Source, String>> = (0..100).map(|_| Ok(Source::File(path.clone()))).collect();
    let batch = Batch { jobs: 1, ..Batch::default() };
    let stop = batch.stop.clone();
    let make = || |_: &Source, bytes: &[u8], _: &str| bytes.len();
    let mut taken = 0;
    let take = |_| {
        taken += 1;
        if taken == 3 {
            stop.raise();
        }
        Ok::<(), String>(())
    };
    let count = batch.run(&sources, |_| String::new(), make, None, take).unwrap();
    // Three, and the eight begun ahead of the one that is handed over.
    assert!((3..=12).contains(&count), "{count}");
    assert_eq!(count, taken);
}
