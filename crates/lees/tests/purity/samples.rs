//! Samples of known purity with a standard of the bundled table, weighed with the errors of real balances.

use lees_core::Product;
use lees_match::standard::{InternalStandard, WeighedSettings, Weighing};
use lees_match::table::Tables;
use lees_spin::simulate::{Compound, Recipe, Signal, Split};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal};

/// An invented laser dye and an invented isopropyl ester, as journal lines in a product file.
const PRODUCTS: [&str; 2] = [
    r#"name = "dye"
formula = "C16H16N2O2S"
signals = """8.79 (s, 1H), 7.87 (d, J = 3.2 Hz, 1H), 7.47 (d, J = 8.9 Hz, 1H), 7.41 (d, J = 3.2 Hz, 1H), \
6.66 (dd, J = 8.9, 2.4 Hz, 1H), 6.55 (d, J = 2.4 Hz, 1H), 3.46 (q, J = 7.1 Hz, 4H), 1.25 (t, J = 7.1 Hz, 6H)""""#,
    r#"name = "ester"
formula = "C13H15FO3"
signals = "8.02 (d, J = 8.6 Hz, 2H), 7.44 (d, J = 8.6 Hz, 2H), 5.24 (sept, J = 6.2 Hz, 1H), 2.47 (s, 3H), 1.37 (d, J = 6.2 Hz, 6H)""#,
];

/// A standard's signals in CDCl3: shift, protons, splitting.
type Lines = &'static [(f64, f64, Option<(u32, f64)>)];
/// T1 of a standard for which the table has none, in seconds.
const USUAL_T1: (f64, f64) = (1.5, 8.0);

/// Standards of the bundled table, their lines from memory where the table has a rounded value.
const STANDARDS: [(&str, (f64, f64), Lines); 12] = [
    ("dimethyl sulfone", (4.0, 5.0), &[(2.99, 6.0, None)]),
    ("1,3,5-trimethoxybenzene", USUAL_T1, &[(6.09, 3.0, None), (3.77, 9.0, None)]),
    ("1,4-bis(trimethylsilyl)benzene", (2.5, 3.5), &[(0.26, 18.0, None), (7.52, 4.0, None)]),
    ("1,4-bis(trimethylsilyl)benzene-d4", (2.5, 3.5), &[(0.26, 18.0, None)]),
    ("dimethyl terephthalate", (2.5, 3.5), &[(8.10, 4.0, None), (3.94, 6.0, None)]),
    ("dibromomethane", USUAL_T1, &[(4.94, 2.0, None)]),
    ("mesitylene", USUAL_T1, &[(6.80, 3.0, None), (2.27, 9.0, None)]),
    ("1,1,2,2-tetrachloroethane", USUAL_T1, &[(5.97, 2.0, None)]),
    ("ethylene carbonate", USUAL_T1, &[(4.54, 4.0, None)]),
    ("1,3,5-trioxane", USUAL_T1, &[(5.15, 6.0, None)]),
    ("dimethyl fumarate", USUAL_T1, &[(6.87, 2.0, None), (3.81, 6.0, None)]),
    (
        "3,5-bis(trifluoromethyl)benzoic acid",
        (2.5, 3.5),
        &[(8.56, 2.0, Some((1, 1.2))), (8.16, 1.0, Some((2, 1.2)))],
    ),
];

/// One sample: what is asked, what is measured, what is true.
pub(crate) struct Sample {
    pub(crate) product: Product,
    pub(crate) given: InternalStandard,
    pub(crate) assumed: WeighedSettings,
    pub(crate) recipe: Recipe,
    pub(crate) purity_percent: f64,
    pub(crate) told: String,
}

/// Sample `k` of an endless row; every draw follows from `k`.
pub(crate) fn sample(k: u64) -> Sample {
    let mut rng = ChaCha8Rng::seed_from_u64(4100 + k);
    let normal = Normal::new(0.0, 1.0).unwrap();
    let which = usize::from(k % 2 == 1);
    let product = lees_format::product::parse(PRODUCTS[which], "product.toml").unwrap();
    let (name, t1, lines) = STANDARDS[rng.random_range(0..STANDARDS.len())];
    let standard = Tables::bundled().standard(name).unwrap();
    // every other sample on a five-place balance with a certified standard: then the spectrum decides
    let assumed = match k % 4 {
        0 | 1 => WeighedSettings::default(),
        _ => WeighedSettings {
            balance_u_mg: 0.005,
            standard_purity_u_percent: 0.05,
            ..WeighedSettings::default()
        },
    };
    let purity_percent: f64 = 100.0 - 50.0 * rng.random_range(0.002..1.0f64).powi(2);
    let (sample_mg, standard_mg) = (rng.random_range(10.0..40.0), rng.random_range(3.0..12.0));
    let told_purity = 99.4;
    let true_purity = (told_purity + assumed.standard_purity_u_percent * normal.sample(&mut rng)).min(100.0);
    let mut weighed = |mass: f64| mass + assumed.balance_u_mg * normal.sample(&mut rng);
    let (sample_told, standard_told) = (weighed(sample_mg), weighed(standard_mg));
    let ratio =
        standard_mg * true_purity / standard.molar_mass / (sample_mg * purity_percent / product.molar_mass);
    let given = InternalStandard {
        name: name.to_owned(),
        weighing: Weighing::of(standard_told, sample_told, told_purity, &assumed),
    };
    let mut recipe = spectrometer(&mut rng, k);
    recipe.product = Some(planted(which, &mut rng));
    recipe.other = vec![standard_lines(name, ratio, t1, lines, &mut rng)];
    let told = format!(
        "{} with {name}, S/N {:.0}, {} mg",
        product.name,
        recipe.noise.snr.unwrap(),
        assumed.balance_u_mg
    );
    if rng.random_bool(0.4) {
        let content: f64 = rng.random_range(0.3..0.5) * (100.0 - purity_percent);
        recipe.volatile.push(propanol(content.min(12.0)));
    }
    Sample { product, given, assumed, recipe, purity_percent, told }
}

