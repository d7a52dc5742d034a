//! Drying series, weighed batches and archives, from files to results.

#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests fail the test")]

use std::io::Write;
use std::path::{Path, PathBuf};

use lees::batch::{Batch, Done, Journal, JournalError, Source, list, unpacked};
use lees::drying::series;
use lees::{Checker, Crude, Error, Job};
use lees_core::check::{Check, YieldBasis};
use lees_match::drying::State;

fn demo(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-spectra").join(name)
}

fn job() -> Job {
    let name = "thiazolyl-coumarin.toml";
    let text = std::fs::read_to_string(demo(name)).unwrap();
    Job { product: Some(lees_format::product::parse(&text, name).unwrap()), ..Job::default() }
}

fn checked(job: &Job, name: &str) -> Check {
    let bytes = std::fs::read(demo(name)).unwrap();
    Checker::new(job).unwrap().check(&bytes, name).unwrap().remove(0).unwrap()
}

#[test]
fn a_drying_series_is_followed_in_order_of_time() {
    let job = job();
    let names = [
        (16.0, "batch-16-h.jdx"),
        (0.0, "batch-before-drying.jdx"),
        (6.0, "batch-6-h.jdx"),
        (2.0, "batch-2-h.jdx"),
    ];
    let checks: Vec<(f64, Check)> = names.iter().map(|(hours, name)| (*hours, checked(&job, name))).collect();
    let given: Vec<(f64, &Check)> = checks.iter().map(|(hours, check)| (*hours, check)).collect();
    let found = series(&given, Some("2-propanol")).unwrap();
    assert_eq!(found.of, "2-propanol");
    assert_eq!(found.members.iter().map(|m| m.hours).collect::<Vec<_>>(), [0.0, 2.0, 6.0, 16.0]);
    assert_eq!(found.members[1].path, "batch-2-h.jdx");
    let contents: Vec<f64> = found.members.iter().map(|m| m.wt_percent.value).collect();
    assert!(contents.windows(2).all(|pair| pair[1] < pair[0]), "{contents:?}");
    // truth of the demo: 0.547 wt% after 6 h, 0.198 wt% after 16 h; the limit is 0.5
    assert_eq!(found.limit_wt_percent, Some(0.5));
    let forecast = found.drying.forecast.unwrap();
    assert_eq!(forecast.state, State::Reached);
    let whole = series(&given, None).unwrap();
    assert_eq!(whole.of, "all volatiles");
    for (member, content) in whole.members.iter().zip(contents) {
        assert!(member.wt_percent.value >= content, "the sum is no less than one of its parts");
    }
}

#[test]
fn a_drying_series_that_makes_no_sense_is_refused() {
    let (with, without) = (job(), Job::default());
    let (first, second) = (checked(&with, "batch-2-h.jdx"), checked(&with, "batch-16-h.jdx"));
    let told = |found: Result<lees::drying::Series, Error>| found.unwrap_err().to_string();
    let said = told(series(&[(2.0, &first), (16.0, &second)], Some("pyridine")));
    assert!(said.contains("batch-2-h.jdx: pyridine was not found there"), "{said}");
    let unweighable = checked(&without, "batch-2-h.jdx");
    let said = told(series(&[(2.0, &unweighable), (3.0, &unweighable), (4.0, &unweighable)], None));
    assert!(said.contains("needs the product described"), "{said}");
    assert!(series(&[(2.0, &first), (16.0, &second)], None).is_err(), "two points are no series");
}

#[test]
fn a_corrected_yield_takes_off_what_is_not_product() {
    let crude = |theoretical_g| Some(Crude { mass_g: 1.0, theoretical_g });
    let found = checked(&Job { crude: crude(Some(1.25)), ..job() }, "batch-before-drying.jdx");
    let corrected = found.corrected_yield.unwrap();
    assert_eq!(corrected.basis, YieldBasis::Difference);
    let total = found.total.wt_percent.unwrap();
    let percent = corrected.yield_percent.unwrap();
    let mine = (100.0 - total.value) / 1.25;
    assert!((percent.value - mine).abs() < 1e-9, "{} {mine}", percent.value);
    assert!(percent.low < percent.value && percent.value <= percent.high);
    assert!(found.cautions.iter().any(|c| c.contains("by difference, so an upper bound")));

    let impossible = checked(&Job { crude: crude(Some(0.5)), ..job() }, "batch-16-h.jdx");
    assert!(impossible.warnings.iter().any(|w| w.contains("cannot be")), "{:?}", impossible.warnings);
    let unasked = checked(&Job { crude: crude(None), ..job() }, "batch-16-h.jdx");
    assert_eq!(unasked.corrected_yield.unwrap().yield_percent, None);
}

#[test]
fn masses_that_cannot_be_meant_are_refused_before_any_file() {
    let crude = |mass_g, theoretical_g| Some(Crude { mass_g, theoretical_g });
    for (job, words) in [
        (Job { crude: crude(1.0, None), ..Job::default() }, "describe the product"),
        (Job { crude: crude(-1.0, None), ..job() }, "mass"),
        (Job { crude: crude(1.0, Some(0.0)), ..job() }, "theor"),
    ] {
        let Err(fault) = Checker::new(&job) else { panic!("accepted: {:?}", job.crude) };
        assert!(fault.to_string().contains(words), "{fault}");
    }
}

