//! `lees check` on the demo: verdicts, exit codes, and the planted truth.

use std::collections::BTreeMap;

use serde_json::Value;

use crate::run::{demo, lees, product};

/// Contents from which every planted solvent has to be found, wt%.
const ALWAYS_FOUND: f64 = 0.1;

fn check(name: &str) -> Value {
    let ran = lees(&["check", &demo(name), "--product", &product(), "--format", "json"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    serde_json::from_str(&ran.out).expect("one JSON object")
}

/// Planted contents in wt% by file, counted volatiles only.
fn truth() -> BTreeMap<String, Vec<(String, f64)>> {
    let mut planted: BTreeMap<String, Vec<(String, f64)>> = BTreeMap::new();
    let text = std::fs::read_to_string(demo("truth.csv")).unwrap();
    for row in csv::Reader::from_reader(text.as_bytes()).records() {
        let row = row.unwrap();
        if &row[2] == "yes" {
            planted.entry(row[0].to_owned()).or_default().push((row[1].to_owned(), row[5].parse().unwrap()));
        }
    }
    planted
}

/// Spectra in the demo.
const SPECTRA: usize = 9;

#[test]
fn every_planted_solvent_is_found_none_is_invented_and_the_truth_lies_within() {
    let planted = truth();
    assert_eq!(planted.len(), SPECTRA);
    for (file, solvents) in planted {
        let found = check(&file);
        let volatiles = found["volatiles"].as_array().unwrap();
        for volatile in volatiles {
            let name = volatile["name"].as_str().unwrap();
            let content = solvents.iter().find(|(planted, _)| planted == name).map(|(_, content)| *content);
            let content = content.unwrap_or_else(|| panic!("{file}: {name} was invented"));
            let (low, high) =
                (volatile["wt_percent_low"].as_f64().unwrap(), volatile["wt_percent_high"].as_f64().unwrap());
            assert!((low..=high).contains(&content), "{file}: {name} {content} in {low} to {high}");
        }
        for (name, content) in solvents.iter().filter(|(_, content)| *content >= ALWAYS_FOUND) {
            let seen = volatiles.iter().any(|volatile| volatile["name"] == name.as_str());
            assert!(seen, "{file}: {name} at {content} wt% was not found");
        }
        let total: f64 = solvents.iter().map(|(_, content)| content).sum();
        let (low, high) = (&found["total"]["wt_percent_low"], &found["total"]["wt_percent_high"]);
        assert!(
            low.as_f64().unwrap() <= total && total <= high.as_f64().unwrap(),
            "{file}: total {total} in {low} to {high}"
        );
    }
}

#[test]
fn verdicts_and_gate() {
    for (file, verdict, gated) in [
        ("batch-before-drying.jdx", "needs_drying", 10),
        ("batch-before-drying-fid.jdx", "needs_drying", 10),
        ("batch-2-h.jdx", "needs_drying", 10),
        ("batch-6-h.jdx", "needs_drying", 10),
        ("batch-16-h.jdx", "dry", 0),
        ("batch-impure.jdx", "undecided", 11),
    ] {
        assert_eq!(check(file)["verdict"], verdict, "{file}");
        let ran = lees(&["check", &demo(file), "--product", &product(), "--gate", "--format", "json"]);
        assert_eq!(ran.code, gated, "{file}: {}", ran.err);
    }
}

/// The impurity's ethyl group may be read as diethyl ether in place of 2-propanol, and so much ether is over the limit.
#[test]
fn a_rival_over_the_limit_leaves_it_open_until_it_is_excluded() {
    let found = check("batch-impure.jdx");
    let first = found["reasons"][0].as_str().unwrap();
    assert!(first.contains("2-propanol may be diethyl ether") && first.contains("match.exclude"), "{first}");
    let without = ["--set", "match.exclude=diethyl ether", "--format", "json"];
    let ran = lees(&[&["check", &demo("batch-impure.jdx"), "--product", &product()], &without[..]].concat());
    let found: Value = serde_json::from_str(&ran.out).expect("one JSON object");
    assert_eq!(found["verdict"], "dry", "{}", found["reasons"]);
    let reasons = found["reasons"].as_array().unwrap();
    assert!(reasons.iter().any(|r| r.as_str().unwrap().starts_with("Dry, but")), "{reasons:?}");
}

#[test]
fn the_impurity_that_is_no_solvent_is_left_unexplained() {
    let found = check("batch-impure.jdx");
    let aldehyde = found["unexplained"]
        .as_array()
        .unwrap()
        .iter()
        .any(|signal| signal["ppm"].as_f64().is_some_and(|ppm| (ppm - 9.5).abs() < 0.2));
    assert!(aldehyde, "the CHO line stands apart: {}", found["unexplained"]);
}

#[test]
fn without_a_product_amounts_are_mole_ratios() {
    let ran = lees(&["check", &demo("batch-before-drying.jdx"), "--format", "json"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let found: Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!(found["verdict"], "undecided");
    let propanol =
        found["volatiles"].as_array().unwrap().iter().find(|v| v["name"] == "2-propanol").expect("seen");
    assert!(propanol["wt_percent"].is_null(), "unknown is null");
    assert!(propanol["mole_ratio"].as_f64().unwrap() > 0.0);
    assert!(found["product"].is_null());
}

#[test]
fn the_text_says_the_verdict_first_and_colours_only_on_demand() {
    let plain = lees(&["check", &demo("batch-2-h.jdx"), "--product", &product()]);
    assert!(plain.out.starts_with("NEEDS DRYING"), "{}", plain.out);
    assert!(!plain.out.contains('\u{1b}'), "no escape codes in a pipe");
    let coloured = lees(&["check", &demo("batch-2-h.jdx"), "--product", &product(), "--color", "always"]);
    assert!(coloured.out.contains('\u{1b}'));
    for section in ["2-propanol", "Not counted", "Cautions"] {
        assert!(plain.out.contains(section), "{section}");
    }
}

#[test]
fn the_object_has_the_fixed_names() {
    let found = check("batch-2-h.jdx");
    assert_eq!(found["schema"], "lees/check/1");
    for key in [
        "input",
        "reference",
        "product",
        "volatiles",
        "total",
        "not_counted",
        "unexplained",
        "verdict",
        "reasons",
        "warnings",
        "settings",
    ] {
        assert!(found.get(key).is_some(), "{key}");
    }
    for key in [
        "name",
        "cas",
        "mole_ratio",
        "mol_percent",
        "wt_percent",
        "wt_percent_low",
        "wt_percent_high",
        "detection_limit_wt_percent",
        "limit_wt_percent",
        "status",
        "signals",
    ] {
        assert!(found["volatiles"][0].get(key).is_some(), "volatiles: {key}");
    }
    assert_eq!(found["input"]["kind"], "spectrum");
    assert_eq!(found["input"]["points"], 65536);
    assert_eq!(check("batch-before-drying-fid.jdx")["input"]["kind"], "fid");
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    let run = || lees(&["check", &demo("batch-2-h.jdx"), "--product", &product(), "--format", "json"]).out;
    assert_eq!(run(), run());
}

/// The couplings of volatiles are in hertz: at a wrong frequency ethanol is no ethanol.
#[test]
fn nothing_is_dry_at_a_guessed_frequency() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).display().to_string();
    let numbers = path("numbers.txt");
    assert_eq!(lees(&["convert", &demo("batch-16-h.jdx"), "-o", &numbers]).code, 0);
    let text = std::fs::read_to_string(&numbers).unwrap();
    let without: Vec<&str> = text.lines().filter(|line| !line.contains("frequency")).collect();
    std::fs::write(path("bare.txt"), without.join("\n")).unwrap();
    let verdict = |file: &str, more: &[&str]| {
        let (file, product) = (path(file), product());
        let ran = lees(&[&["check", &file, "--product", &product, "--format", "json"], more].concat());
        assert_eq!(ran.code, 0, "{}", ran.err);
        serde_json::from_str::<Value>(&ran.out).expect("one JSON object")
    };
    assert_eq!(verdict("numbers.txt", &[])["verdict"], "dry");
    assert_eq!(verdict("bare.txt", &["--field-mhz", "400.13"])["verdict"], "dry");
    let guessed = verdict("bare.txt", &[]);
    assert_eq!(guessed["verdict"], "undecided");
    assert!(guessed["reasons"][0].as_str().unwrap().contains("--field-mhz"), "{}", guessed["reasons"]);
}
