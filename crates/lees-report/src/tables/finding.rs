//! One row a finding.

use lees_core::check::{Check, Finding, LimitStatus, Rival};
use lees_core::rack::Tags;

use super::column::{Column, number, text};
use super::tags;
use super::value::{self, Row, Value, interval};
use crate::words;

const FRONT: [Column; 3] = [
    text("path", "input as given; #n for the n-th spectrum of a file"),
    text("sha256", "SHA-256 of the input bytes"),
    text("title", "title in the file"),
];

const OWN: [Column; 26] = [
    text("product", "name of the product"),
    text("verdict", "verdict for the whole spectrum: dry, needs_drying, undecided"),
    text("class", "volatile (counted) or not_counted"),
    text("name", "the compound"),
    text("cas", "CAS registry number"),
    number("molar_mass", "g/mol", "molar mass"),
    number("mole_ratio", "mol/mol", "moles a mole of product"),
    number("mole_ratio_low", "mol/mol", "lower end of the 95 % interval"),
    number("mole_ratio_high", "mol/mol", "upper end of the 95 % interval"),
    number("mol_percent", "mol%", "share of moles of product and volatiles"),
    number("mol_percent_low", "mol%", "lower end of the 95 % interval"),
    number("mol_percent_high", "mol%", "upper end of the 95 % interval"),
    number("wt_percent", "wt%", "share of the mass of product and volatiles"),
    number("wt_percent_low", "wt%", "lower end of the 95 % interval"),
    number("wt_percent_high", "wt%", "upper end of the 95 % interval"),
    number("wt_percent_u", "wt%", "standard uncertainty"),
    number("detection_limit_wt_percent", "wt%", "smallest content that would have been seen"),
    number("limit_wt_percent", "wt%", "limit it is held against"),
    text("status", "above, below, undecided, no limit"),
    number("conformance", "1", "probability that the true content is within the limit"),
    number("evidence", "1", "natural log-evidence for the compound over its absence"),
    text("signals", "its groups as shift and pattern"),
    text("rivals", "compounds that would explain the lines as well"),
    text("why", "why it is not counted"),
    text("tables", "hash of the reference tables"),
    text("settings", "hash of settings and product"),
];

/// The columns of a table of findings.
pub(super) fn columns() -> Vec<Column> {
    [&FRONT[..], &tags::COLUMNS, &OWN].concat()
}

/// A row for every volatile and everything seen but not counted, in the order of the check.
///
/// ```
/// use lees_core::rack::Tags;
/// use lees_report::tables::{Rows, TableFormat, TableWriter, findings};
/// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/checked_dye.rs")); }
/// # use made::*;
/// let check = checked_dye(); // a dye with 1.4 wt% 2-propanol and 0.3 wt% dichloromethane
/// let mut table = TableWriter::new(Rows::Findings, TableFormat::Csv, Vec::new())?;
/// findings(&check, &Tags::default()).iter().try_for_each(|row| table.push(row))?;
/// let text = String::from_utf8(table.finish()?).expect("text");
/// assert!(text.contains("2-propanol") && text.contains("dichloromethane") && text.contains("water"));
/// # Ok::<(), lees_report::tables::TableError>(())
/// ```
#[must_use]
pub fn findings(check: &Check, tags: &Tags) -> Vec<Row> {
    let counted = check.volatiles.iter().map(|f| row(check, tags, f, None));
    let others = check.not_counted.iter().map(|n| row(check, tags, &n.finding, Some(&n.why)));
    counted.chain(others).collect()
}

fn row(check: &Check, tags: &Tags, finding: &Finding, why: Option<&str>) -> Row {
    let mut row = front(check).to_vec();
    row.extend(tags::cells(tags));
    row.extend([
        value::words(check.product.as_ref().map(|p| p.name.as_str())),
        value::text(super::spectrum::verdict(check.verdict)),
        value::text(if why.is_some() { "not_counted" } else { "volatile" }),
        value::text(&finding.name),
        value::words(finding.cas.as_deref()),
        value::number(finding.molar_mass),
    ]);
    row.extend(amounts(finding));
    row.extend([
        value::text(status(finding.status)),
        value::number(finding.conformance),
        value::number(Some(finding.evidence)),
        value::text(&words::signals(finding)),
        value::text(&rivals(&finding.rivals)),
        value::words(why),
        value::text(&check.provenance.tables),
        value::text(&check.provenance.settings),
    ]);
    row
}

pub(super) fn front(check: &Check) -> [Value; 3] {
    [value::text(&check.input.path), value::text(&check.input.sha256), value::text(&check.input.title)]
}

fn amounts(finding: &Finding) -> impl Iterator<Item = Value> {
    let intervals =
        [finding.mole_ratio, finding.mol_percent, finding.wt_percent].into_iter().flat_map(interval);
    let u = finding.wt_percent.map(|e| e.u);
    intervals.chain([u, finding.detection_limit_wt_percent, finding.limit_wt_percent].map(value::number))
}

pub(super) const fn status(status: LimitStatus) -> &'static str {
    match status {
        LimitStatus::Above => "above",
        LimitStatus::Below => "below",
        LimitStatus::Undecided => "undecided",
        LimitStatus::NoLimit => "no limit",
    }
}

fn rivals(rivals: &[Rival]) -> String {
    rivals.iter().map(|r| r.name.as_str()).collect::<Vec<_>>().join("; ")
}
