//! Where the uncertainty comes from.

use lees_core::check::{Check, Contribution, Finding};

use super::style::{Style, Tone};
use super::table::{Cell, Column, render};
use super::wrap::wrap;
use crate::{clean, number, words};

/// The uncertainty budget of every counted volatile, and of the purity when measured: each share in per cent of
/// the value, largest first, with what would shrink it.
///
/// ```
/// use lees_report::terminal::{Style, explain};
/// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/checked_dye.rs")); }
/// # use made::*;
/// let text = explain(&checked_dye(), &Style::default());
/// assert!(text.contains("2-propanol") && text.contains('%'), "{text}");
/// ```
#[must_use]
pub fn explain(check: &Check, style: &Style) -> String {
    let mut out = String::new();
    for finding in &check.volatiles {
        out.push_str(&budget(&heading(finding), &finding.budget, style));
    }
    if let Some(purity) = &check.purity {
        let title = format!("Purity: {} wt %", number::interval(&purity.wt_percent));
        out.push_str(&budget(&title, &purity.budget, style));
    }
    if out.is_empty() {
        "\nNo amount was measured, so there is no uncertainty to explain.\n".to_owned()
    } else {
        out
    }
}

fn heading(finding: &Finding) -> String {
    let content = words::content(finding);
    let conformance = finding
        .conformance
        .map(|p| format!("; probability to be within the limit {}", probability(p)))
        .unwrap_or_default();
    format!("Uncertainty of {}: {content} wt %{conformance}", clean(&finding.name))
}

/// Probabilities near 0 and 1 are given as bounds: more digits would claim more than is known.
fn probability(p: f64) -> String {
    match p {
        p if p > 0.99 => "over 99 %".to_owned(),
        p if p < 0.01 => "under 1 %".to_owned(),
        p => format!("{} %", number::fixed(p * 100.0, 0)),
    }
}

fn budget(title: &str, entries: &[Contribution], style: &Style) -> String {
    let columns = [
        Column::left("source", 14),
        Column::right("1 sigma / %", 6),
        Column::left("what would shrink it", 20),
    ];
    let row = |entry: &Contribution| -> Vec<Cell> {
        vec![
            clean(&entry.source).into(),
            words::share(entry.percent).into(),
            Cell::toned(clean(&entry.remedy), Tone::Quiet),
        ]
    };
    let rows: Vec<_> = entries.iter().map(row).collect();
    let body =
        if rows.is_empty() { "  not broken down\n".to_owned() } else { render(&columns, &rows, style) };
    let title: Vec<_> =
        wrap(title, style.columns()).iter().map(|line| style.paint(line, Tone::Strong)).collect();
    format!("\n{}\n{body}", title.join("\n"))
}
