//! Nonsense in: one clear line, the right exit code, nothing written.

use std::fs;

use crate::run::{demo, lees, lees_in, product};

/// Runs a check on a file with the given bytes; nothing else may appear in its folder.
fn check_bytes(name: &str, bytes: &[u8]) -> crate::run::Ran {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join(name), bytes).unwrap();
    let ran = lees_in(folder.path(), &["check", name, "--product", &product()]);
    let left: Vec<_> = fs::read_dir(folder.path()).unwrap().map(|e| e.unwrap().file_name()).collect();
    assert_eq!(left, [name], "nothing was written");
    ran
}

fn one_line(ran: &crate::run::Ran, code: i32, words: &[&str]) {
    assert_eq!(ran.code, code, "{}", ran.err);
    assert_eq!(ran.out, "");
    assert_eq!(ran.err.lines().count(), 1, "{}", ran.err);
    for word in words {
        assert!(ran.err.contains(word), "`{word}` in: {}", ran.err);
    }
}

#[test]
fn an_empty_file() {
    one_line(&check_bytes("empty.jdx", b""), 1, &["empty.jdx"]);
}

#[test]
fn an_image_with_another_name() {
    let png = b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00\x00\x01\x00\x00\x00\x01\x08\x06";
    one_line(&check_bytes("image.jdx", png), 1, &["image.jdx", "allowed"]);
}

#[test]
fn a_truncated_file() {
    let whole = fs::read(demo("batch-2-h.jdx")).unwrap();
    let cut = whole.len() / 2;
    let ran = check_bytes("cut.jdx", &whole[..cut]);
    one_line(&ran, 1, &["cut.jdx"]);
}

#[test]
fn a_carbon_spectrum() {
    let text = fs::read_to_string(demo("batch-2-h.jdx")).unwrap();
    assert!(text.contains("^1H"));
    one_line(&check_bytes("carbon.jdx", text.replace("^1H", "^13C").as_bytes()), 1, &["carbon.jdx", "13C"]);
}

#[test]
fn a_missing_file_does_not_stop_the_others() {
    let ran =
        lees(&["check", "nowhere.jdx", &demo("batch-2-h.jdx"), "--product", &product(), "--format", "json"]);
    assert_eq!(ran.code, 1);
    assert_eq!(ran.out.lines().count(), 1);
    assert!(ran.err.contains("nowhere.jdx"), "{}", ran.err);
}

#[test]
fn a_product_without_signals() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("p.toml"), "name = 'x'\nformula = 'C9H6O2'\n").unwrap();
    let ran = lees_in(folder.path(), &["check", &demo("batch-2-h.jdx"), "--product", "p.toml"]);
    one_line(&ran, 2, &["signals"]);
}

#[test]
fn a_limit_in_a_wrong_unit_names_line_and_column() {
    let folder = tempfile::tempdir().unwrap();
    let text = "formula = 'C9H6O2'\nsignals = '7.7 (d, 1H)'\n[limits]\ntotal = '0.5 mol%'\n";
    fs::write(folder.path().join("p.toml"), text).unwrap();
    let ran = lees_in(folder.path(), &["check", &demo("batch-2-h.jdx"), "--product", "p.toml"]);
    one_line(&ran, 2, &["p.toml", "4", "mol%", "wt%"]);
}

#[test]
fn an_unknown_setting_and_an_unknown_solvent() {
    let spectrum = demo("batch-2-h.jdx");
    one_line(&lees(&["check", &spectrum, "--set", "process.nothing=1"]), 2, &["process.nothing"]);
    one_line(&lees(&["check", &spectrum, "--solvent", "CDCl9"]), 2, &["CDCl9"]);
}

#[test]
fn settings_that_cannot_be_meant_are_refused_before_any_spectrum() {
    let spectrum = demo("batch-2-h.jdx");
    let set = |setting: &str| lees(&["check", &spectrum, "--product", &product(), "--set", setting]);
    one_line(&set("process.baseline.period_hz=-5"), 2, &["period_hz", "a number, 0 or more"]);
    one_line(&set("process.baseline.period=900"), 2, &["near it: `process.baseline.period_hz`"]);
    one_line(&set("match.exclude=methanol; foo"), 2, &["match.exclude", "`foo` is no known compound"]);
    one_line(&set("match.solvent=foo"), 2, &["match.solvent", "`foo` is no known NMR solvent"]);
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("s.toml"), "[match.t1_s]\nfoo = 3\n").unwrap();
    let ran = lees_in(folder.path(), &["check", &spectrum, "--settings", "s.toml"]);
    one_line(&ran, 2, &["match.t1_s", "`foo` is no known compound"]);
}

