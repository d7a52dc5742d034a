//! Weighed amounts by the binary: internal standard, blank, corrected yield, trace; on spectra that the binary makes itself.

use std::path::{Path, PathBuf};

use serde_json::Value;

use crate::run::{Ran, lees_in, product};

/// A tube of the demo's dye: what lies beside the product, and what it is dissolved in.
struct Tube {
    folder: tempfile::TempDir,
}

/// Signals of the dye as they stand in the demo's recipes.
const DYE: &str = r#"
[product]
name = "dye"
formula = "C16H16N2O2S"
signals = [
  { at = 8.792, h = 1 },
  { name = "a", at = 7.871, h = 1, with = { b = 3.2 } },
  { name = "b", at = 7.412, h = 1 },
  { name = "5", at = 7.468, h = 1, with = { 6 = 8.9 } },
  { name = "6", at = 6.664, h = 1, with = { 8 = 2.4 } },
  { name = "8", at = 6.552, h = 1 },
  { name = "CH2", at = 3.462, h = 4, parts = 2, with = { CH3 = 7.1 } },
  { name = "CH3", at = 1.250, h = 6, parts = 2 },
]
"#;
const PROPANOL: &str = r#"
[[volatile]]
name = "2-propanol"
formula = "C3H8O"
wt_percent = 0.6
signals = [{ at = 4.04, h = 1, split = "sept 6.1" }, { at = 1.22, h = 6, split = "d 6.1" }]
"#;
const CHLOROFORM: &str =
    "[nmr_solvent]\nname = \"c\"\nformula = \"CHCl3\"\nmole_ratio = 0.45\nsignals = [{ at = 7.26, h = 1 }]\n";
const SULFOXIDE: &str = "[nmr_solvent]\nname = \"d\"\nformula = \"C2H6OS\"\nmole_ratio = 1.0\nsignals = [{ at = 2.50, h = 1, deuterium = { n = 2, j = 1.9 } }]\n";

fn water(at: f64, mole_ratio: f64) -> String {
    format!(
        "[water]\nname = \"water\"\nformula = \"H2O\"\nmole_ratio = {mole_ratio}\nsignals = [{{ at = {at}, h = 2, width = 2.5, exchange = true }}]\n"
    )
}

/// A substance beside the product: its lines as TOML.
fn other(mole_ratio: f64, lines: &str) -> String {
    format!(
        "[[other]]\nname = \"other\"\nmolar_mass = 100.0\nmole_ratio = {mole_ratio}\nsignals = [{lines}]\n"
    )
}

impl Tube {
    fn new() -> Self {
        Self { folder: tempfile::tempdir().unwrap() }
    }

    fn path(&self) -> &Path {
        self.folder.path()
    }

    /// Makes `name`.jdx.
    fn simulate(&self, name: &str, solvent: &str, parts: &[&str]) {
        let head = format!(
            "title = \"t\"\nseed = 41\n[instrument]\nsolvent = \"{solvent}\"\nrelaxation_delay_s = 60.0\npulse_angle_deg = 90.0\n[noise]\nsnr = 1000.0\n"
        );
        let recipe = format!("{name}.toml");
        std::fs::write(self.path().join(&recipe), head + &parts.concat()).unwrap();
        let ran = lees_in(self.path(), &["simulate", &recipe, "-o", &format!("{name}.jdx")]);
        assert_eq!(ran.code, 0, "{}", ran.err);
    }

    fn check(&self, args: &[&str]) -> Ran {
        let product = product();
        let mut all = vec!["check", "--product", &product];
        all.extend(args);
        lees_in(self.path(), &all)
    }

    fn json(&self, args: &[&str]) -> Value {
        let mut all = args.to_vec();
        all.extend(["--format", "json"]);
        let ran = self.check(&all);
        assert_eq!(ran.code, 0, "{}", ran.err);
        serde_json::from_str(&ran.out).unwrap()
    }

    fn folder(&self, name: &str) -> Vec<PathBuf> {
        let mut all: Vec<PathBuf> =
            std::fs::read_dir(self.path().join(name)).unwrap().map(|entry| entry.unwrap().path()).collect();
        all.sort();
        all
    }
}

/// Moles of standard per mole of product for masses in mg and a purity as mass fraction.
fn ratio(standard_mg: f64, molar_mass: f64, sample_mg: f64, purity: f64) -> f64 {
    standard_mg / molar_mass / (sample_mg * purity / 300.376)
}

