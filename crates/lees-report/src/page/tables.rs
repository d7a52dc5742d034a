//! The tables of one spectrum.

use lees_core::SettingMap;
use lees_core::check::{Check, Contribution, Finding, LimitStatus, SignalState};
use maud::{Markup, html};

use super::text;
use crate::{clean, number, words};

fn unknown() -> String {
    "n/a".to_owned()
}

fn status_class(status: LimitStatus) -> &'static str {
    match status {
        LimitStatus::Above => "bad",
        LimitStatus::Below => "good",
        LimitStatus::Undecided => "open",
        LimitStatus::NoLimit => "none",
    }
}

/// Buttons that bring the curve to each signal.
fn places(finding: &Finding, index: usize) -> Markup {
    html! {
        @for signal in &finding.signals {
            button.place type="button" data-index=(index) data-ppm=(format!("{:.4}", signal.shift.0))
                title=(signal.note.as_deref().map(clean).unwrap_or_default()) {
                (number::shift(signal.shift.0)) " " (signal.multiplicity)
            }
            " "
        }
    }
}

fn names(finding: &Finding) -> Markup {
    html! {
        (text(&finding.name))
        @if let Some(cas) = &finding.cas { " " span.cas { (clean(cas)) } }
        @for rival in &finding.rivals {
            span.rival {
                " or " (text(&rival.name))
                @if let Some(content) = &rival.wt_percent { " (" (number::value(content)) " wt %)" }
            }
        }
    }
}

pub(super) fn volatiles(check: &Check, index: usize) -> Markup {
    let product = check.product.is_some();
    html! {
        section {
            h3 { "Volatiles found" }
            @if check.volatiles.is_empty() { p { "No volatile found." } }
            @else {
                div.wide tabindex="0" role="region" aria-label="Volatiles found" { table {
                    thead { tr {
                        th scope="col" { "Name" }
                        th scope="col" { "Signals / ppm" }
                        th.num scope="col" { @if product { "mol %" } @else { "Mole ratio" } }
                        th.num scope="col" { "wt %" }
                        th.num scope="col" { "95 % interval" }
                        th.num scope="col" { "Limit / wt %" }
                        th scope="col" { "Status" }
                    } }
                    tbody {
                        @for (i, finding) in check.volatiles.iter().enumerate() { (row(finding, index, i, product)) }
                        @if product { (total(check)) }
                    }
                } }
            }
        }
    }
}

fn row(finding: &Finding, index: usize, i: usize, product: bool) -> Markup {
    let share = if product { &finding.mol_percent } else { &finding.mole_ratio };
    html! {
        tr data-row=(format!("v{i}")) data-index=(index) {
            th scope="row" { span.sign.volatile aria-hidden="true" {} (names(finding)) }
            td { (places(finding, index)) }
            td.num { (share.as_ref().map_or_else(unknown, number::value)) }
            td.num.main {
                @match (&finding.wt_percent, finding.detection_limit_wt_percent) {
                    (Some(content), _) => (number::value(content)),
                    (None, Some(limit)) => { "below " (number::significant(limit, 2)) }
                    (None, None) => (unknown()),
                }
            }
            td.num { (interval(finding)) }
            td.num { (finding.limit_wt_percent.map_or_else(unknown, number::limit)) }
            td { span class={ "status " (status_class(finding.status)) } { (words::status(finding.status)) } }
        }
    }
}

fn interval(finding: &Finding) -> String {
    finding.wt_percent.as_ref().map_or_else(unknown, |content| {
        let (low, high) = number::ends(content);
        format!("{low} to {high}")
    })
}

fn total(check: &Check) -> Markup {
    let total = &check.total;
    html! {
        tr.total {
            th scope="row" { "All counted" }
            td {} td {}
            td.num.main { (total.wt_percent.as_ref().map_or_else(unknown, number::value)) }
            td.num {
                @if let Some(content) = &total.wt_percent {
                    (number::ends(content).0) " to " (number::ends(content).1)
                }
            }
            td.num { (total.limit_wt_percent.map_or_else(unknown, number::limit)) }
            td { span class={ "status " (status_class(total.status)) } { (words::status(total.status)) } }
        }
    }
}

pub(super) fn not_counted(check: &Check, index: usize) -> Markup {
    html! {
        @if !check.not_counted.is_empty() {
            section {
                h3 { "Seen but not counted" }
                div.wide tabindex="0" role="region" aria-label="Seen but not counted" { table {
                    thead { tr {
                        th scope="col" { "Name" }
                        th scope="col" { "Signals / ppm" }
                        th.num scope="col" { "wt %" }
                        th scope="col" { "Why not" }
                    } }
                    tbody { @for (i, entry) in check.not_counted.iter().enumerate() {
                        tr data-row=(format!("n{i}")) data-index=(index) {
                            th scope="row" { span.sign.aside aria-hidden="true" {} (names(&entry.finding)) }
                            td { (places(&entry.finding, index)) }
                            td.num { (entry.finding.wt_percent.as_ref().map_or_else(unknown, number::value)) }
                            td { (text(&entry.why)) }
                        }
                    } }
                } }
            }
        }
    }
}

