//! The folder of measured spectra, and what the program says of one.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::process::Command;

use serde_json::Value;

/// The folder.
pub(crate) struct Folder {
    pub path: PathBuf,
}

/// What was said of a spectrum; shifts on the axis of the file.
#[derive(Debug)]
pub(crate) struct Found {
    pub solvent: Option<String>,
    pub signal: String,
    pub observed: f64,
    pub residual: Option<f64>,
    pub volatiles: Vec<String>,
}

impl Folder {
    pub(crate) fn find() -> Option<Self> {
        let named = std::env::var_os("LEES_CORPUS").map(PathBuf::from);
        let beside = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../../shared/corpus");
        let path = named.unwrap_or(beside);
        path.join("INDEX.csv").is_file().then_some(Self { path })
    }

    /// Where the index has the residual line of each file.
    pub(crate) fn readings(&self) -> BTreeMap<String, f64> {
        let mut reader = csv::Reader::from_path(self.path.join("INDEX.csv")).unwrap();
        let names = reader.headers().unwrap().clone();
        let column = |name: &str| names.iter().position(|n| n == name).unwrap();
        let (file, reading) = (column("file"), column("residual_solvent_ppm"));
        let rows = reader.records().map(Result::unwrap);
        rows.filter_map(|row| Some((row[file].to_owned(), row[reading].parse().ok()?))).collect()
    }
}

/// Checks one file with the real binary.
pub(crate) fn check(folder: &Folder, file: &str) -> Found {
    let path = folder.path.join(file);
    assert!(path.is_file(), "{file} is not in {}", folder.path.display());
    let run =
        Command::new(env!("CARGO_BIN_EXE_lees")).arg("check").arg(&path).args(["--format", "json"]).output();
    let run = run.expect("the program starts");
    let errors = String::from_utf8_lossy(&run.stderr);
    assert_eq!(run.status.code(), Some(0), "{file}: {errors}");
    let text = String::from_utf8(run.stdout).expect("JSON is UTF-8");
    let lines: Vec<&str> = text.lines().collect();
    assert_eq!(lines.len(), 1, "{file}: one spectrum, one line: {errors}");
    let result: Value = serde_json::from_str(lines[0]).expect("one object a line");
    found(&result, file)
}

fn found(result: &Value, file: &str) -> Found {
    let reference = &result["reference"];
    assert!(reference.is_object(), "{file}: the axis was left as it came: {}", result["warnings"]);
    let signal = reference["signal"].as_str().unwrap().to_owned();
    let observed = reference["observed_ppm"].as_f64().unwrap();
    let applied = reference["applied_ppm"].as_f64().unwrap();
    let solvent = result["input"]["solvent"].as_str().map(str::to_owned);
    let residual = if signal == "TMS" { listed(result).map(|place| place - applied) } else { Some(observed) };
    let names = result["volatiles"].as_array().unwrap().iter();
    let volatiles = names.map(|v| v["name"].as_str().unwrap().to_owned()).collect();
    Found { solvent, signal, observed, residual, volatiles }
}

/// Where the residual protons are listed among what is not counted, on the moved axis.
fn listed(result: &Value) -> Option<f64> {
    let own = |entry: &&Value| {
        entry["why"].as_str().is_some_and(|why| why.starts_with("residual protons of the NMR solvent"))
    };
    let entry = result["not_counted"].as_array()?.iter().find(own)?;
    entry["signals"][0]["ppm"].as_f64()
}
