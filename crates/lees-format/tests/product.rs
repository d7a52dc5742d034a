//! Product files: what is understood, and what each fault says.

#![allow(clippy::unwrap_used, clippy::panic, clippy::print_stdout)]

use lees_format::product::{parse, require_signals};

const GOOD: &str = "name = \"coumarin dye\"\nformula = \"C16H14F3NO2\"\nmolar_mass = 309.29\n\
    signals = \"6.70 (d, J = 2.5 Hz, 1H), 7.42 (d, J = 9.0 Hz, 1H), 3.43 (q, J = 7.1 Hz, 4H)\"\nquantify = [\"7.3-7.5\"]\n\
    [limits]\ntotal = \"0.5 wt%\"\n\"2-propanol\" = \"5000 ppm\"\n";

#[test]
fn a_whole_product() {
    let product = parse(GOOD, "p.toml").unwrap();
    assert_eq!((product.name.as_str(), product.molar_mass), ("coumarin dye", 309.29));
    assert_eq!(product.signals[0].range.high.0, 7.42, "highest shift first");
    assert_eq!(product.quantify[0].low.0, 7.3);
    assert!((product.limits.total.unwrap().wt_percent() - 0.5).abs() < 1e-12);
    assert!((product.limits.each["2-propanol"].ppm() - 5000.0).abs() < 1e-6);
    assert!(require_signals(&product, "p.toml").is_ok());
}

#[test]
fn faults_say_where_and_what() {
    for (from, to, place, words) in [
        ("name", "nmae", "line 1, column 1", "unknown field"),
        ("C16H14F3NO2", "C16Xx4", "line 2, column", "starts no element symbol"),
        ("309.29", "310.29", "line 3, column 14", "molar mass 310.29 where C16H14F3NO2 has 309.2"),
        ("309.29", "-1.0", "line 3, column 14", "a positive number"),
        ("3.43 (q", "3.43 [q", "line 4, column", ""),
        ("(d, J = 2.5 Hz, 1H)", "(d, J = 2.5 Hz)", "line 4, column 18", "without protons"),
        ("7.3-7.5", "7.3 to x", "line 5, column", "`to x`"),
        ("0.5 wt%", "0.5 mol%", "line 7, column 9", "not a unit of mass fraction"),
        ("5000 ppm", "0.5", "line 8, column 16", "`0.5` has no unit"),
        ("\"0.5 wt%\"", "0.5", "line 7, column 9", "in quotation marks, a limit with its unit"),
        ("[limits]\n", "", "line 7, column 1", "and after them [limits]"),
        ("[\"7.3-7.5\"]", "[\"5.0-5.1\"]", "line 5, column 13", "where no signal of the product stands"),
        (
            "7.1 Hz, 4H",
            "7.1 Hz, 14H",
            "line 4, column 11",
            "signals with 16 H together where C16H14F3NO2 has 14",
        ),
    ] {
        let error = parse(&GOOD.replacen(from, to, 1), "p.toml");
        if words.is_empty() {
            continue;
        }
        let line = error.unwrap_err().to_string();
        assert!(line.starts_with(&format!("p.toml, {place}")), "{line}");
        assert!(line.contains(words) && !line.contains('\n'), "{line}");
    }
}

#[test]
fn a_mass_is_needed_and_signals_may_be() {
    let error = parse("name = \"x\"\n", "p.toml").unwrap_err();
    assert!(error.to_string().contains("neither `formula` nor `molar_mass`"), "{error}");
    let product = parse("molar_mass = 100\n", "p.toml").unwrap();
    let error = require_signals(&product, "p.toml").unwrap_err();
    assert!(error.to_string().contains("without signals"), "{error}");
}

#[test]
fn a_fault_is_one_line_whatever_the_input_quotes() {
    for text in [
        "formula = \"C2\\nX\\u001b[31m\"",
        "formula = \"C0\"",
        "molar_mass = 1\n[limits]\ntotal = \"1\\n2 wt%\"",
    ] {
        let line = parse(text, "p.toml").unwrap_err().to_string();
        assert!(!line.contains(char::is_control), "{line}");
    }
}

#[test]
fn the_slips_of_a_first_product_file_are_answered() {
    for (line, hint) in [
        ("limits = \"0.5 wt%\"", "[limits] on a line of its own"),
        ("total = \"0.5 wt%\"", "under a line [limits]"),
        ("signals = [\"3.86 (s, 3H)\", \"7.79 (d, 1H)\"]", "one text with commas between the signals"),
        ("[limits]\ntotal = 1", "in quotation marks, a limit with its unit"),
    ] {
        let text = format!("formula = \"C16H14O2\"\n{line}\n");
        let fault = parse(&text, "p.toml").unwrap_err().to_string();
        assert!(fault.starts_with("p.toml, line ") && fault.contains(hint), "{fault}");
    }
}
