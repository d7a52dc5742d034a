//! Doubts about the spectrum itself that no measured content outweighs: NMR solvent, resolution, product.

#![allow(clippy::expect_used, reason = "helpers of tests fail the test")]

use lees::{Checker, Job};
use lees_core::check::{Check, Verdict};
use lees_core::{LimitSet, Product};

const DAMP: &[u8] = include_bytes!("../../../demo-spectra/batch-6-h.jdx");
const DYE: &str = include_str!("../../../demo-spectra/thiazolyl-coumarin.toml");

/// The demo's dye with a limit for the sum alone: no limit of its own asks for a volatile by name.
fn dye() -> Product {
    let mut product = lees_format::product::parse(DYE, "dye.toml").expect("the demo's product");
    product.limits = LimitSet { each: Default::default(), ..product.limits };
    product
}

fn check(bytes: &[u8], solvent: Option<&str>, product: Product) -> Check {
    let mut job = Job { product: Some(product), ..Job::default() };
    job.settings.matching.solvent = solvent.map(str::to_owned);
    let mut all = Checker::new(&job).expect("a sound job").check(bytes, "batch.jdx").expect("read");
    all.remove(0).expect("checked")
}

/// The demo's batch after 6 h, 0.547 wt% 2-propanol in it, without a word on the NMR solvent.
fn unlabelled() -> Vec<u8> {
    let text = String::from_utf8(DAMP.to_vec()).expect("text");
    let kept: String = text.split_inclusive('\n').filter(|line| !line.contains("SOLVENT")).collect();
    assert!(kept.len() < text.len(), "there was a label");
    kept.into_bytes()
}

#[test]
fn a_wrong_nmr_solvent_never_gives_dry() {
    for solvent in ["DMSO-d6", "D2O", "CD3OD", "C6D6", "acetone-d6", "CD3CN"] {
        let found = check(DAMP, Some(solvent), dye());
        assert_ne!(found.verdict, Verdict::Dry, "{solvent}: 0.547 wt% 2-propanol, limit 0.5 wt%");
        assert!(found.warnings.iter().any(|w| w.contains("the file's label says CDCl3")), "{solvent}");
    }
}

#[test]
fn the_nmr_solvent_is_told_where_the_product_leaves_the_axis_no_room() {
    let found = check(&unlabelled(), None, dye());
    let names: Vec<&str> = found.volatiles.iter().map(|f| f.name.as_str()).collect();
    assert_eq!((found.input.solvent.as_deref(), names), (Some("CDCl3"), vec!["2-propanol", "toluene"]));
    assert_eq!(found.verdict, Verdict::NeedsDrying);
    assert!(found.warnings.iter().any(|w| w.contains("the spectrum fits CDCl3")), "{:?}", found.warnings);
}

#[test]
fn where_the_nmr_solvent_stays_unknown_nothing_is_known_of_volatiles() {
    // 7.26 ppm cut off: neither residual line nor TMS is left to tell the solvent by
    let text = String::from_utf8(unlabelled()).expect("text");
    let document = lees_format::read(text.as_bytes(), "batch.jdx", &Default::default()).expect("read");
    let chosen = document.measurements(Default::default()).expect("a spectrum").remove(0);
    let lees_core::Measurement::Spectrum(mut spectrum) = chosen.measurement else { unreachable!() };
    let axis = spectrum.axis;
    let (from, to) =
        (axis.position(lees_core::Ppm(7.29)) as usize, axis.position(lees_core::Ppm(7.23)) as usize);
    for point in from.min(to)..from.max(to) {
        spectrum.real[point] = if point % 2 == 0 { 20.0 } else { -20.0 };
    }
    let processed = lees_process::process(
        &lees_core::Measurement::Spectrum(spectrum),
        &Default::default(),
        &mut lees_process::Workspace::new(),
    )
    .expect("processed");
    let tables = lees_match::table::Tables::bundled();
    let found = lees_match::identify(&processed, Some(&dye()), tables, &Default::default()).expect("checked");
    assert_eq!((found.input.solvent.as_deref(), found.verdict), (None, Verdict::Undecided));
    assert_eq!(found.total.wt_percent, None, "nothing was looked for");
    assert!(found.reasons[0].starts_with("The NMR solvent is not known"), "{:?}", found.reasons);
}

#[test]
fn a_spectrum_too_coarse_for_patterns_decides_nothing() {
    let coarse = include_bytes!("../../../fuzz/seeds/check/sqz");
    let found = check(coarse, None, dye());
    assert_eq!(found.verdict, Verdict::Undecided, "{:?}", found.reasons);
    assert!(found.reasons[0].starts_with("The spectrum has a point every 1.95 Hz"), "{:?}", found.reasons);
}

#[test]
fn without_a_measured_product_there_are_no_contents_by_mass() {
    let mut product = dye();
    product.signals.truncate(1);
    product.signals[0].range = lees_core::ShiftRange::new(lees_core::Ppm(15.0), lees_core::Ppm(16.0));
    let found = check(DAMP, None, product);
    let alcohol = found.volatiles.iter().find(|f| f.name == "2-propanol").expect("it is there");
    assert!(alcohol.mole_ratio.is_some());
    assert_eq!((alcohol.wt_percent, alcohol.mol_percent, found.total.wt_percent), (None, None, None));
}