#[test]
fn a_negative_number_is_called_so_and_not_an_unknown_flag() {
    let spectrum = demo("batch-2-h.jdx");
    let check = |flag: &str, value: &str| lees(&["check", &spectrum, "--product", &product(), flag, value]);
    one_line(&check("--total-limit", "-1 wt%"), 2, &["--total-limit", "outside 0 to 100 wt%"]);
    one_line(&check("--total-limit", "1"), 2, &["`1` has no unit", "1 wt%"]);
    one_line(&check("--field-mhz", "-400"), 2, &["--field-mhz -400: must be above 0"]);
    one_line(&lees(&["lookup", "5.3", "--within", "-1"]), 2, &["--within -1: must be 0 ppm or more"]);
    let mass = ["check", &spectrum, "--molar-mass", "-5", "--quantify", "8.7-8.9=1H"];
    one_line(&lees(&mass), 2, &["--molar-mass -5: must be above 0 g/mol"]);
    let series = ["batch-2-h.jdx", "batch-6-h.jdx", "batch-16-h.jdx"].map(demo);
    let times = |times: &str| {
        let [a, b, c] = &series;
        lees(&["drying", a, b, c, "--product", &product(), "--times", times])
    };
    one_line(&times("-2,6,16"), 2, &["batch-2-h.jdx", "a drying time of -2 h", "hours from 0"]);
    one_line(&times("2,6"), 2, &["--times holds 2", "3 files"]);
}

#[test]
fn a_bad_row_of_an_own_table() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(
        folder.path().join("own.csv"),
        "compound,formula,group,n_h,multiplicity,CDCl3\nmystery,C2H6O,CH3,three,s,2.2\n",
    )
    .unwrap();
    let ran = lees_in(folder.path(), &["check", &demo("batch-2-h.jdx"), "--table", "own.csv"]);
    one_line(&ran, 2, &["own.csv", "line 2", "n_h", "three"]);
}

#[test]
fn pictures_of_unknown_form_are_refused_before_work() {
    let folder = tempfile::tempdir().unwrap();
    let ran = lees_in(folder.path(), &["draw", &demo("batch-2-h.jdx"), "-o", "x.bmp"]);
    one_line(&ran, 2, &["x.bmp", ".svg"]);
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
}

#[test]
fn a_limit_for_a_name_nobody_knows_or_for_one_compound_twice() {
    let limit =
        |limit: &str| lees(&["check", &demo("batch-2-h.jdx"), "--product", &product(), "--limit", limit]);
    one_line(&limit("AcOEt=0.2 wt%"), 2, &["limits: `AcOEt` is no known compound", "EtOAc"]);
    one_line(&limit("IPA=0.2 wt%"), 2, &["2-propanol", "given twice"]);
    assert_eq!(limit("2-propanol=0.2 wt%").code, 0, "a flag outranks the file");
}

#[test]
fn slips_on_the_command_line_are_told_how_to_be_mended() {
    let (spectrum, dye) = (demo("batch-2-h.jdx"), product());
    for (arguments, words) in [
        (vec!["check", &dye, "--product", &spectrum], "a JCAMP-DX file; allowed: a product file"),
        (vec!["check", &spectrum, "--product", &dye, "--mass", "1.84g"], "without its unit: 1.84"),
        (vec!["check", &spectrum, "--product", &dye, "-o", "a.html"], "`lees report` writes a page"),
        (vec!["check", &spectrum, "--formula", "C16H16N202S", "--quantify", "6.4-6.7=2H"], "the letter O?"),
        (vec!["check", &spectrum, "--formula", "C16H16N2O2S", "--quantify", "6.4-6.7=20H"], "20 H together"),
        (vec!["draw", &spectrum, "--range", "9..1", "-o", "a.svg"], "such as 9-0.5"),
        (vec!["lookup", "5,30"], "write a decimal point: 5.30"),
    ] {
        let ran = lees(&arguments);
        assert_eq!((ran.code, ran.out.as_str()), (2, ""), "{arguments:?}: {}", ran.err);
        assert!(ran.err.contains(words), "{arguments:?}: {}", ran.err);
    }
}

#[test]
fn a_frequency_that_contradicts_the_file_is_said() {
    let (spectrum, dye) = (demo("batch-2-h.jdx"), product());
    let asked = |mhz: &str| lees(&["check", &spectrum, "--product", &dye, "--field-mhz", mhz]).out;
    let warned = asked("300").split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(warned.contains("the file states 400.13 MHz; 300 MHz was asked for and is used"), "{warned}");
    assert!(!asked("400").contains("was asked for"));
}

#[test]
fn a_file_in_the_place_of_a_command() {
    let ran = lees(&[&demo("batch-2-h.jdx")]);
    assert_eq!((ran.code, ran.out.as_str()), (2, ""));
    assert!(
        ran.err.contains("to check a file, write: lees check ") && ran.err.contains("batch-2-h.jdx"),
        "{}",
        ran.err
    );
    let ran = lees(&["chek"]);
    assert!(ran.code == 2 && !ran.err.contains("to check a file"), "{}", ran.err);
}