fn spectrometer(rng: &mut ChaCha8Rng, seed: u64) -> Recipe {
    let mut recipe = Recipe { seed: 900 + seed, title: format!("purity {seed}"), ..Recipe::default() };
    let instrument = &mut recipe.instrument;
    instrument.field_mhz = [300.13, 400.13, 500.13, 600.13][rng.random_range(0..4)];
    instrument.spectral_width_hz = 20.0 * instrument.field_mhz;
    instrument.carrier_ppm = 6.0;
    instrument.relaxation_delay_s = Some(rng.random_range(15.0..60.0));
    instrument.pulse_angle_deg = Some([30.0, 45.0, 90.0][rng.random_range(0..3)]);
    recipe.noise.snr = Some(libm::pow(10f64, rng.random_range(2.2..3.5)));
    recipe.shape.natural_hz = rng.random_range(0.3..0.8);
    recipe.shape.gaussian_hz = rng.random_range(0.1..0.5);
    recipe.faults.phase.ph0_deg = rng.random_range(-0.4..0.4);
    recipe.faults.phase.ph1_deg = rng.random_range(-0.5..0.5);
    recipe.output.imaginary = true;
    let chloroform = Compound::new("CHCl3").mass(119.378).ratio(rng.random_range(0.05..0.4));
    recipe.nmr_solvent = Some(chloroform.signal(Signal::new(7.26, 1.0)));
    let water = Compound::new("water").mass(18.015).ratio(rng.random_range(0.02..0.3));
    recipe.water = Some(water.signal(Signal::new(1.56, 2.0).exchanging().wide(2.0)));
    recipe
}

fn planted(which: usize, rng: &mut ChaCha8Rng) -> Compound {
    let mut t1 = || rng.random_range(0.8..2.5);
    match which {
        0 => Compound::new("dye")
            .mass(300.376)
            .signal(Signal::new(8.792, 1.0).relaxing(t1()))
            .signal(Signal::new(7.871, 1.0).split_by(1, 3.2).relaxing(t1()))
            .signal(Signal::new(7.470, 1.0).split_by(1, 8.9).relaxing(t1()))
            .signal(Signal::new(7.412, 1.0).split_by(1, 3.2).relaxing(t1()))
            .signal(Signal::new(6.664, 1.0).split_by(1, 8.9).split_by(1, 2.4).relaxing(t1()))
            .signal(Signal::new(6.552, 1.0).split_by(1, 2.4).relaxing(t1()))
            .signal(Signal::new(3.462, 4.0).split_by(3, 7.1).relaxing(t1()))
            .signal(Signal::new(1.250, 6.0).split_by(2, 7.1).relaxing(t1())),
        _ => Compound::new("ester")
            .mass(238.258)
            .signal(Signal::new(8.02, 2.0).split_by(1, 8.6).relaxing(t1()))
            .signal(Signal::new(7.44, 2.0).split_by(1, 8.6).relaxing(t1()))
            .signal(Signal::new(5.24, 1.0).split_by(6, 6.2).relaxing(t1()))
            .signal(Signal::new(2.47, 3.0).relaxing(t1()))
            .signal(Signal::new(1.37, 6.0).split_by(1, 6.2).relaxing(t1())),
    }
}

/// The standard a little off its tabulated place; its protons relax alike within a tenth.
fn standard_lines(name: &str, ratio: f64, range: (f64, f64), lines: Lines, rng: &mut ChaCha8Rng) -> Compound {
    let t1 = rng.random_range(range.0..range.1);
    let mut compound = Compound::new(name).mass(100.0).ratio(ratio);
    for &(at, protons, split) in lines {
        let mut signal = Signal::new(at + rng.random_range(-0.01..0.01), protons);
        signal.split = split.map(|part| Split::from_parts(vec![part]));
        compound = compound.signal(signal.relaxing(t1 * rng.random_range(0.95..1.05)));
    }
    compound
}

fn propanol(content: f64) -> Compound {
    Compound::new("2-propanol")
        .mass(60.096)
        .wt(content)
        .signal(Signal::new(4.043, 1.0).named("CH").relaxing(4.0))
        .signal(Signal::new(1.223, 6.0).coupled("CH", 6.15).relaxing(2.6))
}