pub(super) fn unexplained(check: &Check, index: usize) -> Markup {
    html! {
        section {
            h3 { "Unexplained signals" }
            @if check.unexplained.is_empty() { p { "None: every signal is accounted for." } }
            @else {
                div.wide tabindex="0" role="region" aria-label="Unexplained signals" { table {
                    thead { tr {
                        th scope="col" { "Signal / ppm" }
                        th.num scope="col" { "Protons per product" }
                        th scope="col" { "Hint" }
                    } }
                    tbody { @for (i, entry) in check.unexplained.iter().enumerate() {
                        tr data-row=(format!("u{i}")) data-index=(index) {
                            th scope="row" {
                                span.sign.unexplained aria-hidden="true" {}
                                button.place type="button" data-index=(index)
                                    data-ppm=(format!("{:.4}", entry.shift.0)) {
                                    (number::shift(entry.shift.0)) " " (entry.multiplicity)
                                }
                            }
                            td.num { (entry.relative_protons.as_ref().map_or_else(unknown, number::protons_interval)) }
                            td { (text(entry.note.as_deref().unwrap_or_default())) }
                        }
                    } }
                } }
            }
        }
    }
}

/// Expected against found.
pub(super) fn product(check: &Check) -> Markup {
    let Some(product) = &check.product else { return html! {} };
    html! {
        section {
            h3 { "Product: expected and found" }
            p {
                (clean(&product.name))
                @if let Some(formula) = &product.formula { ", " (text(&formula.to_string())) }
                ", " (number::fixed(product.molar_mass, 2)) " g/mol; "
                (words::product_tally(check).unwrap_or_default())
            }
            div.wide tabindex="0" role="region" aria-label="Product signals" { table {
                thead { tr {
                    th.num scope="col" { "No." }
                    th scope="col" { "Expected" }
                    th.num scope="col" { "Found / H" }
                    th scope="col" { "State" }
                    th scope="col" { "Used" }
                    th scope="col" { "Note" }
                } }
                tbody { @for (i, signal) in product.signals.iter().enumerate() {
                    tr data-row=(format!("p{i}")) {
                        td.num { (i + 1) }
                        th scope="row" { (clean(&signal.text)) }
                        td.num { (signal.found_protons.as_ref().map_or_else(unknown, number::protons)) }
                        td { span class={ "status " (state_class(signal.state)) } { (words::state(signal.state)) } }
                        td { @if signal.used { "yes" } @else { "no" } }
                        td { (text(signal.note.as_deref().unwrap_or_default())) }
                    }
                } }
            } }
        }
    }
}

fn state_class(state: SignalState) -> &'static str {
    if state == SignalState::Agrees { "good" } else { "open" }
}

pub(super) fn budgets(check: &Check) -> Markup {
    html! {
        @if check.volatiles.iter().any(|f| !f.budget.is_empty()) {
            section {
                h3 { "Where the uncertainty comes from" }
                @for finding in check.volatiles.iter().filter(|f| !f.budget.is_empty()) {
                    (budget(&clean(&finding.name), &finding.budget))
                }
                @if let Some(purity) = &check.purity { (budget("purity", &purity.budget)) }
            }
        }
    }
}

fn budget(title: &str, entries: &[Contribution]) -> Markup {
    html! {
        details open[entries.len() < 4] {
            summary { (title) }
            div.wide tabindex="0" role="region" aria-label=(format!("Uncertainty of {title}")) { table {
                thead { tr {
                    th scope="col" { "Source" }
                    th.num scope="col" { "1 sigma / % of the value" }
                    th scope="col" { "What would shrink it" }
                } }
                tbody { @for entry in entries { tr {
                    th scope="row" { (text(&entry.source)) }
                    td.num { (words::share(entry.percent)) }
                    td { (text(&entry.remedy)) }
                } } }
            } }
        }
    }
}

/// File, spectrum, and the settings where they are the spectrum's `own`.
pub(super) fn origin(check: &Check, own: bool) -> Markup {
    let input = &check.input;
    let a = &input.acquisition;
    html! {
        section {
            h3 { "Where this comes from" }
            dl {
                dt { "File" } dd { (clean(&input.path)) }
                dt { "SHA-256" } dd.hash { (clean(&input.sha256)) }
                dt { "Spectrum" }
                dd {
                    (words::kind(input.kind)) ", " (number::fixed(input.field.0, 2)) " MHz, "
                    (text(input.solvent.as_deref().unwrap_or("NMR solvent unknown"))) ", "
                    (input.points) " points"
                    @if let Some(scans) = a.scans { ", " (scans) " scans" }
                    @if let Some(time) = a.repetition_time() { ", repetition time " (number::bare(time.0)) " s" }
                }
                dt { "Reference" }
                dd {
                    @if let Some(reference) = &check.reference {
                        (text(&reference.signal)) " at " (number::shift(reference.expected.0))
                        " ppm, moved by " (number::signed(reference.applied.0)) " ppm"
                    } @else { "none found" }
                }
                dt { "Version" } dd { (clean(&check.provenance.version)) }
                dt { "Tables" } dd.hash { (clean(&check.provenance.tables)) }
                dt { "Settings" } dd.hash { (clean(&check.provenance.settings)) }
            }
            @if own { (settings("All settings", &check.settings)) }
        }
    }
}

pub(super) fn settings(title: &str, all: &SettingMap) -> Markup {
    html! {
        details {
            summary { (title) }
            dl { @for (name, value) in all {
                dt { (clean(name)) } dd { (clean(&value.to_string())) }
            } }
        }
    }
}