/// A zip of some files.
fn zipped(path: &Path, files: &[(&str, &[u8])]) {
    let mut zip = zip::ZipWriter::new(std::fs::File::create(path).unwrap());
    for (name, bytes) in files {
        zip.start_file(*name, zip::write::SimpleFileOptions::default()).unwrap();
        zip.write_all(bytes).unwrap();
    }
    zip.finish().unwrap();
}

#[test]
fn members_of_an_archive_are_inputs_by_name_and_a_bad_archive_is_one_message() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("rack.zip");
    let files: [(&str, &[u8]); 5] = [
        ("b.jdx", b"bb"),
        ("sub/a.jdx", b"a"),
        (".hidden.jdx", b"hidden"),
        ("__MACOSX/b.jdx", b"not one"),
        ("picture.png", b"png"),
    ];
    zipped(&path, &files);
    std::fs::write(folder.path().join("bad.zip"), b"PK, but no archive").unwrap();
    let mut done = Vec::new();
    let make = || |_: &Source, bytes: &[u8], _: &str| bytes.len();
    let take = |one| {
        done.push(one);
        Ok::<(), std::convert::Infallible>(())
    };
    let sources = list(&[path.clone(), folder.path().join("bad.zip")]);
    Batch { jobs: 1, ..Batch::default() }.run(&sources, |_| String::new(), make, None, take).unwrap();
    let results: Vec<(String, Option<usize>)> =
        done.iter().map(|d: &Done<usize>| (d.name.clone(), d.result.clone().ok())).collect();
    let within = |member: &str| format!("{}/{member}", path.display());
    assert_eq!(results, [(within("b.jdx"), Some(2)), (within("sub/a.jdx"), Some(1)), (String::new(), None)]);
    assert!(done[2].result.as_ref().unwrap_err().contains("bad.zip: not a readable archive"));

    let bytes = std::fs::read(&path).unwrap();
    let members: Vec<(String, Vec<u8>)> =
        unpacked(&path, &bytes).unwrap().map(|(source, content)| (source.name(), content.unwrap())).collect();
    assert_eq!(members, [(within("b.jdx"), b"bb".to_vec()), (within("sub/a.jdx"), b"a".to_vec())]);
}

#[test]
fn a_member_that_unpacks_without_end_is_refused_and_the_others_are_not() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bomb.zip");
    zipped(&path, &[("a.jdx", &vec![0; (64 << 20) + 1]), ("b.jdx", b"small")]);
    let bytes = std::fs::read(&path).unwrap();
    assert!(bytes.len() < 1 << 20, "it is small on disk: {}", bytes.len());
    let members: Vec<Result<Vec<u8>, String>> =
        unpacked(&path, &bytes).unwrap().map(|(_, content)| content).collect();
    assert!(
        members[0].as_ref().unwrap_err().contains("unpacks to more than"),
        "{:?}",
        members[0].as_ref().err()
    );
    assert_eq!(members[1].as_deref(), Ok(b"small".as_slice()));
}

#[test]
fn a_resume_file_gives_back_what_it_holds_and_goes_when_all_is_done() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("resume");
    let mut journal = Journal::open(&path, false).unwrap();
    assert!(journal.is_empty());
    for (name, value) in [("a", 1_u32), ("b", 2), ("c", 3)] {
        journal.keep(name, "hash", "settings", &value).unwrap();
    }
    assert!(!journal.is_empty());
    let mut found = Vec::new();
    let mut each = |value: u32| {
        found.push(value);
        if found.len() == 3 { Err(JournalError::NotOne { path: "stopped".into() }) } else { Ok(()) }
    };
    assert!(journal.each::<u32, JournalError>(&mut each).is_err(), "what the taker says is passed on");
    assert_eq!(found, [1, 2, 3]);
    journal.remove().unwrap();
    assert!(!path.exists());
    let fault = Journal::open(folder.path(), true).unwrap_err();
    assert!(matches!(fault, JournalError::File { .. }), "{fault}");
    assert!(fault.to_string().starts_with(&folder.path().display().to_string()));
}

#[test]
fn file_names_tell_drying_times_only_when_they_can_be_meant() {
    let hours = lees::drying::hours_in_name;
    for (name, wanted) in [
        ("dried-6h.jdx", Some(6.0)),
        ("batch 2.5 h.dx", Some(2.5)),
        ("x_90min.jdx", Some(1.5)),
        ("oven-3d.jdx", Some(72.0)),
        ("2 days/dye.jdx", None),
        ("48 hrs.jdx", Some(48.0)),
        ("before-drying.jdx", Some(0.0)),
        ("dye-400MHz.jdx", None),
        ("dye_1H.jdx", None),
        ("dye-1H-6h.jdx", Some(6.0)),
        ("dye 1h.jdx", Some(1.0)),
        ("dried 11H.jdx", Some(11.0)),
        ("dried-999999h.jdx", None),
        ("", None),
    ] {
        assert_eq!(hours(name), wanted, "{name}");
    }
}
