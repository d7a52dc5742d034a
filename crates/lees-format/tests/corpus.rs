//! Every file of a folder of real exports decodes to the values of its index, or is refused for the right reason.
//!
//! The folder is named by `LEES_CORPUS` or lies beside the workspace. The index was made by independent decoders
//! (see its README). Without the folder this test says so and passes; the other tests cover the ground.

#![allow(clippy::unwrap_used, clippy::panic, clippy::print_stdout)]

use std::collections::BTreeMap;
use std::path::PathBuf;

use lees_core::Megahertz;
use lees_format::{Document, ErrorKind, Kind, OrdinateSummary, Prefer, ReadOptions, Table, read};

type Row = BTreeMap<String, String>;

/// Where the index and the standard disagree, the standard is followed: file, table, column, reason.
const EXCEPTIONS: [(&str, &str, &str, &str); 1] = [(
    "jc_misc_multivariable.jdx",
    "1",
    "*",
    "(XYT..XYT) is groups of three: six points; the index took pairs out of the same eighteen numbers",
)];

/// Largest relative difference of a value.
const TOLERANCE: f64 = 1e-9;

/// The index prints shifts with six decimals or more.
const SHIFT_TOLERANCE: f64 = 2e-6;

fn folder() -> Option<PathBuf> {
    let named = std::env::var_os("LEES_CORPUS").map(PathBuf::from);
    let beside = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../../shared/corpus");
    named.or(Some(beside)).filter(|path| path.join("INDEX.csv").is_file())
}

fn index(folder: &std::path::Path) -> BTreeMap<String, Vec<Row>> {
    let mut reader = csv::Reader::from_path(folder.join("INDEX.csv")).unwrap();
    let names = reader.headers().unwrap().clone();
    let mut files: BTreeMap<String, Vec<Row>> = BTreeMap::new();
    for record in reader.records() {
        let record = record.unwrap();
        let row: Row = names.iter().zip(&record).map(|(k, v)| (k.to_owned(), v.to_owned())).collect();
        files.entry(row["file"].clone()).or_default().push(row);
    }
    files
}

/// Plain text seldom names its frequency: the user gives it.
fn options(row: &Row) -> ReadOptions {
    let field = row["observe_mhz"].parse().ok().map(Megahertz);
    ReadOptions { field: field.filter(|_| row["data_type"].contains("(text)")), ..ReadOptions::default() }
}

struct Judge {
    faults: Vec<String>,
    values: usize,
}

impl Judge {
    fn compare(&mut self, row: &Row, column: &str, found: Option<f64>, tolerance: f64, scale: f64) {
        let Ok(expected) = row[column].parse::<f64>() else { return };
        let (file, table) = (&row["file"], &row["table"]);
        if EXCEPTIONS.iter().any(|(f, t, c, _)| f == file && t == table && (*c == column || *c == "*")) {
            return;
        }
        self.values += 1;
        let near =
            found.is_some_and(|found| (found - expected).abs() <= tolerance * expected.abs().max(scale));
        if !near {
            self.faults.push(format!("{file} table {table}: {column} is {found:?}, index has {expected}"));
        }
    }

    fn table(&mut self, row: &Row, table: &Table) {
        let y = OrdinateSummary::of(&table.y);
        // A sum of large values of both signs is only as good as its largest terms.
        let scale = table.y.iter().filter(|y| y.is_finite()).map(|y| y.abs()).sum::<f64>();
        self.compare(row, "n_points", Some(table.y.len() as f64), 0.0, 0.0);
        // The index has the labels as written; the axis itself is judged by its shifts.
        self.compare(row, "x_first", table.stated.0.or(table.first_x()), TOLERANCE, 0.0);
        self.compare(row, "x_last", table.stated.1.or(table.last_x()), TOLERANCE, 0.0);
        self.compare(row, "y_first", y.map(|y| y.first), TOLERANCE, 0.0);
        self.compare(row, "y_last", y.map(|y| y.last), TOLERANCE, 0.0);
        self.compare(row, "y_min", y.map(|y| y.min), TOLERANCE, 0.0);
        self.compare(row, "y_max", y.map(|y| y.max), TOLERANCE, 0.0);
        self.compare(row, "y_sum", y.map(|y| y.sum), TOLERANCE, scale * 1e-3);
    }

    fn document(&mut self, rows: &[Row], document: &Document) {
        let tables =
            document.blocks.iter().flat_map(|block| block.tables.iter().map(move |table| (block, table)));
        let tables: Vec<_> = tables.collect();
        for row in rows.iter().filter(|row| row["table"] != "0") {
            let at: usize = row["table"].parse::<usize>().unwrap() - 1;
            // Real and imaginary columns of a text are one row of the index.
            let Some((block, table)) = tables.get(at) else {
                self.faults.push(format!("{} table {} was not read", row["file"], row["table"]));
                continue;
            };
            self.table(row, table);
            if block.kind == Kind::Spectrum && !row["x_first_ppm"].is_empty() {
                let span = block.shift_span().ok();
                self.compare(row, "x_first_ppm", span.map(|s| s.first), SHIFT_TOLERANCE, 1.0);
                self.compare(row, "x_last_ppm", span.map(|s| s.last), SHIFT_TOLERANCE, 1.0);
            }
        }
    }

    /// Proton spectra and FIDs give measurements; all else is refused by name.
    fn purpose(&mut self, rows: &[Row], document: &Document) -> bool {
        let wanted = rows.iter().any(|row| {
            let kind = row["data_type"].to_uppercase().replace(' ', "");
            let kind_fits = kind.starts_with("NMRSPECTRUM") || kind.starts_with("NMRFID");
            kind_fits
                && !row["table_label"].starts_with("PEAK")
                && row["nucleus"].trim_start_matches('^') == "1H"
        });
        match document.measurements(Prefer::default()) {
            Ok(_) => true,
            Err(error) if !wanted && matches!(error.kind(), ErrorKind::Refused | ErrorKind::Missing) => false,
            Err(error) => {
                self.faults.push(format!("no measurement: {error}"));
                false
            }
        }
    }
}

#[test]
fn files_decode_to_their_index_values() {
    let Some(folder) = folder() else {
        println!("no folder of real exports beside the workspace: this test ran without it");
        return;
    };
    let files = index(&folder);
    let mut judge = Judge { faults: Vec::new(), values: 0 };
    let (mut tables, mut measured) = (0, 0);
    for (file, rows) in &files {
        let bytes = std::fs::read(folder.join(file)).unwrap();
        match read(&bytes, file, &options(&rows[0])) {
            Ok(document) => {
                judge.document(rows, &document);
                measured += usize::from(judge.purpose(rows, &document));
                tables += rows.len();
                if std::env::var_os("LEES_CORPUS_TALK").is_some() {
                    for warning in &document.warnings {
                        println!("{file}: {warning}");
                    }
                }
            }
            Err(error) => judge.faults.push(format!("not read: {error}")),
        }
    }
    println!(
        "{} files, {tables} tables, {} values compared; {measured} files hold 1D proton data, {} are refused by name",
        files.len(),
        judge.values,
        files.len() - measured
    );
    for (file, table, column, reason) in EXCEPTIONS {
        println!("exception: {file} table {table} {column}: {reason}");
    }
    assert!(judge.faults.is_empty(), "{} faults:\n{}", judge.faults.len(), judge.faults.join("\n"));
}
