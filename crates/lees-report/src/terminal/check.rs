//! One spectrum.

use lees_core::check::{Check, Verdict};

use super::findings;
use super::style::{Style, Tone};
use super::wrap::{hanging, wrap};
use crate::{clean, number, words};

/// The check as text: verdict, what was found where, what is not counted, what is left unexplained, the product's
/// signals, what to do next, warnings, cautions. Ends in a line break.
///
/// ```
/// use lees_report::terminal::{Style, check};
/// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/checked_dye.rs")); }
/// # use made::*;
/// let text = check(&checked_dye(), &Style { width: 80, ..Style::default() });
/// assert!(text.starts_with("NEEDS DRYING"));
/// assert!(text.lines().all(|line| line.chars().count() <= 80));
/// ```
#[must_use]
pub fn check(check: &Check, style: &Style) -> String {
    let mut out = headline(check, style);
    out.push_str(&bullets(&check.reasons, style));
    out.push_str(&section("Found", findings::volatiles(check, style), style));
    if !check.not_counted.is_empty() {
        out.push_str(&section("Not counted", findings::not_counted(&check.not_counted, style), style));
    }
    if let Some(absent) = words::not_found(check) {
        out.push_str(&section("Looked for, not found", hanging("  ", &absent, style.columns()), style));
    }
    out.push_str(&section("Unexplained", unexplained(check, style), style));
    if check.product.is_some() {
        out.push_str(&section("Product", findings::product(check, style), style));
    }
    out.push_str(&purity(check, style));
    if !check.advice.is_empty() {
        out.push_str(&section("What next", bullets(&check.advice, style), style));
    }
    if !check.warnings.is_empty() {
        out.push_str(&section("Warnings", bullets(&check.warnings, style), style));
    }
    out.push_str(&section("Spectrum", origin(check, style), style));
    if !check.cautions.is_empty() {
        out.push_str(&section("Cautions", bullets(&check.cautions, style), style));
    }
    out
}

pub(super) fn tone(verdict: Verdict) -> Tone {
    match verdict {
        Verdict::Dry => Tone::Good,
        Verdict::NeedsDrying => Tone::Bad,
        Verdict::Undecided => Tone::Open,
    }
}

fn headline(check: &Check, style: &Style) -> String {
    let verdict = words::verdict(check.verdict).to_uppercase();
    let rest = format!("{} ({})", clean(&check.input.path), words::meaning(check.verdict));
    let lines = wrap(&style.plain(&rest), style.columns().saturating_sub(verdict.len() + 2));
    let gap = format!("\n{}", " ".repeat(verdict.len() + 2));
    format!("{}  {}\n", style.paint(&verdict, tone(check.verdict)), lines.join(&gap))
}

fn section(title: &str, body: String, style: &Style) -> String {
    format!("\n{}\n{body}", style.paint(title, Tone::Strong))
}

fn bullets(lines: &[String], style: &Style) -> String {
    lines.iter().map(|line| hanging("  - ", &style.plain(&clean(line)), style.columns())).collect()
}

fn unexplained(check: &Check, style: &Style) -> String {
    if check.unexplained.is_empty() {
        return "  nothing: every signal is accounted for\n".to_owned();
    }
    findings::unexplained(check, style)
}

fn purity(check: &Check, style: &Style) -> String {
    let lines = words::purity(check);
    if lines.is_empty() { String::new() } else { section("Purity", bullets(&lines, style), style) }
}

fn origin(check: &Check, style: &Style) -> String {
    let input = &check.input;
    let mut parts = Vec::new();
    if !input.title.is_empty() {
        parts.push(format!("\"{}\"", clean(&input.title)));
    }
    parts.push(format!("{}, {} MHz", words::kind(input.kind), number::fixed(input.field.0, 2)));
    parts.push(input.solvent.as_deref().map_or_else(|| "NMR solvent unknown".to_owned(), clean));
    parts.push(format!("{} points", input.points));
    parts.push(words::referenced(check));
    hanging("  ", &style.plain(&parts.join(", ")), style.columns())
}
