//! Tables: the same rows in every format, nothing lost, nothing armed.

#![allow(clippy::unwrap_used, reason = "helpers of tests fail the test")]

mod fixture;

use lees_core::rack::{Tags, unexplained_percent, worst};
use lees_report::tables::{
    Kind, Row, Rows, TableError, TableFormat, TableWriter, Value, failed, findings, spectrum,
};

fn tags() -> Tags {
    Tags {
        batch: Some("LD-7".into()),
        fraction: Some("12".into()),
        drying_hours: Some(6.0),
        mass_g: Some(1.25),
    }
}

fn written(kind: Rows, format: TableFormat, rows: &[Row]) -> Vec<u8> {
    let mut table = TableWriter::new(kind, format, Vec::new()).unwrap();
    for row in rows {
        table.push(row).unwrap();
    }
    table.finish().unwrap()
}

fn cell<'a>(kind: Rows, row: &'a Row, name: &str) -> &'a Value {
    let at = kind.columns().iter().position(|c| c.name == name).unwrap();
    &row[at]
}

#[test]
fn a_row_a_finding_and_a_row_a_spectrum() {
    let check = fixture::batch(0.05, "ld7/wet.jdx");
    let rows = findings(&check, &tags());
    assert_eq!(rows.len(), check.volatiles.len() + check.not_counted.len());
    let first = &check.volatiles[0];
    let wt = first.wt_percent.unwrap();
    for (name, value) in [
        ("path", Value::Text("ld7/wet.jdx".into())),
        ("name", Value::Text(first.name.clone())),
        ("wt_percent", Value::Number(wt.value)),
        ("wt_percent_low", Value::Number(wt.low)),
        ("wt_percent_high", Value::Number(wt.high)),
        ("wt_percent_u", Value::Number(wt.u)),
        ("class", Value::Text("volatile".into())),
        ("fraction", Value::Text("12".into())),
        ("drying_hours", Value::Number(6.0)),
        ("mass_g", Value::Number(1.25)),
    ] {
        assert_eq!(cell(Rows::Findings, &rows[0], name), &value, "{name}");
    }
    assert_eq!(cell(Rows::Findings, rows.last().unwrap(), "class"), &Value::Text("not_counted".into()));
    let row = spectrum(&check, &tags());
    let total = check.total.wt_percent.unwrap();
    assert_eq!(cell(Rows::Spectra, &row, "total_wt_percent"), &Value::Number(total.value));
    assert_eq!(cell(Rows::Spectra, &row, "verdict"), &Value::Text("needs_drying".into()));
    assert_eq!(cell(Rows::Spectra, &row, "unexplained"), &Value::Count(1));
    assert_eq!(cell(Rows::Spectra, &row, "error"), &Value::Unknown(()));
}

#[test]
fn every_row_fits_its_columns() {
    let mut check = fixture::batch(0.05, "a.jdx");
    check.product = None;
    check.reference = None;
    check.volatiles.clear();
    check.total.wt_percent = None;
    for kind in [Rows::Findings, Rows::Spectra] {
        let names: std::collections::BTreeSet<_> = kind.columns().iter().map(|c| c.name).collect();
        assert_eq!(names.len(), kind.columns().len(), "column names are unique");
        assert!(kind.columns().iter().all(|c| (c.kind == Kind::Text) == c.unit.is_empty()));
    }
    written(Rows::Findings, TableFormat::Csv, &findings(&check, &tags()));
    let failed = failed("b.jdx", Some("00ff"), "line 1: not a spectrum", &tags());
    assert_eq!(cell(Rows::Spectra, &failed, "error"), &Value::Text("line 1: not a spectrum".into()));
    written(Rows::Spectra, TableFormat::Csv, &[spectrum(&check, &tags()), failed]);
}

