//! Results as they were when somebody last looked at them: a change of any digit must be meant.
//!
//! After a change that is meant, `LEES_FREEZE=1 cargo test -p lees-cli --test frozen` writes them anew; the difference
//! belongs into the same commit, with the reason in its message.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "helpers of tests fail the test")]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use serde_json::Value;

const PRODUCT: &str = "demo-spectra/thiazolyl-coumarin.toml";
/// Recipes that are simulated anew, with another seed than the files that lie beside them.
const RECIPES: [&str; 6] = [
    "demo-spectra/recipes/batch-6-h.toml",
    "demo-spectra/recipes/batch-before-drying-fid.toml",
    "demo-spectra/recipes/batch-impure.toml",
    "demo-spectra/recipes/fraction-3.toml",
    "examples/fractions/recipes/fraction-4.toml",
    "examples/fractions/recipes/fraction-7.toml",
];
const SEED: &str = "20260401";

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// Standard output of a run from the top of the tree.
fn lees(args: &[&str]) -> String {
    lees_in(&root(), args)
}

fn lees_in(folder: &Path, args: &[&str]) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_lees"))
        .args(args)
        .current_dir(folder)
        .stdin(Stdio::null())
        .output()
        .expect("the program starts");
    let told = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{args:?}: {told}");
    String::from_utf8(output.stdout).expect("UTF-8")
}

/// Compares with what is kept in `tests/frozen/name`, or keeps it.
fn holds(name: &str, now: &str) {
    let path = root().join("tests/frozen").join(name);
    if std::env::var_os("LEES_FREEZE").is_some() {
        return fs::write(&path, now).unwrap();
    }
    let kept = fs::read_to_string(&path).unwrap_or_default();
    let differs = |(_, (a, b)): &(usize, (&str, &str))| a != b;
    if let Some((at, (was, is))) = kept.lines().zip(now.lines()).enumerate().find(differs) {
        panic!("{name}, line {}: was\n{was}\nand is\n{is}\n(see tests/frozen/main.rs)", at + 1);
    }
    assert_eq!(kept.lines().count(), now.lines().count(), "{name}: lines (see tests/frozen/main.rs)");
}

#[test]
fn the_demo() {
    let check = ["check", "demo-spectra", "--product", PRODUCT, "--format", "csv", "--rows"];
    holds("demo-findings.csv", &lees(&[&check[..], &["findings"]].concat()));
    holds("demo-spectra.csv", &lees(&[&check[..], &["spectra"]].concat()));
}

#[test]
fn the_fractions() {
    let check =
        ["check", "--sheet", "examples/fractions/fractions.csv", "--product", PRODUCT, "--format", "csv"];
    holds("fractions-findings.csv", &lees(&[&check[..], &["--rows", "findings"]].concat()));
    holds("fractions-spectra.csv", &lees(&[&check[..], &["--rows", "spectra"]].concat()));
}

#[test]
fn without_a_product() {
    let files =
        ["demo-spectra/batch-2-h.jdx", "demo-spectra/batch-impure.jdx", "demo-spectra/fraction-3.jdx"];
    holds("no-product.csv", &lees(&[&["check"], &files[..], &["--format", "csv"]].concat()));
}

#[test]
fn simulated_anew() {
    let folder = tempfile::tempdir().unwrap();
    for (number, recipe) in RECIPES.iter().enumerate() {
        let output = folder.path().join(format!("{number}.jdx"));
        lees(&["simulate", recipe, "--seed", SEED, "-o", output.to_str().unwrap()]);
    }
    let product = root().join(PRODUCT);
    let args = ["check", ".", "--product", product.to_str().unwrap(), "--format", "csv"];
    holds("simulated.csv", &lees_in(folder.path(), &args));
}

#[test]
fn whole_results_and_other_renderings() {
    let file = "demo-spectra/batch-2-h.jdx";
    let object = lees(&["check", file, "--product", PRODUCT, "--format", "json"]);
    let object: Value = serde_json::from_str(&object).unwrap();
    holds("whole.json", &(serde_json::to_string_pretty(&object).unwrap() + "\n"));
    holds("explained.txt", &lees(&["check", file, "--product", PRODUCT, "--explain"]));
    holds("listing.txt", &lees(&["listing", file, "--product", PRODUCT]));
    let series = ["demo-spectra/batch-2-h.jdx", "demo-spectra/batch-6-h.jdx", "demo-spectra/batch-16-h.jdx"];
    holds("drying.txt", &lees(&[&["drying"], &series[..], &["--product", PRODUCT]].concat()));
}

#[test]
fn the_same_bytes_on_every_run_and_any_number_of_threads() {
    let check = ["check", "demo-spectra", "--product", PRODUCT, "--format", "json", "--jobs"];
    let first = lees(&[&check[..], &["1"]].concat());
    for jobs in ["1", "2", "5"] {
        assert_eq!(first, lees(&[&check[..], &[jobs]].concat()), "{jobs} threads");
    }
}

/// Version, tables and settings as written into a result.
fn provenance(args: &[&str]) -> [String; 3] {
    let file = ["check", "demo-spectra/batch-16-h.jdx", "--product", PRODUCT, "--format", "json"];
    let object: Value = serde_json::from_str(&lees(&[&file[..], args].concat())).unwrap();
    let text = |name: &str| object["provenance"][name].as_str().expect("a text").to_owned();
    [text("version"), text("tables"), text("settings")]
}

#[test]
fn results_say_what_made_them() {
    let [version, tables, settings] = provenance(&[]);
    assert_eq!(version, env!("CARGO_PKG_VERSION"));
    assert_eq!(provenance(&[]), [version.clone(), tables.clone(), settings.clone()]);
    let other_setting = provenance(&["--set", "process.baseline.period_hz=900"]);
    assert_eq!(other_setting[..2], [version.clone(), tables.clone()]);
    assert_ne!(other_setting[2], settings);
    assert_ne!(provenance(&["--total-limit", "0.4 wt%"])[2], settings);
    let folder = tempfile::tempdir().unwrap();
    let table = folder.path().join("own.csv");
    fs::write(&table, "compound,formula,group,n_h,multiplicity,CDCl3\nmystery,C2H6O,CH3,3,s,2.2\n").unwrap();
    assert_ne!(provenance(&["--table", table.to_str().unwrap()])[1], tables);
}
