//! Many spectra at a glance: a table to sort and filter, small pictures, all curves stacked.

use base64::Engine as _;
use lees_core::check::Check;
use maud::{Markup, PreEscaped, html};

use super::article::tone;
use super::{csv, name};
use crate::figure::{self, sample};
use crate::{clean, number, words};

/// Size of a small picture in its own units.
const SIZE: (f64, f64) = (160.0, 36.0);

pub(super) fn overview(title: &str, checks: &[&Check]) -> Markup {
    let table = base64::engine::general_purpose::STANDARD.encode(csv::csv(checks));
    html! {
        section #overview aria-labelledby="overview-title" {
            h1 #overview-title { (title) }
            (tally(checks))
            form.filter role="search" {
                label { "Find " input #find type="search" autocomplete="off"; }
                label { "Verdict "
                    select #only {
                        option value="" { "all" }
                        option value="needs drying" { "needs drying" }
                        option value="undecided" { "undecided" }
                        option value="dry" { "dry" }
                    }
                }
                output #shown for="find only" {}
            }
            div.wide tabindex="0" role="region" aria-label="All spectra" { table #all {
                thead { tr {
                    th scope="col" aria-sort="none" { button type="button" data-sort="text" { "Spectrum" } }
                    th scope="col" aria-sort="none" { button type="button" data-sort="text" { "Verdict" } }
                    th scope="col" aria-sort="none" { button type="button" data-sort="text" { "Largest volatile" } }
                    th.num scope="col" aria-sort="none" { button type="button" data-sort="number" { "wt %" } }
                    th.num scope="col" aria-sort="none" { button type="button" data-sort="number" { "All counted / wt %" } }
                    th.num scope="col" aria-sort="none" { button type="button" data-sort="number" { "Unexplained" } }
                    th scope="col" { "Picture" }
                } }
                tbody { @for (i, check) in checks.iter().enumerate() { (row(check, i)) } }
            } }
            p.downloads {
                a download="lees.csv" href=(format!("data:text/csv;charset=utf-8;base64,{table}")) {
                    "All tables as CSV"
                }
            }
            section.spectrum { h2 { "Stacked" } div.live.stack data-index="all" hidden {} }
        }
    }
}

fn tally(checks: &[&Check]) -> Markup {
    html! {
        p.tally {
            @for (verdict, count) in words::tally(checks) {
                span class={ "status " (tone(verdict)) } { (words::counted(count, words::verdict(verdict))) } " "
            }
        }
    }
}

fn row(check: &Check, index: usize) -> Markup {
    let largest = check.volatiles.first();
    let content = largest.and_then(|f| f.wt_percent.as_ref());
    let total = check.total.wt_percent.as_ref();
    let sortable =
        |e: Option<&lees_core::check::Estimate>| e.map(|e| e.value.to_string()).unwrap_or_default();
    html! {
        tr data-index=(index) data-verdict=(words::verdict(check.verdict)) {
            th scope="row" data-key=(name(check)) {
                a href=(format!("#s{index}")) { (name(check)) }
                span.path { (clean(&check.input.path)) }
            }
            td data-key=(words::verdict(check.verdict)) {
                span class={ "status " (tone(check.verdict)) } { (words::verdict(check.verdict)) }
            }
            td data-key=(largest.map(|f| clean(&f.name)).unwrap_or_default()) {
                (largest.map_or_else(|| "none found".to_owned(), words::either))
            }
            td.num data-key=(sortable(content)) { (content.map_or_else(String::new, number::value)) }
            td.num data-key=(sortable(total)) { (total.map_or_else(|| "n/a".to_owned(), number::interval)) }
            td.num data-key=(check.unexplained.len()) { (check.unexplained.len()) }
            td { (PreEscaped(picture(check))) }
        }
    }
}

/// The curve as a small picture, without words.
fn picture(check: &Check) -> String {
    let range = figure::view(check);
    let full = figure::full(check, range);
    let (width, height) = SIZE;
    let place = |(shift, y): (f64, f64)| {
        let x = width * (range.high.0 - shift) / (range.high.0 - range.low.0);
        let y = (height - 2.0) * (1.0 - (y / full).clamp(-0.02, 1.0)) + 1.0;
        format!("{x:.1} {y:.1}")
    };
    let points = sample::envelope(&check.spectrum, range, width as usize);
    let path: Vec<_> = points.into_iter().map(place).collect();
    format!(
        "<svg class=\"picture\" viewBox=\"0 0 {width} {height}\" aria-hidden=\"true\"><path d=\"M{}\"/></svg>",
        path.join("L")
    )
}