fn number(value: &Value, path: &str) -> f64 {
    value.pointer(path).and_then(Value::as_f64).unwrap_or_else(|| panic!("{path} in {value}"))
}

fn names(found: &Value, key: &str) -> Vec<String> {
    found[key].as_array().unwrap().iter().map(|entry| entry["name"].as_str().unwrap().to_owned()).collect()
}

fn warned(found: &Value, text: &str) -> bool {
    found["warnings"].as_array().unwrap().iter().any(|warning| warning.as_str().unwrap().contains(text))
}

const WEIGHED: [&str; 4] = ["--standard-mass", "5", "--sample-mass", "20"];

fn with<'a>(file: &'a str, standard: &'a str) -> Vec<&'a str> {
    let mut args = vec![file, "--standard", standard];
    args.extend(WEIGHED);
    args
}

/// 72 % of the sample is product, the rest a salt that no proton shows. Without standard the yield must not be sure.
#[test]
fn a_yield_by_difference_says_what_it_does_not_know() {
    let tube = Tube::new();
    let sulfone = other(ratio(5.0, 94.128, 20.0, 0.72), "{ at = 3.0, h = 6 }");
    tube.simulate("salt", "CDCl3", &[DYE, CHLOROFORM, &water(1.55, 0.05), &sulfone]);
    let masses = ["--mass", "1.0", "--theoretical", "1.0"];
    let mut args = vec!["salt.jdx"];
    args.extend(masses);
    let found = tube.json(&args);
    let percent = |key: &str| number(&found, &format!("/corrected_yield/yield_percent/{key}"));
    assert_eq!(found["corrected_yield"]["basis"], "difference");
    let total = |key: &str| number(&found, &format!("/total/{key}"));
    assert!(percent("high") - percent("low") >= total("wt_percent_high") - total("wt_percent_low"));
    // the sulfone lies in the tube, in the batch or not: 25.7 wt% beside the product
    assert!(percent("low") < 75.0 && percent("high") > 99.0, "{}", found["corrected_yield"]);
    let said = found["corrected_yield"]["not_known"].to_string();
    for part in ["Salts", "silica", "dimethyl sulfone", "--standard", "water"] {
        assert!(said.contains(part), "{part} in {said}");
    }
    let text = tube.check(&args).out;
    assert!(text.contains("by difference: an upper bound"), "{text}");
    let product = product();
    let mut report = vec!["report", "salt.jdx", "-o", "page.html", "--product", &product];
    report.extend(masses);
    assert_eq!(lees_in(tube.path(), &report).code, 0);
    let page = std::fs::read_to_string(tube.path().join("page.html")).expect("a page");
    assert!(page.contains("corrected yield") && page.contains("by difference: an upper bound"));
    // with the standard weighed in, the salt shows
    let mut weighed = with("salt.jdx", "dimethyl sulfone");
    weighed.extend(masses);
    let found = tube.json(&weighed);
    assert_eq!(found["corrected_yield"]["basis"], "internal standard");
    let percent = |key: &str| number(&found, &format!("/corrected_yield/yield_percent/{key}"));
    assert!(percent("low") < 72.0 && 72.0 < percent("high") && percent("high") < 75.0);
    assert!(names(&found, "not_counted").contains(&"dimethyl sulfone".to_owned()));
}

/// Benzoic acid shows where it is not integrated; none of that may be named as a volatile.
#[test]
fn a_standard_with_multiplets_is_not_taken_for_volatiles() {
    let tube = Tube::new();
    let acid = other(
        ratio(5.0, 122.123, 20.0, 0.9),
        r#"{ name = "o", at = 8.13, h = 2, with = { m = 7.9, p = 1.3 } }, { name = "m", at = 7.48, h = 2, with = { p = 7.5 } },
           { name = "p", at = 7.62, h = 1 }, { at = 11.5, h = 1, width = 40, exchange = true }"#,
    );
    tube.simulate("acid", "CDCl3", &[DYE, CHLOROFORM, &water(1.55, 0.05), &acid]);
    let found = tube.json(&with("acid.jdx", "benzoic acid"));
    assert_eq!(names(&found, "volatiles"), Vec::<String>::new());
    assert!(names(&found, "not_counted").contains(&"CHCl3 in CDCl3".to_owned()));
    assert!(
        (number(&found, "/purity/wt_percent_low")..number(&found, "/purity/wt_percent_high")).contains(&90.0)
    );
}

