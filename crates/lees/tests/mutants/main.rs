//! Damaged spectra through the whole check: an error or a result that holds together, never a panic, soon, and in
//! little memory.
//!
//! The good files are the demo's and, when there is a folder of measured spectra, its files too. `LEES_MUTANTS` says
//! how many damaged copies are made, `LEES_MUTANTS_FROM` which seed is the first.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "helpers of tests fail the test")]

mod mutate;

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use lees::{Checker, Job};
use lees_core::check::Check;
use lees_format::write::{self, Encoding, WriteOptions};
use lees_format::{Chosen, Prefer};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Copies when `LEES_MUTANTS` does not say.
const USUAL: u64 = 300;
/// Larger files are left out: most of the time would be spent on them.
const LARGEST: u64 = 350 << 10;
/// Longest a copy may take. A good one takes some 0.1 s; the machine may be busy.
const LONGEST: Duration = Duration::from_secs(60);
/// Most memory the whole test may take, in KiB: 4 Mi points in a few arrays on each thread.
const MOST_MEMORY_KIB: u64 = 2 << 20;
/// Threads; each keeps its checker, so that what one copy leaves behind would show in the next.
const THREADS: usize = 2;

#[derive(Default)]
struct Tally {
    checked: u64,
    refused: u64,
    slowest: Duration,
    faults: Vec<String>,
}

#[test]
fn damaged_spectra_are_refused_or_checked_and_nothing_else() {
    let (good, measured) = good_files();
    let number =
        |name: &str, usual| std::env::var(name).map_or(usual, |text| text.parse().expect("a number"));
    let (count, from) = (number("LEES_MUTANTS", USUAL), number("LEES_MUTANTS_FROM", 0));
    let (next, tally) = (AtomicU64::new(from), Mutex::new(Tally::default()));
    std::thread::scope(|scope| {
        for _ in 0..THREADS {
            scope.spawn(|| work(&good, &next, from + count, &tally));
        }
    });
    let tally = tally.into_inner().unwrap();
    println!(
        "{count} damaged copies of {} files ({measured} of them measured): {} refused, {} checked, the slowest took \
         {:.2} s, {} MiB at most",
        good.len(),
        tally.refused,
        tally.checked,
        tally.slowest.as_secs_f64(),
        most_memory_kib().unwrap_or(0) / 1024
    );
    assert!(tally.faults.is_empty(), "{} faults, such as\n{}", tally.faults.len(), tally.faults[0]);
    assert_eq!(tally.refused + tally.checked, count);
    assert!(tally.slowest < LONGEST, "{:?}", tally.slowest);
    assert!(most_memory_kib().is_none_or(|kib| kib < MOST_MEMORY_KIB));
    let some = count / 20;
    assert!(tally.refused > some && tally.checked > some, "the damage is neither too small nor too great");
}

/// Takes seeds until there are no more.
fn work(good: &[Vec<u8>], next: &AtomicU64, end: u64, tally: &Mutex<Tally>) {
    let job = job();
    let mut checker = Checker::new(&job).unwrap();
    loop {
        let seed = next.fetch_add(1, Ordering::SeqCst);
        if seed >= end {
            return;
        }
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let mut pick = || good[rng.random_range(0..good.len())].as_slice();
        let (one, other) = (pick(), pick());
        let bytes = mutate::mutate(one, other, &mut rng);
        let begun = Instant::now();
        let ended = catch_unwind(AssertUnwindSafe(|| one_copy(&mut checker, &bytes)));
        let took = begun.elapsed();
        let mut tally = tally.lock().unwrap();
        tally.slowest = tally.slowest.max(took);
        match ended {
            Ok(Ok(true)) => tally.checked += 1,
            Ok(Ok(false)) => tally.refused += 1,
            Ok(Err(why)) => tally.faults.push(format!("seed {seed}: {why}")),
            Err(_) => {
                tally.faults.push(format!("seed {seed}: a panic"));
                checker = Checker::new(&job).unwrap();
            }
        }
    }
}

/// Whether something was checked; an error when what came out does not hold together.
fn one_copy(checker: &mut Checker<'_>, bytes: &[u8]) -> Result<bool, String> {
    let messages = match checker.check(bytes, "copy.jdx") {
        Err(fault) => vec![fault.to_string()],
        Ok(results) => {
            let mut messages = Vec::new();
            for result in results {
                match result {
                    Ok(check) => holds_together(&check)?,
                    Err(fault) => messages.push(fault.to_string()),
                }
            }
            messages
        }
    };
    match messages.iter().find(|text| text.chars().any(char::is_control) || !text.contains("copy.jdx")) {
        Some(odd) => Err(format!("not a plain line that names the file: {odd:?}")),
        None => Ok(messages.is_empty()),
    }
}

fn holds_together(check: &Check) -> Result<(), String> {
    let amounts = check.volatiles.iter().filter_map(|finding| finding.wt_percent.as_ref());
    for amount in amounts.chain(&check.total.wt_percent) {
        let (low, value, high) = (amount.low, amount.value, amount.high);
        let ordered = low <= value && value <= high && low >= 0.0 && high.is_finite();
        if !ordered {
            return Err(format!("{value} with the interval {low} to {high}"));
        }
    }
    if check.reasons.is_empty() {
        return Err("a verdict without a reason".to_owned());
    }
    Ok(())
}

fn top() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn job() -> Job {
    let name = "thiazolyl-coumarin.toml";
    let text = std::fs::read_to_string(top().join("demo-spectra").join(name)).unwrap();
    Job { product: Some(lees_format::product::parse(&text, name).unwrap()), ..Job::default() }
}

/// The contents of the good files, and how many of them are measured spectra.
fn good_files() -> (Vec<Vec<u8>>, usize) {
    let corpus =
        std::env::var_os("LEES_CORPUS").map_or_else(|| top().join("../shared/corpus"), PathBuf::from);
    let mut good: Vec<Vec<u8>> =
        ["demo-spectra", "examples/fractions", "fuzz/seeds/text", "fuzz/seeds/archive"]
            .iter()
            .flat_map(|folder| files(&top().join(folder)))
            .collect();
    good.extend(plainer(&good));
    let own = good.len();
    good.extend(files(&corpus));
    let measured = good.len() - own;
    (good, measured)
}

/// The same measurements as columns and with plain numbers, where damage is not noticed as soon as in packed ones.
fn plainer(packed: &[Vec<u8>]) -> Vec<Vec<u8>> {
    let plain = WriteOptions { encoding: Encoding::Affn, ..WriteOptions::default() };
    let documents = packed.iter().filter_map(|bytes| lees_format::read(bytes, "", &Default::default()).ok());
    let measurements = documents.flat_map(|document| document.measurements(Prefer::Both).unwrap_or_default());
    let forms = |chosen: Chosen| {
        [write::text(&chosen.measurement, &plain).bytes, write::jcamp(&chosen.measurement, &plain).bytes]
    };
    measurements.flat_map(forms).collect()
}

fn files(folder: &Path) -> Vec<Vec<u8>> {
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let mut paths: Vec<PathBuf> = entries.map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    let small = |path: &PathBuf| path.metadata().is_ok_and(|m| m.is_file() && m.len() < LARGEST);
    paths.iter().filter(|path| small(path)).map(|path| std::fs::read(path).unwrap()).collect()
}

/// The most memory this process ever had, where the system tells (Linux).
fn most_memory_kib() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}
