//! The shift axis on simulated recordings: right ones, ones a little off, and ones from a wrong lock.

use lees_core::{Measurement, Ppm};
use lees_match::table::{NmrSolvent, Tables};
use lees_match::{Settings, identify};
use lees_process::{Workspace, process};
use lees_spin::simulate::{Compound, Deuterium, Recipe, Signal, simulate};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

const SOLVENTS: [&str; 7] = ["CDCl3", "DMSO-d6", "CD3OD", "acetone-d6", "D2O", "C6D6", "CD3CN"];
/// Samples of each solvent; a third has a right axis, a third is off by up to 0.06 ppm, a third by 1 to 5 ppm.
const EACH: u64 = 36;
/// Axes found among the 168 that are right or off by up to 0.06 ppm, at least. In some 13 of 168 the residual line is lower than
/// the noise or lies within half a width of a line of the product, and nothing else fixes the axis.
const FOUND: u32 = 150;

/// One sample: what the tube holds, and by how much its axis is wrong.
fn sample(solvent: &NmrSolvent, seed: u64) -> (Recipe, f64) {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let mut between = |low: f64, high: f64| low + (high - low) * random.random::<f64>();
    let error = match seed % 3 {
        0 => 0.0,
        1 => between(-0.06, 0.06),
        _ => between(1.0, 5.0) * if seed.is_multiple_of(2) { 1.0 } else { -1.0 },
    };
    let mut recipe = Recipe { seed, ..Recipe::default() };
    recipe.instrument.solvent = solvent.name.clone();
    recipe.instrument.fid_points = 16_384;
    recipe.processing.points = 32_768;
    recipe.instrument.carrier_ppm = 6.0;
    recipe.instrument.spectral_width_hz = 20.0 * recipe.instrument.field_mhz;
    recipe.noise.snr = Some(libm::pow(10f64, between(2.0, 3.3)));
    recipe.output.imaginary = true;
    recipe.faults.reference_error_ppm = error;
    let mut product = Compound::new("product").mass(310.0);
    for _ in 0..4 {
        product = product.signal(Signal::new(between(6.6, 8.4), 1.0).split_by(1, between(7.0, 9.0)));
    }
    for _ in 0..3 {
        product = product.signal(Signal::new(between(0.9, 4.6), 2.0).split_by(2, between(6.0, 7.5)));
    }
    product = product.signal(Signal::new(between(1.8, 4.0), 3.0));
    let place = solvent.residual[0].shift.0;
    if seed.is_multiple_of(4) {
        product = product.signal(Signal::new(place + between(-0.05, 0.05), 1.0).split_by(1, 8.0));
    }
    recipe.product = Some(product);
    recipe.nmr_solvent = Some(residual(solvent, libm::pow(10f64, between(-1.5, 0.5))));
    let water = solvent.water.map_or(1.56, |w| w.0) + between(-0.05, 0.05);
    let wet = Compound::new("water").mass(18.015).ratio(between(0.05, 1.0));
    if solvent.name != "D2O" {
        recipe.water = Some(wet.signal(Signal::new(water, 2.0).exchanging().wide(2.0)));
    }
    if seed.is_multiple_of(5) {
        recipe.other.push(Compound::new("TMS").mass(88.22).ratio(0.02).signal(Signal::new(0.0, 12.0)));
    }
    (recipe, error)
}

fn residual(solvent: &NmrSolvent, ratio: f64) -> Compound {
    let line = &solvent.residual[0];
    let mut signal = Signal::new(line.shift.0, 1.0);
    if let (Some(j), n @ 1..) = (line.j_hd, line.deuterons) {
        signal.deuterium = Some(Deuterium { n: u32::from(n), j: j.0 });
    }
    Compound::new("residual").mass(100.0).ratio(ratio).signal(signal)
}

#[test]
fn the_axis_is_found_or_left_and_never_wrong() {
    let tables = Tables::bundled();
    let mut workspace = Workspace::default();
    let (mut wrong, mut found_ordinary, mut found_far, mut worst) = (Vec::new(), 0, 0, 0.0f64);
    for (k, name) in SOLVENTS.iter().enumerate() {
        let solvent = tables.nmr_solvent(name).expect("tabulated");
        let mut counts = [[0u32; 2]; 3];
        for n in 0..EACH {
            let (recipe, error) = sample(solvent, 1000 * k as u64 + n);
            let made = simulate(&recipe).expect("a sound recipe");
            let measurement = Measurement::Spectrum(made.spectrum);
            let processed =
                process(&measurement, &lees_process::Settings::default(), &mut workspace).expect("processed");
            let check = identify(&processed, None, tables, &Settings::default()).expect("identified");
            let kind = usize::try_from((1000 * k as u64 + n) % 3).expect("small");
            counts[kind][0] += 1;
            let Some(reference) = check.reference else { continue };
            let off = ((reference.applied + Ppm(error)).0 * recipe.instrument.field_mhz).abs();
            let width = processed.shape.fwhm().0;
            if off > 0.1 * width.max(0.5) {
                wrong.push(format!(
                    "{name} {n}: {reference:?}, axis off by {error:.3}, {off:.3} Hz, width {width:.2}"
                ));
            } else {
                counts[kind][1] += 1;
                worst = worst.max(off / width);
            }
        }
        println!(
            "{name}: found/of right {:?} slightly off {:?} far off {:?}",
            counts[0], counts[1], counts[2]
        );
        found_ordinary += counts[0][1] + counts[1][1];
        found_far += counts[2][1];
    }
    println!(
        "ordinary {found_ordinary} of 168, far off {found_far} of 84; worst {worst:.3} line widths; wrong {}",
        wrong.len()
    );
    wrong.iter().for_each(|w| println!("wrong: {w}"));
    assert!(wrong.is_empty(), "{} wrong axes", wrong.len());
    assert!(found_ordinary >= FOUND, "{found_ordinary} of 168");
}