#[test]
fn a_standard_of_ones_own_needs_few_columns_and_is_told_what_is_wrong() {
    let tube = Tube::new();
    let ether = other(
        ratio(5.0, 187.036, 20.0, 0.9),
        r#"{ at = 3.78, h = 3 }, { at = 7.35, h = 2, split = "d 9.0" }, { at = 6.78, h = 2, split = "d 9.0" }"#,
    );
    tube.simulate("own", "CDCl3", &[DYE, CHLOROFORM, &water(1.55, 0.05), &ether]);
    let write = |name: &str, text: &str| std::fs::write(tube.path().join(name), text).unwrap();
    let head = "compound,formula,signal,n_h,multiplicity,quantify,CDCl3\n";
    let rows = "bromoanisole,C7H7BrO,OCH3,3,s,yes,3.78\nbromoanisole,C7H7BrO,ArH,2,d,no,6.72..6.84\nbromoanisole,C7H7BrO,ArH,2,d,no,7.30..7.38\n";
    write("own.csv", &(head.to_owned() + rows));
    let found = tube.json(&with("own.jdx", "own.csv"));
    assert_eq!(names(&found, "volatiles"), Vec::<String>::new(), "{}", found["volatiles"]);
    assert!((number(&found, "/purity/wt_percent") / 90.0 - 1.0).abs() < 0.01, "{}", found["purity"]);
    // told of protons without a place
    write("few.csv", &(head.to_owned() + rows.lines().next().unwrap()));
    let found = tube.json(&with("own.jdx", "few.csv"));
    assert!(warned(&found, "4 of the 7 protons"), "{}", found["warnings"]);
    for (name, text, said) in [
        ("nine.csv", format!("{head}bromoanisole,C7H7BrO,OCH3,9,s,yes,3.78\n"), "7 protons in all"),
        ("solvent.csv", head.replace("CDCl3", "CDCl4") + rows, "column `CDCl4`"),
        ("words.csv", "hello\n".to_owned(), "compound, formula, signal, n_h"),
        ("empty.csv", head.to_owned(), "holds no standard"),
        ("two.csv", format!("{head}{rows}xylitol,C5H12O5,CH,1,m,yes,3.7\n"), "several standards"),
    ] {
        write(name, &text);
        let ran = tube.check(&with("own.jdx", name));
        assert_eq!(ran.code, 2, "{name}");
        assert!(ran.err.contains(said) && ran.err.contains(name), "{name}: {}", ran.err);
    }
    // elsewhere than in the table: no purity, and a word
    write("elsewhere.csv", &(head.replace("CDCl3", "DMSO-d6") + rows.lines().next().unwrap()));
    let found = tube.json(&with("own.jdx", "elsewhere.csv"));
    assert!(found["purity"].is_null());
    assert!(warned(&found, "no shift of bromoanisole in CDCl3"), "{}", found["warnings"]);
}

#[test]
fn a_standard_under_the_product_gives_no_purity_and_no_false_volatile() {
    let tube = Tube::new();
    let caffeine = other(
        ratio(5.0, 194.194, 20.0, 0.9),
        "{ at = 7.46, h = 1 }, { at = 3.99, h = 3 }, { at = 3.58, h = 3 }, { at = 3.40, h = 3 }",
    );
    tube.simulate("covered", "CDCl3", &[DYE, CHLOROFORM, &water(1.55, 0.05), &caffeine]);
    let found = tube.json(&with("covered.jdx", "caffeine"));
    assert!(found["purity"].is_null());
    assert!(warned(&found, "the product has signals near 7.51 ppm"), "{}", found["warnings"]);
    assert_eq!(names(&found, "volatiles"), Vec::<String>::new(), "{}", found["volatiles"]);
}

