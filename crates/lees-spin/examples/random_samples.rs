//! Random samples of known content by the hundred, and what they cost.
//!
//! Shows the builder: a product, two solvents whose amounts, shifts, noise and phase are drawn from a seed.

use std::io::{self, Write};
use std::time::Instant;

use lees_core::{Hertz, Megahertz, Ppm};
use lees_spin::SpinSystem;
use lees_spin::simulate::{Compound, Recipe, Signal, Simulator};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

fn product() -> Compound {
    let aromatic = |at: f64| Signal::new(at, 1.0).split_by(1, 8.2).split_by(1, 1.4);
    let mut product = Compound::new("product").mass(312.4);
    for at in [8.11, 7.84, 7.52, 7.33] {
        product = product.signal(aromatic(at));
    }
    product
        .signal(Signal::new(3.42, 4.0).in_parts(2).named("NCH2"))
        .signal(Signal::new(1.21, 6.0).in_parts(2).coupled("NCH2", 7.1))
        .signal(Signal::new(5.9, 1.0).wide(12.0).exchanging())
}

fn sample(seed: u64) -> Recipe {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let mut near = |at: f64| at + 0.01 * (random.random::<f64>() - 0.5);
    let (methyl, methine, acetyl, ethoxy, ethyl, chloroform, water) =
        (near(1.22), near(4.04), near(2.05), near(4.12), near(1.26), near(7.26), near(1.56));
    let content = libm::pow(10f64, random.random_range(-1.5..1.0));
    let propanol = Compound::new("2-propanol")
        .mass(60.096)
        .wt(content)
        .signal(Signal::new(methyl, 6.0).coupled("CH", 6.1))
        .signal(Signal::new(methine, 1.0).named("CH"));
    let acetate = Compound::new("ethyl acetate")
        .mass(88.106)
        .wt(0.3 * content)
        .signal(Signal::new(acetyl, 3.0))
        .signal(Signal::new(ethoxy, 2.0).named("OCH2"))
        .signal(Signal::new(ethyl, 3.0).coupled("OCH2", 7.1));
    let mut recipe = Recipe { seed, product: Some(product()), ..Recipe::default() };
    recipe.volatile = vec![propanol, acetate];
    recipe.nmr_solvent = Some(Compound::new("chloroform").ratio(0.4).signal(Signal::new(chloroform, 1.0)));
    recipe.water =
        Some(Compound::new("water").ratio(0.2).signal(Signal::new(water, 2.0).wide(2.0).exchanging()));
    recipe.noise.snr = Some(libm::pow(10f64, random.random_range(1.7..3.5)));
    recipe.faults.phase.ph0_deg = random.random_range(-2.0..2.0);
    recipe.instrument.group_delay = seed.is_multiple_of(2).then_some(67.98);
    recipe
}

fn milliseconds(runs: u32, mut work: impl FnMut(u32)) -> f64 {
    let start = Instant::now();
    (0..runs).for_each(&mut work);
    start.elapsed().as_secs_f64() * 1e3 / f64::from(runs)
}

fn main() -> io::Result<()> {
    let mut out = io::stdout().lock();
    let mut simulator = Simulator::default();
    let mut failed = 0;
    let cost = milliseconds(40, |k| failed += u32::from(simulator.run(&sample(u64::from(k))).is_err()));
    writeln!(out, "64k-point sample: {cost:.1} ms ({failed} failed)")?;
    for (name, system) in systems() {
        let mut lines = 0;
        let cost = milliseconds(50, |_| lines = system.transitions(Megahertz(400.0)).len());
        writeln!(out, "{name}: {cost:.3} ms, {lines} lines")?;
    }
    Ok(())
}

fn chain(groups: &[(f64, u32)], coupling: f64) -> SpinSystem {
    let mut system = SpinSystem::default();
    for (k, &(shift, protons)) in groups.iter().enumerate() {
        system.add("", Ppm(shift), protons);
        if k > 0 {
            system.couple(k - 1, k, Hertz(coupling));
        }
    }
    system
}

fn systems() -> Vec<(&'static str, SpinSystem)> {
    vec![
        ("ethyl", chain(&[(1.26, 3), (4.12, 2)], 7.1)),
        ("isopropyl", chain(&[(1.22, 6), (4.04, 1)], 6.1)),
        ("THF as 4 + 4", chain(&[(1.85, 4), (3.76, 4)], 6.6)),
        ("propyl", chain(&[(0.92, 3), (1.60, 2), (3.58, 2)], 7.0)),
        ("toluene ring", chain(&[(7.17, 2), (7.25, 2), (7.16, 1)], 7.5)),
        ("n-hexane", chain(&[(0.88, 3), (1.27, 2), (1.26, 2), (1.26, 2), (1.27, 2), (0.88, 3)], 7.0)),
        ("eight unlike spins", chain(&[1.0, 1.1, 1.2, 1.3, 1.4, 1.5, 1.6, 1.7].map(|s| (s, 1)), 7.0)),
    ]
}
