//! One spectrum: verdict first, then the tables and the curve, then everything a careful reader asks for.

use base64::Engine as _;
use lees_core::check::{Check, Verdict};
use maud::{Markup, PreEscaped, html};

use super::{csv, name, tables, text, trace};
use crate::figure::{self, FigureOptions};
use crate::{ReportError, json, number, words};

/// Above this many spectra the printed figures are drawn coarser, to keep the page small.
const MANY: usize = 8;
/// Width of a column of a coarse printed figure, in mm.
const COARSE: f64 = 0.3;

/// The `index`-th article `of` so many: its curve takes about `share` bytes, and it tells its settings where they are its `own`.
pub(super) fn article(
    check: &Check,
    index: usize,
    of: usize,
    (share, own): (usize, bool),
) -> Result<Markup, ReportError> {
    let still = still(check, of)?;
    Ok(html! {
        article.sheet id=(format!("s{index}")) data-index=(index) aria-labelledby=(format!("h{index}")) {
            (verdict(check, index))
            (tables::volatiles(check, index))
            (chart(check, index, &still, share))
            (tables::unexplained(check, index))
            (tables::product(check))
            (tables::not_counted(check, index))
            @if let Some(absent) = words::not_found(check) {
                section { h3 { "Looked for, not found" } p { (text(&absent)) } }
            }
            (purity(check))
            @if !check.warnings.is_empty() {
                section.warnings { h3 { "Warnings" } (list(&check.warnings)) }
            }
            (tables::budgets(check))
            @if !check.cautions.is_empty() {
                section.cautions { h3 { "Cautions" } (list(&check.cautions)) }
            }
            (tables::origin(check, own))
            (downloads(check, index))
        }
    })
}

pub(super) const fn tone(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Dry => "good",
        Verdict::NeedsDrying => "bad",
        Verdict::Undecided => "open",
    }
}

fn verdict(check: &Check, index: usize) -> Markup {
    html! {
        header class={ "verdict " (tone(check.verdict)) } {
            p.word { (words::verdict(check.verdict)) }
            div {
                h2 id=(format!("h{index}")) { (name(check)) }
                p.meaning { (words::meaning(check.verdict)) }
                (list(&check.reasons))
                @if !check.advice.is_empty() { div.advice { p { "What next" } (list(&check.advice)) } }
            }
        }
    }
}

fn list(lines: &[String]) -> Markup {
    html! { ul { @for line in lines { li { (text(line)) } } } }
}

/// A still figure for paper and for readers without script; the live one takes its place.
fn still(check: &Check, of: usize) -> Result<String, ReportError> {
    let column_mm = if of > MANY { COARSE } else { FigureOptions::default().column_mm };
    let options = FigureOptions { embed_fonts: false, column_mm, ..FigureOptions::default() };
    figure::svg(&[check], &options)
}

fn chart(check: &Check, index: usize, still: &str, share: usize) -> Markup {
    html! {
        section.spectrum {
            h3 { "Spectrum" }
            div.live data-index=(index) hidden {}
            figure.still { (PreEscaped(still)) }
            script type="application/json" id=(format!("t{index}")) { (PreEscaped(trace::json(check, share))) }
        }
    }
}

fn purity(check: &Check) -> Markup {
    html! {
        @if let Some(purity) = &check.purity {
            section {
                h3 { "Purity by internal standard" }
                p {
                    strong { (number::interval(&purity.wt_percent)) " wt %" }
                    " product in the weighed sample, against " (text(&purity.standard)) " ("
                    (text(&purity.standard_signal)) ")"
                }
            }
        }
        @if let Some(corrected) = &check.corrected_yield {
            section {
                h3 { "Yield" }
                p {
                    (number::of_mass(&corrected.product_mass_g, corrected.crude_mass_g)) " g product in "
                    (number::weighed(corrected.crude_mass_g)) " g crude"
                    @if let Some(percent) = &corrected.yield_percent {
                        "; corrected yield " (number::of_yield(percent)) " %"
                    }
                    ", " (words::basis(corrected.basis))
                }
            }
        }
    }
}

fn downloads(check: &Check, index: usize) -> Markup {
    let encode = |text: &str| base64::engine::general_purpose::STANDARD.encode(text);
    let table = format!("data:text/csv;charset=utf-8;base64,{}", encode(&csv::csv(&[check])));
    let object = json::check(check);
    let file = format!("data:application/json;base64,{}", encode(&object));
    html! {
        p.downloads {
            a download=(format!("lees-{}.csv", index + 1)) href=(table) { "Table as CSV" }
            " "
            a download=(format!("lees-{}.json", index + 1)) href=(file) { "Result as JSON" }
        }
        script type="application/json" id=(format!("j{index}")) { (PreEscaped(inert(&object))) }
    }
}

/// JSON that can stand in a script element: no tag can start or end in it.
pub(super) fn inert(json: &str) -> String {
    json.replace('<', "\\u003c").replace('>', "\\u003e").replace('&', "\\u0026")
}
