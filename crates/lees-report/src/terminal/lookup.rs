//! What could stand at a shift, and where a compound shows.

use super::style::{Style, Tone};
use super::table::{Cell, Column, render};
use super::wrap::wrap;
use crate::clean;

/// One tabulated signal, in words.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct LookupRow {
    /// The compound.
    pub name: String,
    /// The group.
    pub group: String,
    /// Where it stands, in ppm.
    pub place: String,
    /// Protons.
    pub protons: String,
    /// Pattern with coupling constants.
    pub pattern: String,
    /// How far the place can be trusted.
    pub trust: String,
    /// A remark.
    pub note: String,
}

/// A heading, lines of facts, and a table of signals.
///
/// ```
/// use lees_report::terminal::{LookupRow, Style, lookup};
/// let row = LookupRow { name: "acetone".into(), place: "2.17".into(), ..Default::default() };
/// let text = lookup("near 2.17 ppm in CDCl3", &[], &[row], &Style::default());
/// assert!(text.contains("acetone"));
/// ```
#[must_use]
pub fn lookup(heading: &str, facts: &[String], rows: &[LookupRow], style: &Style) -> String {
    let mut text = style.paint(&clean(heading), Tone::Strong) + "\n";
    for fact in facts {
        for line in wrap(&clean(fact), style.columns().saturating_sub(2)) {
            text += &format!("  {}\n", style.plain(&line));
        }
    }
    if rows.is_empty() {
        return text + "  no tabulated signal\n";
    }
    let columns = [
        Column::right("ppm", 5),
        Column::left("name", 10),
        Column::left("group", 6),
        Column::right("H", 1),
        Column::left("pattern", 7),
        Column::left("trust", 8),
        Column::left("remark", 8),
    ];
    let cells: Vec<Vec<Cell>> = rows.iter().map(cells).collect();
    text + &render(&columns, &cells, style)
}

fn cells(row: &LookupRow) -> Vec<Cell> {
    [&row.place, &row.name, &row.group, &row.protons, &row.pattern, &row.trust, &row.note]
        .into_iter()
        .map(|text| clean(text).into())
        .collect()
}
