//! One row a spectrum.

use lees_core::check::{Check, Verdict};
use lees_core::rack::{Tags, unexplained_percent, worst};

use super::column::{Column, count, number, text};
use super::finding::{front, status};
use super::tags;
use super::value::{self, Row, UNKNOWN, Value, interval};
use crate::words;

const FRONT: [Column; 3] = [
    text("path", "input as given; #n for the n-th spectrum of a file"),
    text("sha256", "SHA-256 of the input bytes"),
    text("title", "title in the file"),
];

const OWN: [Column; 31] = [
    text("kind", "fid or spectrum"),
    text("solvent", "NMR solvent assumed"),
    number("field_mhz", "MHz", "proton frequency"),
    count("points", "points of the input"),
    text("reference_signal", "signal the shift axis was set by"),
    number("reference_applied_ppm", "ppm", "what was added to every shift"),
    text("product", "name of the product"),
    number("molar_mass", "g/mol", "molar mass of the product"),
    text("verdict", "dry, needs_drying, undecided; empty when the input failed"),
    number("total_wt_percent", "wt%", "sum of all counted volatiles"),
    number("total_wt_percent_low", "wt%", "lower end of the 95 % interval"),
    number("total_wt_percent_high", "wt%", "upper end of the 95 % interval"),
    number("total_limit_wt_percent", "wt%", "limit of the sum"),
    text("total_status", "above, below, undecided, no limit"),
    count("volatiles", "number of counted volatiles"),
    text("worst", "volatile that stands worst against its limit"),
    number("worst_wt_percent", "wt%", "its content"),
    number("worst_wt_percent_low", "wt%", "lower end of the 95 % interval"),
    number("worst_wt_percent_high", "wt%", "upper end of the 95 % interval"),
    number("worst_limit_wt_percent", "wt%", "its limit"),
    text("worst_status", "above, below, undecided, no limit"),
    count("unexplained", "signals nobody answers for"),
    number("unexplained_percent", "%", "their protons in per cent of the product's expected protons"),
    number("purity_wt_percent", "wt%", "product content by internal standard"),
    number("purity_wt_percent_low", "wt%", "lower end of the 95 % interval"),
    number("purity_wt_percent_high", "wt%", "upper end of the 95 % interval"),
    text("reasons", "why this verdict"),
    text("warnings", "what a careful reader should know"),
    text("error", "why the input could not be checked"),
    text("tables", "hash of the reference tables"),
    text("settings", "hash of settings and product"),
];

/// Cells between the tags and `error` of an input that failed.
const SILENT: usize = 28;

/// The columns of a table of spectra.
pub(super) fn columns() -> Vec<Column> {
    [&FRONT[..], &tags::COLUMNS, &OWN].concat()
}

/// The row of one spectrum.
///
/// ```
/// use lees_core::rack::Tags;
/// use lees_report::tables::{Rows, spectrum};
/// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/checked_dye.rs")); }
/// # use made::*;
/// let row = spectrum(&checked_dye(), &Tags::default());
/// assert_eq!(row.len(), Rows::Spectra.columns().len(), "a value for every column");
/// ```
#[must_use]
pub fn spectrum(check: &Check, tags: &Tags) -> Row {
    let mut row = front(check).to_vec();
    row.extend(tags::cells(tags));
    row.extend(input(check));
    row.extend(judged(check));
    row.extend(worst_cells(check));
    row.extend([value::count(check.unexplained.len()), value::number(unexplained_percent(check))]);
    row.extend(interval(check.purity.as_ref().map(|p| p.wt_percent)));
    row.extend([
        value::sentences(&check.reasons),
        value::sentences(&check.warnings),
        UNKNOWN,
        value::text(&check.provenance.tables),
        value::text(&check.provenance.settings),
    ]);
    row
}

/// The row of an input that could not be checked: its path, its hash when it could be read, and why.
///
/// ```
/// use lees_core::rack::Tags;
/// use lees_report::tables::{Rows, failed};
/// let row = failed("broken.jdx", None, "line 3: no data", &Tags::default());
/// assert_eq!(row.len(), Rows::Spectra.columns().len(), "unknown values are empty, not left out");
/// ```
#[must_use]
pub fn failed(path: &str, sha256: Option<&str>, why: &str, tags: &Tags) -> Row {
    let mut row = vec![value::text(path), value::words(sha256), UNKNOWN];
    row.extend(tags::cells(tags));
    row.resize(row.len() + SILENT, UNKNOWN);
    row.extend([value::text(why), UNKNOWN, UNKNOWN]);
    row
}

fn input(check: &Check) -> [Value; 6] {
    let reference = check.reference.as_ref();
    [
        value::text(words::kind(check.input.kind)),
        value::words(check.input.solvent.as_deref()),
        value::number(Some(check.input.field.0)),
        value::count(check.input.points),
        value::words(reference.map(|r| r.signal.as_str())),
        value::number(reference.map(|r| r.applied.0)),
    ]
}

fn judged(check: &Check) -> impl Iterator<Item = Value> {
    let product = check.product.as_ref();
    let verdict = [
        value::words(product.map(|p| p.name.as_str())),
        value::number(product.map(|p| p.molar_mass)),
        value::text(verdict(check.verdict)),
    ];
    let tail = [
        value::number(check.total.limit_wt_percent),
        value::text(status(check.total.status)),
        value::count(check.volatiles.len()),
    ];
    verdict.into_iter().chain(interval(check.total.wt_percent)).chain(tail)
}

fn worst_cells(check: &Check) -> impl Iterator<Item = Value> {
    let worst = worst(check);
    let name = value::words(worst.map(|f| f.name.as_str()));
    let tail = [
        value::number(worst.and_then(|f| f.limit_wt_percent)),
        value::words(worst.map(|f| status(f.status))),
    ];
    [name].into_iter().chain(interval(worst.and_then(|f| f.wt_percent))).chain(tail)
}

pub(super) const fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Dry => "dry",
        Verdict::NeedsDrying => "needs_drying",
        Verdict::Undecided => "undecided",
    }
}