#[test]
fn impossible_masses_are_refused_or_said() {
    let tube = Tube::new();
    let sulfone = other(ratio(5.0, 94.128, 20.0, 0.9), "{ at = 3.0, h = 6 }");
    tube.simulate("mass", "CDCl3", &[DYE, CHLOROFORM, &sulfone]);
    for (flag, value, said) in [
        ("--standard-mass", "0", "must be above 0 mg"),
        ("--standard-mass", "-1", "must be above 0 mg"),
        ("--standard-mass", "nan", "must be above 0 mg"),
        ("--standard-mass", "1e99", "up to 10000 mg"),
        ("--sample-mass", "-20", "must be above 0 mg"),
        ("--standard-purity", "0.998", "in per cent by mass"),
        ("--standard-purity", "101", "must be over 1 to 100"),
        ("--mass", "-1", "must be above 0 g"),
        ("--mass", "0", "must be above 0 g"),
    ] {
        let mut args = vec!["mass.jdx", "--standard", "dimethyl sulfone"];
        let masses = [("--standard-mass", "5"), ("--sample-mass", "20")];
        args.extend(masses.iter().filter(|(name, _)| *name != flag).flat_map(|(name, mass)| [*name, *mass]));
        args.extend([flag, value]);
        let ran = tube.check(&args);
        assert_eq!(ran.code, 2, "{flag} {value}: {}", ran.out);
        assert!(ran.err.contains(said), "{flag} {value}: {}", ran.err);
    }
    // a slip between 5 and 50 mg cannot be a purity
    let heavy =
        tube.json(&["mass.jdx", "--standard", "DMSO2", "--standard-mass", "50", "--sample-mass", "20"]);
    assert!(heavy["purity"].is_null());
    let printed = heavy["warnings"].to_string();
    let percent = printed.split(" % pure").next().and_then(|before| before.rsplit(' ').next());
    let percent: f64 = percent.and_then(|p| p.parse().ok()).expect("a percentage");
    assert!((percent - 900.0).abs() < 9.0, "{percent}: {printed}");
    // nor one of the sample's mass by half
    let light =
        tube.json(&["mass.jdx", "--standard", "DMSO2", "--standard-mass", "5", "--sample-mass", "10"]);
    assert!(number(&light, "/purity/wt_percent") > 150.0);
    assert!(warned(&light, "cannot be: check both masses"), "{}", light["warnings"]);
    // and a yield over the theory is said to be
    let yielded = tube.json(&["mass.jdx", "--mass", "1.0", "--theoretical", "0.5"]);
    assert!(warned(&yielded, "cannot be: check the masses (both in g)"), "{}", yielded["warnings"]);
}

#[test]
fn a_blank_takes_off_the_solvents_water_and_says_so() {
    let tube = Tube::new();
    // 0.05 of 0.15 comes with the solvent: the blank has 0.05 water beside 0.45 of its own residual line
    tube.simulate("wet", "CDCl3", &[DYE, PROPANOL, CHLOROFORM, &water(1.55, 0.15)]);
    tube.simulate("blank", "CDCl3", &[CHLOROFORM, &water(1.55, 0.05)]);
    let found = tube.json(&["wet.jdx", "--blank", "blank.jdx"]);
    let of_water = found["volatiles"].as_array().unwrap().iter().find(|v| v["name"] == "water").unwrap();
    let truth = 100.0 * 0.10 * 18.015 / (300.376 / 0.994 + 0.10 * 18.015);
    let (low, high) = (number(of_water, "/wt_percent_low"), number(of_water, "/wt_percent_high"));
    assert!((low..=high).contains(&truth), "{truth} in {low} to {high}");
    let between = |found: &Value| -> f64 {
        let all = found["volatiles"].as_array().unwrap();
        let water = all.iter().find(|v| v["name"] == "water").unwrap();
        let budget = water["budget"].as_array().unwrap();
        let entry = budget.iter().find(|e| e["source"].as_str().unwrap().contains("between tubes")).unwrap();
        entry["percent"].as_f64().unwrap()
    };
    let usual = between(&found);
    assert!((usual - 7.5).abs() < 0.6, "15 % of 0.05 beside the 0.10 left: {usual}");
    let careful =
        tube.json(&["wet.jdx", "--blank", "blank.jdx", "--set", "match.weighed.tube_to_tube_percent=3"]);
    assert!((between(&careful) / usual - 0.2).abs() < 0.02);
    let explained = tube.check(&["wet.jdx", "--blank", "blank.jdx", "--explain"]).out;
    assert!(
        explained.contains("15 % between tubes") && explained.contains("tube_to_tube_percent"),
        "{explained}"
    );
    let refused =
        tube.check(&["wet.jdx", "--blank", "blank.jdx", "--set", "match.weighed.tube_to_tube_percent=-1"]);
    assert_eq!(refused.code, 2);
}

