//! The tables as CSV (RFC 4180), a row a compound or signal.

use lees_core::check::{Check, Finding};

use crate::{clean, words};

const HEADER: [&str; 14] = [
    "path",
    "title",
    "verdict",
    "class",
    "name",
    "cas",
    "shifts_ppm",
    "mole_ratio",
    "mol_percent",
    "wt_percent",
    "wt_percent_low",
    "wt_percent_high",
    "limit_wt_percent",
    "status",
];

/// Counted, uncounted and unexplained signals of all checks; an empty cell is *not known*.
pub(super) fn csv(checks: &[&Check]) -> String {
    let mut writer = ::csv::Writer::from_writer(Vec::new());
    let mut rows = vec![HEADER.map(str::to_owned)];
    for check in checks {
        rows.extend(check.volatiles.iter().map(|f| finding(check, "volatile", f)));
        rows.extend(check.not_counted.iter().map(|n| finding(check, "not counted", &n.finding)));
        rows.extend(check.unexplained.iter().map(|u| {
            let mut row = start(check, "unexplained");
            row[6] = format!("{:.3}", u.shift.0);
            row[7] = cell(u.relative_protons.map(|e| e.value));
            row
        }));
    }
    let written = rows.iter().all(|row| writer.write_record(row).is_ok());
    let bytes = writer.into_inner().ok().filter(|_| written).unwrap_or_default();
    String::from_utf8(bytes).unwrap_or_default()
}

fn start(check: &Check, class: &str) -> [String; 14] {
    let mut row: [String; 14] = Default::default();
    row[0] = plain(&check.input.path);
    row[1] = plain(&check.input.title);
    row[2] = words::verdict(check.verdict).to_owned();
    row[3] = class.to_owned();
    row
}

fn finding(check: &Check, class: &str, finding: &Finding) -> [String; 14] {
    let mut row = start(check, class);
    row[4] = plain(&finding.name);
    row[5] = finding.cas.clone().unwrap_or_default();
    let shifts: Vec<_> = finding.signals.iter().map(|s| format!("{:.3}", s.shift.0)).collect();
    row[6] = shifts.join(" ");
    row[7] = cell(finding.mole_ratio.map(|e| e.value));
    row[8] = cell(finding.mol_percent.map(|e| e.value));
    row[9] = cell(finding.wt_percent.map(|e| e.value));
    row[10] = cell(finding.wt_percent.map(|e| e.low));
    row[11] = cell(finding.wt_percent.map(|e| e.high));
    row[12] = cell(finding.limit_wt_percent);
    row[13] = words::status(finding.status).to_owned();
    row
}

/// Text that no spreadsheet takes for a formula.
fn plain(text: &str) -> String {
    let text = clean(text);
    if text.starts_with(['=', '+', '-', '@']) { format!("'{text}") } else { text }
}

fn cell(value: Option<f64>) -> String {
    value.map(|x| x.to_string()).unwrap_or_default()
}
