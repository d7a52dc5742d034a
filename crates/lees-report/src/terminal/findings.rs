//! Tables of compounds and signals.

use lees_core::check::{Check, Finding, LimitStatus, NotCounted, ProductSignal, SignalState, Total};

use super::style::{Style, Tone};
use super::table::{Cell, Column, render};
use super::wrap::hanging;
use crate::{clean, number, words};

pub(super) fn tone(status: LimitStatus) -> Tone {
    match status {
        LimitStatus::Above => Tone::Bad,
        LimitStatus::Below => Tone::Good,
        LimitStatus::Undecided => Tone::Open,
        LimitStatus::NoLimit => Tone::Plain,
    }
}

/// What was found where.
pub(super) fn volatiles(check: &Check, style: &Style) -> String {
    if check.volatiles.is_empty() {
        return "  no volatile found\n".to_owned();
    }
    if check.product.is_none() {
        return ratios(check, style);
    }
    let columns = [
        Column::left("name", 12),
        Column::left("shift / ppm", 12),
        Column::right("mol %", 5),
        Column::right("wt %  (95 % interval)", 12),
        Column::right("limit", 5),
        Column::left("status", 9),
    ];
    let mut rows: Vec<Vec<Cell>> = check.volatiles.iter().map(volatile).collect();
    rows.push(total(&check.total));
    render(&columns, &rows, style)
}

fn volatile(finding: &Finding) -> Vec<Cell> {
    vec![
        Cell::toned(words::names(finding), Tone::Strong),
        words::signals(finding).into(),
        finding.mol_percent.as_ref().map_or_else(unknown, number::value).into(),
        words::content(finding).into(),
        finding.limit_wt_percent.map_or_else(unknown, number::limit).into(),
        Cell::toned(words::status(finding.status), tone(finding.status)),
    ]
}

fn total(total: &Total) -> Vec<Cell> {
    vec![
        "all counted".into(),
        "".into(),
        "".into(),
        total.wt_percent.as_ref().map_or_else(unknown, number::interval).into(),
        total.limit_wt_percent.map_or_else(unknown, number::limit).into(),
        Cell::toned(words::status(total.status), tone(total.status)),
    ]
}

/// Without a product only ratios between the volatiles are known.
fn ratios(check: &Check, style: &Style) -> String {
    let columns = [
        Column::left("name", 12),
        Column::left("shift / ppm", 12),
        Column::right("mole ratio  (95 % interval)", 12),
    ];
    let row = |finding: &Finding| -> Vec<Cell> {
        vec![
            Cell::toned(words::names(finding), Tone::Strong),
            words::signals(finding).into(),
            finding.mole_ratio.as_ref().map_or_else(unknown, number::interval).into(),
        ]
    };
    let rows: Vec<_> = check.volatiles.iter().map(row).collect();
    render(&columns, &rows, style)
}

fn unknown() -> String {
    "n/a".to_owned()
}

/// Seen but not counted, with the reason.
pub(super) fn not_counted(entries: &[NotCounted], style: &Style) -> String {
    let columns = [
        Column::left("name", 12),
        Column::left("shift / ppm", 12),
        Column::right("wt %", 5),
        Column::left("why", 16),
    ];
    let row = |entry: &NotCounted| -> Vec<Cell> {
        let content = entry.finding.wt_percent.as_ref().map_or_else(unknown, number::value);
        vec![
            words::names(&entry.finding).into(),
            words::signals(&entry.finding).into(),
            content.into(),
            Cell::toned(clean(&entry.why), Tone::Quiet),
        ]
    };
    render(&columns, &entries.iter().map(row).collect::<Vec<_>>(), style)
}

/// Signals nobody answers for.
pub(super) fn unexplained(check: &Check, style: &Style) -> String {
    let protons = if check.product.is_some() { "protons per product" } else { "protons" };
    let columns = [
        Column::left("shift / ppm", 11),
        Column::left("pattern", 7),
        Column::right(protons, 8),
        Column::left("hint", 16),
    ];
    let row = |entry: &lees_core::check::Unexplained| -> Vec<Cell> {
        vec![
            Cell::toned(number::shift(entry.shift.0), Tone::Open),
            entry.multiplicity.to_string().into(),
            entry.relative_protons.as_ref().map_or_else(unknown, number::protons_interval).into(),
            entry.note.as_deref().map(clean).unwrap_or_default().into(),
        ]
    };
    render(&columns, &check.unexplained.iter().map(row).collect::<Vec<_>>(), style)
}

/// One line when all is well; else the signals that aren't as expected.
pub(super) fn product(check: &Check, style: &Style) -> String {
    let Some(product) = &check.product else { return String::new() };
    let head = format!(
        "{}, {} g/mol; {}",
        clean(&product.name),
        number::fixed(product.molar_mass, 2),
        words::product_tally(check).unwrap_or_default()
    );
    let mut out = hanging("  ", &style.plain(&head), style.columns());
    let odd: Vec<_> = product.signals.iter().filter(|s| s.state != SignalState::Agrees).collect();
    if !odd.is_empty() {
        out.push_str(&odd_signals(&odd, style));
    }
    out
}

fn odd_signals(signals: &[&ProductSignal], style: &Style) -> String {
    let columns = [
        Column::left("expected", 16),
        Column::right("found", 5),
        Column::left("state", 11),
        Column::left("note", 12),
    ];
    let row = |signal: &&ProductSignal| -> Vec<Cell> {
        let found =
            signal.found_protons.as_ref().map_or_else(unknown, |e| format!("{} H", number::protons(e)));
        let state = Cell::toned(words::state(signal.state), Tone::Open);
        vec![
            clean(&signal.text).into(),
            found.into(),
            state,
            signal.note.as_deref().map(clean).unwrap_or_default().into(),
        ]
    };
    render(&columns, &signals.iter().map(row).collect::<Vec<_>>(), style)
}