#[test]
fn a_blank_that_is_none_is_refused_or_said() {
    let tube = Tube::new();
    tube.simulate("wet", "CDCl3", &[DYE, PROPANOL, CHLOROFORM, &water(1.55, 0.15)]);
    tube.simulate("blank", "CDCl3", &[CHLOROFORM, &water(1.55, 0.05)]);
    tube.simulate("sulfoxide", "DMSO-d6", &[SULFOXIDE, &water(3.33, 0.5)]);
    // another NMR solvent: said, nothing taken off
    let found = tube.json(&["wet.jdx", "--blank", "sulfoxide.jdx"]);
    assert!(warned(&found, "nothing was subtracted"), "{}", found["warnings"]);
    assert!(names(&found, "not_counted").contains(&"water".to_owned()));
    // the sample itself: refused, for it would take everything off
    let ran = tube.check(&["wet.jdx", "--blank", "wet.jdx"]);
    assert_eq!(ran.code, 2, "{}", ran.out);
    assert!(ran.err.contains("a blank is the NMR solvent alone"), "{}", ran.err);
    assert_eq!(ran.err.matches("wet.jdx").count(), 1, "the file is named once: {}", ran.err);
    // the blank among the samples: not taken off itself
    let found = tube.json(&["blank.jdx", "--blank", "blank.jdx"]);
    assert!(warned(&found, "this is the blank itself"), "{}", found["warnings"]);
    assert_eq!(tube.check(&["wet.jdx", "--blank", "nowhere.jdx"]).code, 2);
}

/// A limit on water and a spectrum without a water line: not silently dry.
#[test]
fn a_limit_on_water_without_a_water_line_is_not_met_in_silence() {
    let tube = Tube::new();
    tube.simulate("dry", "CDCl3", &[DYE, CHLOROFORM]);
    let text = std::fs::read_to_string(product()).unwrap();
    let limits = text.find("[limits]").unwrap();
    let own = format!("{}[limits]\nwater = \"0.3 wt%\"\n", &text[..limits]);
    std::fs::write(tube.path().join("water.toml"), own).unwrap();
    let ran = lees_in(tube.path(), &["check", "dry.jdx", "--product", "water.toml", "--format", "json"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let found: Value = serde_json::from_str(&ran.out).unwrap();
    let said = found["reasons"].to_string();
    assert!(said.contains("water"), "{said}");
    if found["verdict"] == "dry" {
        assert!(said.contains("not found: below"), "dry only by what would have been seen: {said}");
    }
}

#[test]
fn traces_of_several_files_keep_apart_and_hold_every_step() {
    let tube = Tube::new();
    tube.simulate("a_b", "CDCl3", &[DYE, PROPANOL, CHLOROFORM]);
    std::fs::create_dir(tube.path().join("a")).unwrap();
    std::fs::copy(tube.path().join("a_b.jdx"), tube.path().join("a/b.jdx")).unwrap();
    let fid = crate::run::demo("batch-before-drying-fid.jdx");
    std::fs::copy(fid, tube.path().join("fid.jdx")).unwrap();
    let ran = tube.check(&["a_b.jdx", "a/b.jdx", "fid.jdx", "--trace", "trace", "--format", "json"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let folders = tube.folder("trace");
    assert_eq!(folders.len(), 3, "{folders:?}");
    for folder in &folders {
        for name in
            ["spectrum.csv", "baseline.csv", "lines.csv", "multiplets.csv", "windows.csv", "check.json"]
        {
            assert!(folder.join(name).metadata().unwrap().len() > 40, "{} of {folder:?}", name);
        }
        for name in ["figure.png", "steps.png"] {
            let bytes = std::fs::read(folder.join(name)).unwrap();
            assert!(bytes.starts_with(b"\x89PNG\r\n\x1a\n"), "{name}");
        }
    }
    phase_of_a_fid(&tube.path().join("trace/fid.jdx"));
}

/// The columns before and after differ by the phase in the third, everywhere.
fn phase_of_a_fid(folder: &Path) {
    let mut reader = csv::Reader::from_path(folder.join("phase.csv")).unwrap();
    let header = ["shift_ppm", "real_before", "imaginary_before", "phase_deg", "real", "imaginary"];
    assert_eq!(reader.headers().unwrap(), header.as_slice());
    let mut largest: f64 = 0.0;
    for row in reader.records().map(Result::unwrap) {
        let cell = |k: usize| row[k].parse::<f64>().unwrap();
        let (sin, cos) = libm::sincos(cell(3).to_radians());
        let turned = cell(1) * cos + cell(2) * sin;
        assert!((turned - cell(4)).abs() <= 1e-9 * libm::hypot(cell(1), cell(2)), "{row:?}");
        largest = largest.max(cell(3).abs());
    }
    assert!(largest > 100.0, "the demo's decay has a receiver phase of over 100 degrees: {largest}");
    assert!(folder.join("phase-lines.csv").exists());
}
