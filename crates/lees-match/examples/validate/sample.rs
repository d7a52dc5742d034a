//! One random sample: recipe, the product's description, what is planted.

use lees_core::{ExpectedSignal, Hertz, LimitSet, MassFraction, Multiplicity, Ppm, Product, ShiftRange};
use lees_match::table::{NmrSolvent, Tables};
use lees_spin::simulate::{Compound, Faults, Foot, PhaseError, Recipe, Roll, Signal, Spinning};
use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use crate::products::{KINDS, Kind, Line};
use crate::solvents::{HEXANE_HALF, PLANTS, Plant, RingProton, THF_RING, TOLUENE_RING};

/// How a spectrum reaches the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Form {
    /// The decay itself.
    Fid,
    /// Real and imaginary part, phase off by some degrees.
    Complex,
    /// The real part alone, phased by hand.
    Real,
}

/// A sample.
pub(crate) struct Sample {
    /// What to simulate.
    pub(crate) recipe: Recipe,
    /// What the chemist says.
    pub(crate) product: Product,
    /// Kind of product.
    pub(crate) kind: &'static str,
    /// NMR solvent.
    pub(crate) solvent: &'static str,
    /// How it is handed over.
    pub(crate) form: Form,
    /// Height of one product proton's singlet over noise.
    pub(crate) snr: f64,
    /// Names of what was planted, with content in wt%.
    pub(crate) planted: Vec<(&'static str, f64)>,
    /// Whether unknown impurities are in.
    pub(crate) unknown: bool,
}

impl Sample {
    /// The same on a poorly shimmed magnet and with more scans: a lopsided foot on every line, unresolved couplings and
    /// widths that differ from signal to signal of the product, spinning side bands in a third.
    pub(crate) fn with_odd_lines(mut self, index: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(0x0dd5_0000 + index);
        self.snr = log_uniform(500.0, 20_000.0, &mut rng);
        self.recipe.noise.snr = Some(self.snr);
        let shape = &mut self.recipe.shape;
        shape.foot = Some(Foot {
            share: rng.random_range(0.02..0.12),
            offset_hz: rng.random_range(-3.0..3.0),
            gaussian_hz: rng.random_range(1.0..5.0),
        });
        if rng.random_bool(1.0 / 3.0) {
            let shares = vec![rng.random_range(0.002..0.01), rng.random_range(0.0..0.003)];
            shape.spinning = Some(Spinning { rate_hz: rng.random_range(15.0..40.0), shares });
        }
        let natural = shape.natural_hz;
        for signal in self.recipe.product.iter_mut().flat_map(|product| &mut product.signals) {
            signal.width = Some(signal.width.unwrap_or(natural) + rng.random_range(0.0..0.4));
            signal.wander = rng.random_range(0.0..0.9);
        }
        self
    }

