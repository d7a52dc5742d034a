//! What is kept of one spectrum once it is checked: renderings and a brief, no arrays.

use serde::{Deserialize, Serialize};

use lees_core::check::Check;
use lees_core::rack::{Brief, Tags};
use lees_report::page::{PageOptions, html};
use lees_report::tables::{Row, Rows, failed, findings, spectrum};
use lees_report::terminal::Style;
use lees_report::{json, terminal};

/// Which renderings are wanted.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Want {
    /// Text to read.
    pub(crate) text: bool,
    /// With the uncertainty budget.
    pub(crate) explain: bool,
    /// The whole result as a JSON object.
    pub(crate) object: bool,
    /// Rows of a table.
    pub(crate) rows: Option<Rows>,
    /// The page of the file.
    pub(crate) page: bool,
    /// Whether the file may be an archive, whose members are dealt with one by one.
    pub(crate) unpack: bool,
    /// How text looks.
    pub(crate) style: Style,
}

impl Want {
    /// A word for the resume file: results prepared for another output are no use.
    pub(super) fn word(&self) -> &'static str {
        match (self.object, self.rows) {
            (true, _) => "object",
            (false, Some(Rows::Findings)) => "findings",
            (false, Some(Rows::Spectra)) => "spectra",
            (false, None) => "text",
        }
    }
}

/// One spectrum, checked or failed.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(crate) enum Outcome {
    /// Checked.
    Checked {
        /// Verdict and amounts.
        brief: Box<Brief>,
        /// Text to read, when wanted.
        text: String,
        /// The JSON object and its line break, when wanted.
        object: String,
        /// Rows, as wanted.
        rows: Vec<Row>,
        /// The page of all spectra of the file, or why there is none; with the first of them, when wanted. It is
        /// written at once and never kept in a resume file.
        #[serde(skip)]
        page: Option<Result<String, String>>,
    },
    /// Failed.
    Failed {
        /// Why.
        why: String,
        /// Its row, when rows of spectra are wanted.
        rows: Vec<Row>,
    },
}

impl Outcome {
    /// Renders a check; its arrays are let go when this returns.
    pub(crate) fn checked(check: &Check, tags: &Tags, want: Want) -> Self {
        let rows = match want.rows {
            Some(Rows::Findings) => findings(check, tags),
            Some(Rows::Spectra) => vec![spectrum(check, tags)],
            None => Vec::new(),
        };
        let object = if want.object { json::check(check) + "\n" } else { String::new() };
        let brief = Box::new(Brief::new(check, tags));
        Self::Checked { brief, text: text(check, want), object, rows, page: None }
    }

    /// A spectrum that could not be checked.
    pub(crate) fn failed(path: &str, sha256: &str, why: &str, tags: &Tags, want: Want) -> Self {
        let rows = failed_row(path, Some(sha256), why, tags, want.rows);
        Self::Failed { why: why.to_owned(), rows }
    }

    /// Puts the page of a file to the first spectrum that was checked.
    pub(super) fn put_page(outcomes: &mut [Self], draw: impl FnOnce() -> Result<String, String>) {
        let first = outcomes.iter_mut().find_map(|outcome| match outcome {
            Self::Checked { page, .. } => Some(page),
            Self::Failed { .. } => None,
        });
        if let Some(page) = first {
            *page = Some(draw());
        }
    }

    /// Its rows.
    pub(crate) fn rows(&self) -> &[Row] {
        match self {
            Self::Checked { rows, .. } | Self::Failed { rows, .. } => rows,
        }
    }
}

/// The row of a failed input: there is one in a table of spectra only.
pub(crate) fn failed_row(
    path: &str,
    sha256: Option<&str>,
    why: &str,
    tags: &Tags,
    rows: Option<Rows>,
) -> Vec<Row> {
    if rows == Some(Rows::Spectra) { vec![failed(path, sha256, why, tags)] } else { Vec::new() }
}

/// The page of every spectrum of a file that could be checked.
pub(super) fn page(checks: &[Check]) -> Result<String, String> {
    let checks: Vec<&Check> = checks.iter().collect();
    html(&checks, &PageOptions::default()).map_err(|fault| fault.to_string())
}

fn text(check: &Check, want: Want) -> String {
    if !want.text {
        return String::new();
    }
    let mut text = terminal::check(check, &want.style);
    if want.explain {
        text += &terminal::explain(check, &want.style);
    }
    text
}