#[test]
fn the_worst_is_measured_by_its_own_limit() {
    let mut check = fixture::batch(0.005, "a.jdx");
    let parts: Vec<_> =
        check.volatiles.iter().map(|f| f.wt_percent.unwrap().value / f.limit_wt_percent.unwrap()).collect();
    let largest = parts.iter().copied().fold(0.0, f64::max);
    let name = &check.volatiles[parts.iter().position(|p| *p == largest).unwrap()].name;
    assert_eq!(&worst(&check).unwrap().name, name);
    assert_eq!(name, "dichloromethane", "0.13 wt% against 0.06 is worse than more of what may stay");
    check.volatiles.iter_mut().for_each(|f| f.limit_wt_percent = None);
    assert_eq!(worst(&check).unwrap().name, "ethyl acetate", "without limits the largest content");
    let expected: f64 = check.product.as_ref().unwrap().signals.iter().map(|s| s.protons).sum();
    assert!((unexplained_percent(&check).unwrap() - 100.0 * 0.031 / expected).abs() < 1e-12);
    check.unexplained[0].relative_protons = None;
    assert_eq!(unexplained_percent(&check), None);
}

#[test]
fn csv_reads_back_cell_by_cell_and_is_disarmed() {
    let mut check = fixture::batch(0.05, "a,\"b\".jdx");
    check.input.title = "=cmd|' /C calc'!A0".to_owned();
    let rows = findings(&check, &tags());
    for (format, delimiter) in [(TableFormat::Csv, b','), (TableFormat::Tsv, b'\t')] {
        let bytes = written(Rows::Findings, format, &rows);
        let mut reader = csv::ReaderBuilder::new().delimiter(delimiter).from_reader(bytes.as_slice());
        for (record, row) in reader.records().zip(&rows) {
            let record = record.unwrap();
            for (text, value) in record.iter().zip(row) {
                match value {
                    Value::Unknown(()) => assert_eq!(text, ""),
                    Value::Count(n) => assert_eq!(text.parse::<i64>().unwrap(), *n),
                    Value::Number(x) => assert_eq!(text.parse::<f64>().unwrap().to_bits(), x.to_bits()),
                    Value::Text(words) => assert_eq!(text.trim_start_matches('\''), words),
                }
            }
            assert!(record[2].starts_with("'="), "{}", &record[2]);
        }
    }
}

#[test]
fn lines_are_objects_keyed_by_column() {
    let rows = findings(&fixture::batch(0.05, "a.jdx"), &Tags::default());
    let bytes = written(Rows::Findings, TableFormat::JsonLines, &rows);
    let lines: Vec<serde_json::Value> = bytes
        .split(|b| *b == b'\n')
        .filter(|l| !l.is_empty())
        .map(|l| serde_json::from_slice(l).unwrap())
        .collect();
    assert_eq!(lines.len(), rows.len());
    assert_eq!(lines[0]["name"], "2-propanol");
    assert!(lines[0]["batch"].is_null());
    assert_eq!(lines[0].as_object().unwrap().len(), Rows::Findings.columns().len());
}

#[test]
fn a_row_of_another_table_is_refused() {
    let check = fixture::batch(0.05, "a.jdx");
    let mut table = TableWriter::new(Rows::Findings, TableFormat::Csv, Vec::new()).unwrap();
    assert!(matches!(table.push(&spectrum(&check, &tags())), Err(TableError::Width { .. })));
    let mut row = findings(&check, &tags()).remove(0);
    row[0] = Value::Count(1);
    let fault = table.push(&row).unwrap_err().to_string();
    assert_eq!(fault, "column `path` holds Text, not Count(1)");
}

#[cfg(feature = "columnar")]
#[test]
fn columnar_files_are_the_same_twice() {
    let rows: Vec<Row> = (0..9000).map(|i| spectrum(&fixture_small(i), &tags())).collect();
    for format in [TableFormat::Parquet, TableFormat::Arrow] {
        let once = written(Rows::Spectra, format, &rows);
        assert_eq!(once, written(Rows::Spectra, format, &rows));
        assert!(once.starts_with(if format == TableFormat::Parquet { b"PAR1" } else { b"ARRO" }));
    }
}

#[cfg(feature = "columnar")]
fn fixture_small(i: u32) -> lees_core::check::Check {
    thread_local!(static BASE: lees_core::check::Check = {
        let mut check = fixture::batch(0.05, "a.jdx");
        check.spectrum.real = ndarray::Array1::zeros(2);
        check.lines.clear();
        check.multiplets.clear();
        check
    });
    let mut check = BASE.with(Clone::clone);
    check.input.path = format!("rack/{i}.jdx");
    check
}
