//! Areas of the product's signals on simulated recordings: what is planted is what is read.

#![allow(clippy::expect_used, reason = "helpers of tests fail the test")]

use lees_core::check::ProductSignal;
use lees_core::{Measurement, Product};
use lees_match::table::Tables;
use lees_match::{Settings, identify};
use lees_process::{Workspace, process};
use lees_spin::simulate::{Compound, Foot, Recipe, Signal, simulate};

/// An invented ester as a journal describes it; its multiplets hide couplings under 2 Hz.
fn product() -> Product {
    let text =
        "8.01 (d, J = 8.5 Hz, 2H), 7.52 (t, J = 7.5 Hz, 2H), 4.20 (s, 2H), 2.40 (s, 3H), 1.85-1.77 (m, 2H)";
    Product {
        name: "ester".to_owned(),
        formula: None,
        molar_mass: 262.3,
        signals: lees_format::journal::parse(text).expect("entries"),
        nmr_solvent: None,
        quantify: Vec::new(),
        limits: lees_core::LimitSet::default(),
    }
}

/// The same to simulate: lines of 0.8 Hz, Lorentzian, phase and baseline without a fault.
fn recipe(snr: f64) -> Recipe {
    let mut recipe = Recipe { seed: 5, ..Recipe::default() };
    recipe.noise.snr = Some(snr);
    recipe.output.imaginary = true;
    recipe.shape.natural_hz = 0.6;
    recipe.shape.gaussian_hz = 0.0;
    recipe.instrument.relaxation_delay_s = Some(60.0);
    recipe.instrument.pulse_angle_deg = Some(30.0);
    recipe.product = Some(
        Compound::new("ester")
            .mass(262.3)
            .signal(Signal::new(8.01, 2.0).split_by(1, 8.5).split_by(1, 1.1).split_by(1, 0.8))
            .signal(Signal::new(7.52, 2.0).split_by(2, 7.5).split_by(2, 1.2))
            .signal(Signal::new(4.20, 2.0))
            .signal(Signal::new(2.40, 3.0))
            .signal(Signal::new(1.81, 2.0).split_by(2, 6.6).split_by(2, 7.3).split_by(2, 0.9)),
    );
    recipe.nmr_solvent = Some(Compound::new("CHCl3").mass(119.38).ratio(0.2).signal(Signal::new(7.26, 1.0)));
    recipe
}

/// Protons found in each signal over those planted, and the standard uncertainty, both over the singlet's at 2.40.
fn ratios(recipe: &Recipe) -> Vec<(f64, f64)> {
    let made = simulate(recipe).expect("a sound recipe");
    let measurement = Measurement::Spectrum(made.spectrum);
    let processed = process(&measurement, &lees_process::Settings::default(), &mut Workspace::default())
        .expect("processed");
    let check =
        identify(&processed, Some(&product()), Tables::bundled(), &Settings::default()).expect("identified");
    let signals = check.product.expect("described").signals;
    let found = |s: &ProductSignal| {
        let protons = s.found_protons.expect("measured");
        (protons.value / s.protons, protons.u / s.protons)
    };
    let singlet = signals.iter().find(|s| s.range.contains(lees_core::Ppm(2.40))).expect("the singlet");
    let unit = found(singlet).0;
    signals.iter().map(found).map(|(value, u)| (value / unit, u / unit)).collect()
}

#[test]
fn multiplets_that_hide_small_couplings_have_the_area_of_their_protons() {
    for (ratio, u) in ratios(&recipe(5000.0)) {
        assert!((ratio - 1.0).abs() < 0.01, "{ratio} +- {u}");
        assert!(u < 0.02, "{u}");
    }
}

/// A foot of 6 % on every line, which the common line describes in part only.
#[test]
fn a_foot_that_the_common_line_misses_cancels() {
    let mut footed = recipe(2000.0);
    footed.shape.foot = Some(Foot { share: 0.06, offset_hz: 0.8, gaussian_hz: 2.0 });
    for (ratio, u) in ratios(&footed) {
        assert!((ratio - 1.0).abs() < 0.015, "{ratio} +- {u}");
    }
}

#[test]
fn beside_much_noise_the_areas_err_within_their_uncertainties() {
    let all: Vec<(f64, f64)> = (0..4)
        .flat_map(|seed| ratios(&Recipe { seed, ..recipe(80.0) }))
        .filter(|(ratio, _)| (ratio - 1.0).abs() > 1e-12)
        .collect();
    let chi2: f64 = all.iter().map(|(ratio, u)| ((ratio - 1.0) / u).powi(2)).sum();
    let each = chi2 / all.len() as f64;
    assert!((0.1..2.0).contains(&each), "{each} {all:?}");
    assert!(all.iter().all(|(_, u)| *u < 0.12), "{all:?}");
}