    /// The same without any volatile, to be held against the usual limit.
    pub(crate) fn without_volatiles(mut self) -> Self {
        self.recipe.volatile.clear();
        self.planted.clear();
        self.product.limits.total = USUAL_LIMIT.parse().ok();
        self
    }
}

/// Limit on the total for samples without volatiles (that of a class 3 solvent, ICH Q3C(R9)).
pub(crate) const USUAL_LIMIT: &str = "0.5 wt%";
const SOLVENTS: [(&str, f64); 5] =
    [("CDCl3", 0.5), ("DMSO-d6", 0.22), ("acetone-d6", 0.09), ("CD3OD", 0.09), ("CD3CN", 0.1)];
const FIELDS: [(f64, f64); 6] =
    [(300.13, 0.2), (400.13, 0.35), (500.13, 0.2), (600.13, 0.15), (80.1, 0.05), (60.2, 0.05)];
/// Standard deviation of a solvent's shift about the table, ppm.
pub(crate) const SHIFT_SD: f64 = 0.005;
/// Standard deviation of a coupling about its usual value, hertz.
const COUPLING_SD: f64 = 0.06;

/// Sample number `index`; the same number gives the same sample.
pub(crate) fn sample(index: u64) -> Sample {
    let mut rng = ChaCha8Rng::seed_from_u64(0x1ee5_0000 + index);
    let solvent = choose(&SOLVENTS, &mut rng);
    let field = choose(&FIELDS, &mut rng);
    let nmr = Tables::bundled().nmr_solvent(solvent).expect("tabulated");
    let kind = &KINDS[rng.random_range(0..KINDS.len())];
    let snr = log_uniform(100.0, 4000.0, &mut rng);
    let form = match rng.random_range(0..10) {
        0..4 => Form::Fid,
        4..8 => Form::Complex,
        _ => Form::Real,
    };
    let mut recipe = Recipe { title: format!("sample {index}"), seed: 77_000 + index, ..Recipe::default() };
    instrument(&mut recipe, field, solvent, &mut rng);
    recipe.noise.snr = Some(snr);
    recipe.faults = faults(form, snr, &mut rng);
    recipe.output.imaginary = form == Form::Complex;
    let (planted_product, product) = product(kind, field, &mut rng);
    recipe.product = Some(planted_product);
    let planted = volatiles(&mut recipe, nmr, &mut rng);
    companions(&mut recipe, nmr, &mut rng);
    let unknown = rng.random_bool(1.0 / 3.0);
    if unknown {
        recipe.unknown.push(impurity(&mut rng));
    }
    let mut product = product;
    let all: f64 = planted.iter().map(|p| p.1).sum();
    product.limits.total = limit(all, &mut rng);
    Sample { recipe, product, kind: kind.0, solvent, form, snr, planted, unknown }
}

/// A limit on the total, a third of what is planted to three times as much.
fn limit(planted: f64, rng: &mut impl Rng) -> Option<MassFraction> {
    let wt_percent = (planted * log_uniform(1.0 / 3.0, 3.0, rng)).min(99.0);
    format!("{wt_percent:.5} wt%").parse().ok()
}

fn instrument(recipe: &mut Recipe, field: f64, solvent: &str, rng: &mut impl Rng) {
    let tube = &mut recipe.instrument;
    tube.field_mhz = field;
    tube.solvent = solvent.to_owned();
    tube.spectral_width_hz = (20.0 * field).max(1600.0);
    tube.carrier_ppm = 5.0;
    tube.fid_points = if field < 100.0 { 8192 } else { 32_768 };
    // long enough that no proton is saturated: relaxation has tests of its own
    tube.relaxation_delay_s = Some(60.0);
    tube.pulse_angle_deg = Some(30.0);
    recipe.processing.points = 2 * tube.fid_points;
    recipe.processing.lb_hz = 0.2;
    recipe.shape.natural_hz = 0.3 + 0.3 * rng.random::<f64>();
    recipe.shape.gaussian_hz = 0.2 + 0.5 * rng.random::<f64>();
}

fn faults(form: Form, snr: f64, rng: &mut impl Rng) -> Faults {
    let mut faults = Faults { reference_error_ppm: 0.01 * normal(rng), ..Faults::default() };
    match form {
        Form::Fid => faults.receiver.phase_deg = rng.random_range(-180.0..180.0),
        Form::Complex => {
            faults.phase =
                PhaseError { ph0_deg: 5.0 * normal(rng), ph1_deg: 5.0 * normal(rng), pivot_ppm: None };
        }
        Form::Real => {
            faults.phase =
                PhaseError { ph0_deg: 0.3 * normal(rng), ph1_deg: 0.3 * normal(rng), pivot_ppm: None };
        }
    }
    faults.roll =
        Some(Roll { height: 10.0 / snr * rng.random::<f64>(), periods: rng.random_range(1.0..4.0) });
    faults
}

fn product(kind: &Kind, field: f64, rng: &mut impl Rng) -> (Compound, Product) {
    let drift = 0.004 * normal(rng);
    let mut planted = Compound::new(kind.0).mass(kind.1);
    let mut signals = Vec::new();
    for line in kind.2 {
        let at = line.0 + drift + 0.002 * normal(rng);
        let mut signal = Signal::new(at, line.1);
        if line.2 != "s" {
            signal.split = Some(line.2.parse().expect("a splitting"));
        }
        planted = planted.signal(signal);
        signals.push(expected(line, field));
    }
    let product = Product {
        name: kind.0.to_owned(),
        formula: None,
        molar_mass: kind.1,
        signals: merged(signals),
        nmr_solvent: None,
        quantify: Vec::new(),
        limits: LimitSet::default(),
    };
    (planted, product)
}

/// The entry of a journal line: two decimals, ranges for multiplets.
fn expected(line: &Line, field: f64) -> ExpectedSignal {
    let (name, couplings) = splitting(line.2);
    let half = couplings.iter().zip(&name).map(|(j, n)| f64::from(*n) * j / 2.0).sum::<f64>() / field;
    let round = |x: f64| Ppm((x * 100.0).round() / 100.0);
    let range = if line.3 {
        ShiftRange::new(round(line.0 + half), round(line.0 - half))
    } else {
        ShiftRange::new(round(line.0), round(line.0))
    };
    ExpectedSignal {
        range,
        multiplicity: Some(if line.3 {
            Multiplicity::multiplet()
        } else {
            Multiplicity::from_partners(name)
        }),
        couplings: if line.3 { Vec::new() } else { couplings.into_iter().map(Hertz).collect() },
        protons: line.1,
        assignment: None,
    }
}

fn splitting(text: &str) -> (Vec<u8>, Vec<f64>) {
    let mut words = text.split(' ');
    let pattern: Multiplicity = words.next().expect("a word").parse().expect("a multiplicity");
    (pattern.partners().expect("first order").to_vec(), words.map(|w| w.parse().expect("hertz")).collect())
}

/// Overlapping ranges are written as one multiplet, as authors do.
fn merged(mut signals: Vec<ExpectedSignal>) -> Vec<ExpectedSignal> {
    signals.sort_by(|a, b| b.range.high.0.total_cmp(&a.range.high.0));
    let mut out: Vec<ExpectedSignal> = Vec::new();
    for signal in signals {
        let is_multiplet = signal.couplings.is_empty() && signal.range.high.0 > signal.range.low.0;
        match out.last_mut().filter(|last| is_multiplet && last.range.overlaps(&signal.range)) {
            Some(last) => {
                last.protons += signal.protons;
                last.range = ShiftRange::new(
                    Ppm(last.range.high.0.max(signal.range.high.0)),
                    Ppm(last.range.low.0.min(signal.range.low.0)),
                );
            }
            None => out.push(signal),
        }
    }
    out
}

fn volatiles(recipe: &mut Recipe, nmr: &NmrSolvent, rng: &mut impl Rng) -> Vec<(&'static str, f64)> {
    let count = rng.random_range(1..=4);
    let mut planted: Vec<(&'static str, f64)> = Vec::new();
    while planted.len() < count {
        let plant = &PLANTS[rng.random_range(0..PLANTS.len())];
        let content = log_uniform(0.02, 20.0, rng);
        let total: f64 = planted.iter().map(|p| p.1).sum::<f64>() + content;
        if total > 60.0 || planted.iter().any(|p| p.0 == plant.0) {
            continue;
        }
        if let Some(compound) = volatile(plant, nmr, rng) {
            recipe.volatile.push(compound.wt(content));
            planted.push((plant.0, content));
        }
    }
    planted
}

/// A volatile as a spin system; `None` when the tables know no place for one of its groups.
fn volatile(plant: &Plant, nmr: &NmrSolvent, rng: &mut impl Rng) -> Option<Compound> {
    let table = Tables::bundled().compound(plant.0).expect("tabulated");
    let mut compound = Compound::new(plant.0).formula(plant.1.parse().expect("a formula"));
    let common = 0.7 * SHIFT_SD * normal(rng);
    let place = |group: &str, rng: &mut dyn FnMut() -> f64| -> Option<f64> {
        let shift = table.group(group)?.shift_in(nmr)?;
        Some(shift.centre().0 + common + 0.7 * SHIFT_SD * rng())
    };
    let mut draws: Vec<f64> = (0..40).map(|_| normal(rng)).collect();
    let mut draw = move || draws.pop().unwrap_or(0.0);
    match plant.0 {
        "toluene" => {
            compound = compound.signal(Signal::new(place("CH3", &mut draw)?, 3.0).named("CH3"));
            let (ortho, meta) = (place("CH(2,4,6)", &mut draw)?, place("CH(3,5)", &mut draw)?);
            let at = |group: &str| if group == "CH(3,5)" { meta } else { ortho };
            compound = ring(compound, &TOLUENE_RING, at, &mut draw);
        }
        "tetrahydrofuran" => {
            let (alpha, beta) = (place("OCH2", &mut draw)?, place("CH2", &mut draw)?);
            let at = |group: &str| if group == "OCH2" { alpha } else { beta };
            compound = ring(compound, &THF_RING, at, &mut draw);
        }
        "n-hexane" => {
            let (end, middle) = (place("CH3", &mut draw)?, place("CH2", &mut draw)?);
            for copy in ["1", "2"] {
                for (letter, protons, offset, group, couplings) in HEXANE_HALF {
                    let at = if group == "CH3" { end } else { middle } + offset;
                    let mut signal = Signal::new(at, protons).named(&format!("{letter}{copy}"));
                    for (other, j) in couplings {
                        signal = signal.coupled(&format!("{other}{copy}"), *j);
                    }
                    compound = compound.signal(signal);
                }
            }
        }
        _ => {
            let copies = match plant.0 {
                "diethyl ether" => 2,
                "triethylamine" => 3,
                _ => 1,
            };
            let places: Option<Vec<f64>> = plant.2.iter().map(|(name, ..)| place(name, &mut draw)).collect();
            let scatter: Vec<f64> = plant.2.iter().map(|_| COUPLING_SD * draw()).collect();
            for copy in 0..copies {
                for (k, (name, protons, couplings)) in plant.2.iter().enumerate() {
                    let mut signal =
                        Signal::new(places.as_ref()?[k], *protons).named(&format!("{name} {copy}"));
                    for (other, j) in *couplings {
                        signal = signal.coupled(&format!("{other} {copy}"), j + scatter[k]);
                    }
                    compound = compound.signal(signal);
                }
            }
        }
    }
    Some(compound)
}

/// Single protons coupled to one another, lettered in their order.
fn ring(
    mut compound: Compound,
    protons: &[RingProton],
    at: impl Fn(&str) -> f64,
    draw: &mut dyn FnMut() -> f64,
) -> Compound {
    for ((group, offset, couplings), letter) in protons.iter().zip('a'..) {
        let signal = Signal::new(at(group) + offset, 1.0).named(&letter.to_string());
        compound = compound.signal(coupled(signal, couplings, draw));
    }
    compound
}

fn coupled(mut signal: Signal, couplings: &[(&str, f64)], draw: &mut dyn FnMut() -> f64) -> Signal {
    for (other, j) in couplings {
        signal = signal.coupled(other, j + COUPLING_SD * draw());
    }
    signal
}

/// Residual NMR solvent and water.
fn companions(recipe: &mut Recipe, nmr: &NmrSolvent, rng: &mut impl Rng) {
    let mut residual = Compound::new("residual").mass(100.0).ratio(log_uniform(0.05, 1.5, rng));
    let line = &nmr.residual[0];
    let mut signal = Signal::new(line.shift.0, 1.0);
    if let Some(j) = line.j_hd {
        signal.deuterium = Some(lees_spin::simulate::Deuterium { n: u32::from(line.deuterons), j: j.0 });
    }
    residual = residual.signal(signal);
    recipe.nmr_solvent = Some(residual);
    let water = nmr.water.map_or(2.0, |w| w.0) + rng.random_range(-0.02..0.05);
    recipe.water = Some(
        Compound::new("water")
            .mass(18.015)
            .ratio(log_uniform(0.05, 3.0, rng))
            .signal(Signal::new(water, 2.0).exchanging().wide(rng.random_range(0.8..4.0))),
    );
}

/// An impurity that no table knows, at 0.2 to 3 mol %.
fn impurity(rng: &mut impl Rng) -> Compound {
    let mut compound = Compound::new("unknown").mass(250.0).ratio(log_uniform(0.002, 0.03, rng));
    let fragments = rng.random_range(1..=3);
    for _ in 0..fragments {
        let signal = match rng.random_range(0..7) {
            0 => Signal::new(rng.random_range(3.3..4.0), 3.0),
            1 => Signal::new(rng.random_range(1.9..2.8), 3.0),
            2 => Signal::new(rng.random_range(6.5..8.6), 1.0).split_by(1, rng.random_range(7.5..9.0)),
            3 => Signal::new(rng.random_range(6.5..8.6), 1.0).split_by(2, rng.random_range(7.0..8.0)),
            4 => Signal::new(rng.random_range(1.0..1.5), 3.0).split_by(2, rng.random_range(6.9..7.3)),
            5 => Signal::new(rng.random_range(3.6..4.5), 2.0).split_by(3, rng.random_range(6.9..7.3)),
            _ => Signal::new(rng.random_range(4.4..5.4), 2.0),
        };
        compound = compound.signal(signal);
    }
    compound
}

fn choose<T: Copy>(weighted: &[(T, f64)], rng: &mut impl Rng) -> T {
    let mut draw: f64 = rng.random();
    for (value, weight) in weighted {
        draw -= weight;
        if draw < 0.0 {
            return *value;
        }
    }
    weighted[0].0
}

fn log_uniform(low: f64, high: f64, rng: &mut impl Rng) -> f64 {
    libm::exp(rng.random::<f64>() * libm::log(high / low) + libm::log(low))
}

fn normal(rng: &mut impl Rng) -> f64 {
    StandardNormal.sample(rng)
}
