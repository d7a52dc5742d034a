//! `lees report`: one self-contained page, and the same on paper.
//!
//! The page needs no network and no other file. A content-security policy allows nothing but its own style and
//! script, named by their hashes, so that no text from a file can ever run.

mod article;
mod csv;
mod overview;
mod paper;
mod print;
mod shell;
mod tables;
mod trace;

use lees_core::SettingMap;
use lees_core::check::Check;
use maud::Markup;

use crate::{ReportError, formula};

pub use paper::pdf;

/// Options of [`html`] and [`pdf`].
#[derive(Debug, Clone, PartialEq)]
pub struct PageOptions {
    /// The page's title; `None` names it after its spectra.
    pub title: Option<String>,
    /// Most bytes that all spectra together may take in the page. Above it, points are dropped in pairs of lowest
    /// and highest, which never loses a line.
    pub spectrum_bytes: usize,
}

impl PageOptions {
    /// So that a page of fifty spectra stays under ten megabytes.
    const SPECTRUM_BYTES: usize = 6_500_000;
}

impl Default for PageOptions {
    fn default() -> Self {
        Self { title: None, spectrum_bytes: Self::SPECTRUM_BYTES }
    }
}

/// The page for one or many checked spectra, as HTML text.
///
/// ```
/// use lees_report::page::{PageOptions, html};
/// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/checked_dye.rs")); }
/// # use made::*;
/// let check = checked_dye(); // a dye with 1.4 wt% 2-propanol
/// let page = html(&[&check], &PageOptions::default())?;
/// assert!(page.starts_with("<!DOCTYPE html>") && page.contains("2-propanol"));
/// assert!(!page.contains("https://"), "nothing is fetched");
/// # Ok::<(), lees_report::ReportError>(())
/// ```
///
/// # Errors
/// [`ReportError::Empty`] for no spectrum; otherwise what [`figure::draw`](crate::figure::draw) reports.
pub fn html(checks: &[&Check], options: &PageOptions) -> Result<String, ReportError> {
    if checks.is_empty() {
        return Err(ReportError::Empty);
    }
    let share = options.spectrum_bytes / checks.len();
    let shared = shared_settings(checks);
    let articles = checks
        .iter()
        .enumerate()
        .map(|(index, check)| article::article(check, index, checks.len(), (share, shared.is_none())))
        .collect::<Result<Vec<_>, _>>()?;
    Ok(shell::page(&title(checks, options), checks, &articles, shared))
}

fn title(checks: &[&Check], options: &PageOptions) -> String {
    options.title.clone().unwrap_or_else(|| match checks {
        [one] => format!("{}: {}", name(one), crate::words::verdict(one.verdict)),
        many => format!("{} spectra checked for volatiles", many.len()),
    })
}

/// A text from a check as HTML, the digits of formulae lowered.
fn text(text: &str) -> Markup {
    let text = crate::clean(text);
    maud::html! {
        @for (piece, low) in formula::pieces(&text) { @if low { sub { (piece) } } @else { (piece) } }
    }
}

/// The settings of several checks, when they are the same for all.
fn shared_settings<'a>(checks: &[&'a Check]) -> Option<&'a SettingMap> {
    let (first, rest) = checks.split_first()?;
    let same = !rest.is_empty() && rest.iter().all(|check| check.settings == first.settings);
    same.then_some(&first.settings)
}

/// The title of the spectrum, or its path when it has none.
fn name(check: &Check) -> String {
    let title = crate::clean(&check.input.title);
    if title.is_empty() { crate::clean(&check.input.path) } else { title }
}
