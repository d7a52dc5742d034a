//! The page as text: nothing from outside, nothing that runs but its own script.

mod fixture;

use lees_report::ReportError;
use lees_report::page::{PageOptions, html, pdf};

#[test]
fn the_page_loads_nothing_and_names_its_script_by_hash() {
    let page = html(&[&fixture::batch(0.05, "wet.jdx")], &PageOptions::default()).unwrap();
    assert!(page.starts_with("<!DOCTYPE html>"));
    assert!(page.contains("default-src 'none'") && page.contains("script-src 'sha256-"));
    for outside in
        ["src=\"http", "href=\"http", "url(http", "@import", "<link", "<iframe", " style=\"", "onclick="]
    {
        assert!(!page.contains(outside), "{outside}");
    }
    assert!(page.len() < 500_000, "{} bytes", page.len());
}

#[test]
fn text_from_files_is_escaped_everywhere() {
    let mut check = fixture::batch(0.05, "<u>wet</u>.jdx");
    let evil = "</script><script>alert(1)</script><img src=x onerror=alert(1)>\"'&";
    check.input.title = evil.to_owned();
    check.input.solvent = Some(evil.to_owned());
    check.volatiles[0].name = evil.to_owned();
    check.volatiles[0].signals[0].group = evil.to_owned();
    check.warnings = vec![evil.to_owned()];
    check.product.as_mut().unwrap().name = evil.to_owned();
    for checks in [vec![&check], vec![&check, &check]] {
        let page = html(&checks, &PageOptions::default()).unwrap();
        assert!(!page.contains("<img") && !page.contains("<u>") && !page.contains("<script>alert"));
    }
}

#[test]
fn verdict_tables_settings_and_hash_are_on_the_page() {
    let page = html(&[&fixture::batch(0.05, "wet.jdx")], &PageOptions::default()).unwrap();
    let order = [
        "needs drying",
        "Volatiles found",
        "2-propanol",
        "Unexplained signals",
        "Product: expected and found",
        "Seen but not counted",
        "Warnings",
        "Where the uncertainty comes from",
        "Cautions",
        "SHA-256",
        "process.line_broadening_hz",
    ];
    let body = page.find("<main").unwrap();
    let mut from = body;
    for words in order {
        let at = page[from..].find(words).unwrap_or_else(|| panic!("{words} not after the last"));
        from += at;
    }
}

#[test]
fn many_spectra_share_a_budget_of_bytes() {
    let check = fixture::batch(0.05, "wet.jdx");
    let one = html(&[&check], &PageOptions::default()).unwrap().len();
    let tight = PageOptions { spectrum_bytes: 20_000, ..PageOptions::default() };
    let small = html(&[&check], &tight).unwrap().len();
    assert!(small + 60_000 < one, "{small} of {one}");
}

#[test]
fn the_pdf_has_a_page_for_every_spectrum_at_least() {
    let check = fixture::batch(0.05, "wet.jdx");
    let file = pdf(&[&check, &check], &PageOptions::default()).unwrap();
    let again = || pdf(&[&check, &check], &PageOptions::default()).unwrap();
    assert!((0..8).all(|_| again() == file), "the same results give the same bytes");
    assert!(file.starts_with(b"%PDF-"));
    let pages = file.windows(11).filter(|w| w == b"/Type/Page\n" || w.starts_with(b"/Type /Page")).count();
    assert!(pages >= 2, "{pages}");
    assert!(matches!(pdf(&[], &PageOptions::default()), Err(ReportError::Empty)));
}

#[test]
fn a_registry_number_stands_behind_the_name_it_belongs_to() {
    let mut check = fixture::batch(0.05, "wet.jdx");
    check.volatiles[0].cas = Some("67-63-0".to_owned());
    check.volatiles[0].rivals =
        vec![lees_core::check::Rival { name: "diethyl ether".to_owned(), wt_percent: None }];
    let page = html(&[&check], &PageOptions::default()).unwrap();
    let head = &page[page.find("data-row=\"v0\"").unwrap()..];
    let head = &head[..head.find("</th>").unwrap()];
    let at = |words: &str| head.find(words).unwrap_or_else(|| panic!("{words} in {head}"));
    assert!(at("2-propanol") < at("67-63-0") && at("67-63-0") < at("or diethyl ether"), "{head}");
}

#[test]
fn settings_that_all_spectra_share_stand_once_on_the_page() {
    let (one, mut other) = (fixture::batch(0.05, "wet.jdx"), fixture::batch(0.01, "dry.jdx"));
    let told = |checks: &[&lees_core::check::Check]| {
        html(checks, &PageOptions::default()).unwrap().matches("<dt>process.baseline</dt>").count()
    };
    assert_eq!(told(&[&one]), 1);
    assert_eq!(told(&[&one, &other]), 1);
    other.settings.insert("match.threshold".to_owned(), lees_core::SettingValue::Number(7.0));
    assert_eq!(told(&[&one, &other]), 2);
}

#[test]
fn digits_of_formulae_are_lowered_on_the_page() {
    let page = html(&[&fixture::batch(0.05, "wet.jdx")], &PageOptions::default()).unwrap();
    for formula in [
        "C<sub>15</sub>H<sub>17</sub>NO<sub>3</sub>",
        "CDCl<sub>3</sub>",
        "2-propanol CH<sub>3</sub> lies here",
    ] {
        assert!(page.contains(formula), "{formula}");
    }
}
