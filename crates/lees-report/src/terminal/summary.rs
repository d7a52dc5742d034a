//! Many spectra: a row each.

use lees_core::check::Check;

use super::check::tone;
use super::style::{Style, Tone};
use super::table::{Cell, Column, render};
use crate::{clean, number, words};

/// One input: checked, or failed with a message.
#[derive(Debug, Clone, Copy)]
pub enum Row<'a> {
    /// The result.
    Checked(&'a Check),
    /// The path and why it could not be checked.
    Failed(&'a str, &'a str),
}

/// A row a spectrum: verdict, largest volatile, sum, unexplained signals, then a count of verdicts.
///
/// ```
/// use lees_report::terminal::{Row, Style, summary};
/// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/checked_dye.rs")); }
/// # use made::*;
/// let check = checked_dye(); // a dye with 1.4 wt% 2-propanol
/// let text = summary(&[Row::Checked(&check), Row::Failed("b.jdx", "no data")], &Style::default());
/// assert!(text.contains("NEEDS DRYING") && text.contains("no data"), "{text}");
/// ```
#[must_use]
pub fn summary(rows: &[Row<'_>], style: &Style) -> String {
    let columns = [
        Column::left("spectrum", 14),
        Column::left("verdict", 12),
        Column::left("largest volatile", 12),
        Column::right("wt %", 6),
        Column::right("sum wt %  (95 % interval)", 10),
        Column::right("unexplained", 11),
    ];
    let cells: Vec<_> = rows.iter().map(cells).collect();
    format!("{}{}", render(&columns, &cells, style), tally(rows, style))
}

fn cells(row: &Row<'_>) -> Vec<Cell> {
    match row {
        Row::Checked(check) => checked(check),
        Row::Failed(path, why) => {
            vec![
                clean(path).into(),
                Cell::toned("FAILED", Tone::Bad),
                clean(why).into(),
                "".into(),
                "".into(),
                "".into(),
            ]
        }
    }
}

fn checked(check: &Check) -> Vec<Cell> {
    let largest = check.volatiles.first();
    let content = largest.and_then(|f| f.wt_percent.as_ref());
    vec![
        clean(&check.input.path).into(),
        Cell::toned(words::verdict(check.verdict).to_uppercase(), tone(check.verdict)),
        largest.map_or_else(|| "none found".to_owned(), |f| clean(&f.name)).into(),
        content.map_or_else(String::new, number::value).into(),
        check.total.wt_percent.as_ref().map_or_else(|| "n/a".to_owned(), number::interval).into(),
        check.unexplained.len().to_string().into(),
    ]
}

fn tally(rows: &[Row<'_>], style: &Style) -> String {
    let mut counts = std::collections::BTreeMap::new();
    for row in rows {
        let word = match row {
            Row::Checked(check) => words::verdict(check.verdict),
            Row::Failed(..) => "failed",
        };
        *counts.entry(word).or_insert(0usize) += 1;
    }
    let parts: Vec<_> = counts.iter().map(|(word, n)| words::counted(*n, word)).collect();
    let rule = style.rule().to_string().repeat(4);
    format!("  {rule}\n  {} spectra: {}\n", rows.len(), parts.join(", "))
}
