//! Published determinations as spectra: the printed ratio of integrals drawn, the printed masses given, the printed purity
//! to be found.
//!
//! S. Westwood et al., Internal Standard Reference Data for qNMR: BIPM-2018/04 (dimethyl terephthalate by dimethyl sulfone in
//! CDCl3) and BIPM-2019/03 (dimethyl sulfone by 1,4-bis(trimethylsilyl)benzene-d4 in DMSO-d6). Shifts and the solvents' own
//! lines are typical values from memory.

use lees::{Checker, Job, Settings};
use lees_core::Measurement;
use lees_format::write::{WriteOptions, jcamp};
use lees_match::Beside;
use lees_match::standard::{InternalStandard, Weighing};
use lees_spin::simulate::{Compound, Deuterium, Recipe, Signal, simulate};

/// What is printed.
struct Printed {
    solvent: &'static str,
    product: &'static str,
    product_lines: &'static [(f64, f64)],
    standard: &'static str,
    standard_line: (f64, f64),
    /// Moles of standard per mole of product, from the ratio of integrals and the protons.
    ratio: f64,
    sample_mg: f64,
    standard_mg: f64,
    standard_percent: f64,
    percent: f64,
}

const PRINTED: [Printed; 2] = [
    Printed {
        solvent: "CDCl3",
        product: "name = \"dimethyl terephthalate\"\nformula = \"C10H10O4\"\nsignals = \"8.10 (s, 4H), 3.94 (s, 6H)\"",
        product_lines: &[(8.10, 4.0), (3.94, 6.0)],
        standard: "dimethyl sulfone",
        standard_line: (3.00, 6.0),
        ratio: 1.0 / 0.7154,
        sample_mg: 8.5689,
        standard_mg: 5.8213,
        standard_percent: 99.64,
        percent: 99.90,
    },
    Printed {
        solvent: "DMSO-d6",
        product: "name = \"dimethyl sulfone\"\nformula = \"C2H6O2S\"\nsignals = \"2.99 (s, 6H)\"",
        product_lines: &[(2.99, 6.0)],
        standard: "1,4-bis(trimethylsilyl)benzene-d4",
        standard_line: (0.22, 18.0),
        ratio: 5.9988 / 17.9964 / 0.8173,
        sample_mg: 2.6524,
        standard_mg: 2.5969,
        standard_percent: 99.91,
        percent: 99.67,
    },
];

fn recipe(printed: &Printed) -> Recipe {
    let mut recipe = Recipe { seed: 5, ..Recipe::default() };
    recipe.instrument.field_mhz = 600.13;
    recipe.instrument.spectral_width_hz = 12_000.0;
    recipe.instrument.solvent = printed.solvent.to_owned();
    recipe.instrument.relaxation_delay_s = Some(65.0);
    recipe.instrument.pulse_angle_deg = Some(90.0);
    recipe.noise.snr = Some(2000.0);
    (recipe.shape.natural_hz, recipe.shape.gaussian_hz) = (0.35, 0.35);
    recipe.output.imaginary = true;
    let compound = |name: &str, lines: &[(f64, f64)]| {
        lines.iter().fold(Compound::new(name).mass(100.0), |compound, &(at, protons)| {
            compound.signal(Signal::new(at, protons))
        })
    };
    recipe.product = Some(compound("product", printed.product_lines));
    recipe.other = vec![compound(printed.standard, &[printed.standard_line]).ratio(printed.ratio)];
    let mut own = Signal::new(if printed.solvent == "CDCl3" { 7.26 } else { 2.50 }, 1.0);
    if printed.solvent == "DMSO-d6" {
        own.deuterium = Some(Deuterium { n: 5, j: 1.9 });
    }
    recipe.nmr_solvent = Some(Compound::new("residual").mass(100.0).ratio(0.3).signal(own));
    let water = if printed.solvent == "CDCl3" { 1.56 } else { 3.33 };
    let water = Signal::new(water, 2.0).exchanging().wide(2.0);
    recipe.water = Some(Compound::new("water").mass(18.015).ratio(0.2).signal(water));
    recipe
}

#[test]
fn published_purities_are_found_again() {
    for printed in &PRINTED {
        let made = simulate(&recipe(printed)).unwrap();
        let bytes = jcamp(&Measurement::Spectrum(made.spectrum), &WriteOptions::default()).bytes;
        let mut settings = Settings::default();
        settings.matching.weighed.balance_u_mg = 0.001;
        settings.matching.weighed.standard_purity_u_percent = 0.04;
        let (standard_mg, sample_mg) = (printed.standard_mg, printed.sample_mg);
        let weighing =
            Weighing::of(standard_mg, sample_mg, printed.standard_percent, &settings.matching.weighed);
        let given = InternalStandard { name: printed.standard.to_owned(), weighing };
        let job = Job {
            product: Some(lees_format::product::parse(printed.product, "product.toml").unwrap()),
            beside: Beside { standard: Some(given), blank: None },
            settings,
            ..Job::default()
        };
        let check = Checker::new(&job).unwrap().check(&bytes, "published.jdx").unwrap().remove(0).unwrap();
        let found = check.purity.expect(printed.standard).wt_percent;
        println!("{}: printed {}, found {found:?}", printed.standard, printed.percent);
        assert!((found.value - printed.percent).abs() < 0.3, "{}: {found:?}", printed.standard);
        assert!(found.low <= printed.percent && printed.percent <= found.high, "{found:?}");
    }
}
