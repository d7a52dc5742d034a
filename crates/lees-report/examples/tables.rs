//! Writes the fixture as every kind of table into the folder given, for readers in other languages.

#[path = "../tests/fixture/mod.rs"]
mod fixture;

use std::fs::File;
use std::path::PathBuf;

use lees_core::check::Check;
use lees_core::rack::Tags;
use lees_report::tables::{Row, Rows, TableFormat, TableWriter, failed, findings, spectrum};

const FORMATS: [(&str, TableFormat); 5] = [
    ("csv", TableFormat::Csv),
    ("tsv", TableFormat::Tsv),
    ("jsonl", TableFormat::JsonLines),
    ("parquet", TableFormat::Parquet),
    ("arrow", TableFormat::Arrow),
];

/// Checks with awkward words in them: separators, quotes, a formula, an escape sequence, other scripts.
fn checks(count: u32) -> Vec<(Check, Tags)> {
    let contents: Vec<Check> = (0..40).map(|k| fixture::batch(0.01 + 0.001 * f64::from(k), "")).collect();
    (0..count)
        .map(|i| {
            let mut check = contents[i as usize % contents.len()].clone();
            check.input.path = format!("rack/{i:04}.jdx");
            check.input.title = ["=HYPERLINK(\"x\")", "a,b;\tc", "quote \" here", "染料 \u{1b}[31m", "plain"]
                [i as usize % 5]
                .to_owned();
            if i % 7 == 0 {
                check.total.wt_percent = None;
            }
            let tags = Tags {
                batch: Some(format!("LD-{}", i % 3)),
                fraction: (i % 2 == 0).then(|| i.to_string()),
                drying_hours: Some(f64::from(i) / 3.0),
                mass_g: None,
            };
            (check, tags)
        })
        .collect()
}

fn rows(kind: Rows) -> Vec<Row> {
    // five findings a check: either table is longer than one batch of a columnar file
    let checks = checks(match kind {
        Rows::Findings => 1001,
        Rows::Spectra => 5000,
    });
    let each = checks.iter().flat_map(|(check, tags)| match kind {
        Rows::Findings => findings(check, tags),
        Rows::Spectra => vec![spectrum(check, tags)],
    });
    let mut rows: Vec<Row> = each.collect();
    if kind == Rows::Spectra {
        rows.push(failed(
            "rack/broken.jdx",
            None,
            "line 12, column 3: read `?`, allowed a digit",
            &Tags::default(),
        ));
    }
    rows
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = PathBuf::from(std::env::args().nth(1).ok_or("which folder?")?);
    for (name, kind) in [("findings", Rows::Findings), ("spectra", Rows::Spectra)] {
        let rows = rows(kind);
        for (ending, format) in FORMATS {
            let out = File::create(folder.join(format!("{name}.{ending}")))?;
            let mut table = TableWriter::new(kind, format, out)?;
            for row in &rows {
                table.push(row)?;
            }
            table.finish()?;
        }
    }
    Ok(())
}
