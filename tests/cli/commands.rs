//! The other commands on the demo.

use std::fs;

use serde_json::Value;

use crate::run::{demo, lees, lees_in, product, root};

#[test]
fn inspect_prints_one_object_a_file() {
    let ran =
        lees(&["inspect", &demo("batch-2-h.jdx"), &demo("batch-before-drying-fid.jdx"), "--format", "json"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let files: Vec<Value> = ran.out.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(files.len(), 2);
    let block = &files[0]["blocks"][0];
    assert_eq!(
        (&block["points"], &block["kind"], &block["solvent"]),
        (&65536.into(), &"spectrum".into(), &"CDCl3".into())
    );
    assert_eq!(files[1]["blocks"][0]["kind"], "fid");
}

#[test]
fn lookup_answers_for_shifts_and_names() {
    // Dichloromethane in CDCl3 stands at 5.30 ppm: Gottlieb, Kotlyar, Nudelman, J. Org. Chem. 1997, 62, 7512.
    let shift = lees(&["lookup", "5.30"]);
    assert!(shift.code == 0 && shift.out.contains("dichloromethane"), "{}", shift.out);
    let name = lees(&["lookup", "DCM", "--solvent", "DMSO-d6"]);
    assert!(name.code == 0 && name.out.contains("5.76"), "{}", name.out);
    assert_eq!(lees(&["lookup", "unobtainium"]).code, 2);
    let remark = lees(&["lookup", "7.26"]).out;
    assert!(remark.contains("in B16") && remark.contains("  B16: N. R. Babij et al."), "{remark}");
    assert!(!shift.out.contains("B16"), "nothing is said of sources that no remark names: {}", shift.out);
}

#[test]
fn simulate_makes_what_check_finds() {
    let folder = tempfile::tempdir().unwrap();
    let recipe = root().join("demo-spectra/recipes/batch-16-h.toml").display().to_string();
    let made = lees_in(folder.path(), &["simulate", &recipe, "-o", "made.jdx", "--truth", "made.json"]);
    assert_eq!(made.code, 0, "{}", made.err);
    let truth: Value =
        serde_json::from_str(&fs::read_to_string(folder.path().join("made.json")).unwrap()).unwrap();
    assert_eq!(truth["schema"], "lees/truth/1");
    let stored = fs::read(demo("batch-16-h.jdx")).unwrap();
    let inspect = |path: &str| lees_in(folder.path(), &["inspect", path, "--format", "json"]).out;
    let sum = |text: String| serde_json::from_str::<Value>(&text).unwrap()["blocks"][0]["points"].clone();
    assert_eq!(sum(inspect("made.jdx")), sum(inspect(&demo("batch-16-h.jdx"))));
    assert!(!stored.is_empty());
}

#[test]
fn convert_keeps_the_values() {
    let folder = tempfile::tempdir().unwrap();
    let stored = demo("batch-2-h.jdx");
    for (name, encoding) in
        [("a.jdx", "fix"), ("b.jdx", "pac"), ("c.jdx", "sqz"), ("d.jdx", "dif"), ("e.jdx", "difdup")]
    {
        let ran = lees_in(folder.path(), &["convert", &stored, "-o", name, "--encoding", encoding]);
        assert_eq!(ran.code, 0, "{}", ran.err);
        let summary = |path: &str| {
            let ran = lees_in(folder.path(), &["inspect", path, "--format", "json"]);
            let block = serde_json::from_str::<Value>(&ran.out).unwrap()["blocks"][0].clone();
            (block["points"].clone(), block["y_sum"].clone(), block["y_max"].clone())
        };
        assert_eq!(summary(name), summary(&stored), "{encoding}");
    }
}

#[test]
fn draw_report_and_listing_write_whole_files() {
    let folder = tempfile::tempdir().unwrap();
    let (file, product) = (demo("batch-2-h.jdx"), product());
    for (name, start) in [("f.svg", &b"<svg"[..]), ("f.png", b"\x89PNG"), ("f.pdf", b"%PDF")] {
        let ran = lees_in(folder.path(), &["draw", &file, "--product", &product, "-o", name]);
        assert_eq!(ran.code, 0, "{}", ran.err);
        assert!(fs::read(folder.path().join(name)).unwrap().starts_with(start), "{name}");
    }
    let ran = lees_in(folder.path(), &["report", &file, "--product", &product, "-o", "r.html"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let page = fs::read_to_string(folder.path().join("r.html")).unwrap();
    assert!(page.contains("2-propanol") && page.contains("Content-Security-Policy"));
    let line = lees(&["listing", &file, "--product", &product]);
    assert_eq!(line.code, 0, "{}", line.err);
    assert!(
        line.out.contains("1H NMR (400 MHz, CDCl3)") && line.out.contains("J = 7.1 Hz, 4H"),
        "{}",
        line.out
    );
}

#[test]
fn drying_follows_the_series_by_file_names() {
    let folder = tempfile::tempdir().unwrap();
    let files = ["batch-before-drying.jdx", "batch-2-h.jdx", "batch-6-h.jdx", "batch-16-h.jdx"].map(demo);
    let mut args = vec!["drying"];
    args.extend(files.iter().map(String::as_str));
    let product = product();
    args.extend(["--product", &product, "--format", "json", "-o", "drying.svg"]);
    let ran = lees_in(folder.path(), &args);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let series: Value = serde_json::from_str(&ran.out).unwrap();
    let hours: Vec<f64> =
        series["members"].as_array().unwrap().iter().map(|m| m["hours"].as_f64().unwrap()).collect();
    assert_eq!(hours, [0.0, 2.0, 6.0, 16.0]);
    assert!(folder.path().join("drying.svg").exists());
}

#[test]
fn help_has_examples_for_every_command() {
    for command in
        ["check", "inspect", "listing", "draw", "report", "drying", "lookup", "simulate", "convert", "watch"]
    {
        let ran = lees(&["help", command]);
        assert_eq!(ran.code, 0);
        assert!(ran.out.contains("Examples:"), "{command}");
    }
}

#[test]
fn a_folder_is_walked_and_tables_beside_the_spectra_are_left_alone() {
    let folder = root().join("demo-spectra").display().to_string();
    let ran = lees(&["inspect", &folder, "--format", "json"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let paths: Vec<Value> =
        ran.out.lines().map(|line| serde_json::from_str::<Value>(line).unwrap()["path"].clone()).collect();
    assert!(
        paths.len() >= 9 && paths.iter().all(|path| path.as_str().unwrap().ends_with(".jdx")),
        "{paths:?}"
    );
}

#[test]
fn columns_are_read_as_told() {
    let folder = tempfile::tempdir().unwrap();
    let rows: String =
        (0..600).map(|i| format!("{};{},5;{}\n", i, i % 7, 12.0 - f64::from(i) * 0.02)).collect();
    fs::write(folder.path().join("odd.txt"), rows.replace('.', ",")).unwrap();
    let told = [
        "inspect",
        "odd.txt",
        "--format",
        "json",
        "--layout",
        "skip,real,x",
        "--delimiter",
        "semicolon",
        "--decimal-comma",
        "--x-unit",
        "ppm",
    ];
    let ran = lees_in(folder.path(), &told);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let block = serde_json::from_str::<Value>(&ran.out).unwrap()["blocks"][0].clone();
    assert_eq!((block["first_x"].as_f64(), block["y_max"].as_f64()), (Some(12.0), Some(6.5)), "{block}");
    assert_eq!(lees_in(folder.path(), &["inspect", "odd.txt", "--layout", "x,why"]).code, 2);
}
