//! The product's own signals as a reference for the shift axis, where no line of the NMR solvent is sure.

use lees_core::{ExpectedSignal, LineKind, Megahertz, Ppm, Product};
use lees_process::Processed;

use crate::fit::template::Stick;
use crate::pattern::first_order;

/// Fewer signals with a known pattern than this do not fix an axis.
const LEAST_SIGNALS: usize = 3;
/// An axis is off by no more than this, in ppm, when the product may mend it: further off, chance patterns agree.
const FURTHEST: f64 = 0.08;
/// Steps of the search, in ppm.
const STEP: f64 = 0.001;
/// A line this near to its place, in ppm and in hertz, whichever is more, is found: journals round to 0.01 ppm.
const NEAR: f64 = 0.006;
const NEAR_HZ: f64 = 1.5;
/// This share of the signals must be found ...
const LEAST_FOUND: f64 = 0.85;
/// ... and an offset further away than [`APART`] must find so many signals less.
const MARGIN: f64 = 0.8;
const APART: f64 = 0.015;
/// Smaller errors of the axis than this, in ppm, are within the rounding of journal lines.
const WITHIN_ROUNDING: f64 = 0.004;

/// A signal as lines: its place, its protons and its pattern in hertz.
struct Comb {
    centre: f64,
    protons: f64,
    sticks: Vec<Stick>,
}

/// By how much the axis must move for the product's signals to stand where they were described; `None` when they do not
/// tell. Zero when the axis is right within the rounding of a journal line.
pub(crate) fn offset_by_product(processed: &Processed, product: &Product) -> Option<Ppm> {
    let field = processed.spectrum.axis.field();
    let combs: Vec<Comb> = product.signals.iter().filter_map(|s| comb(s, field)).collect();
    if combs.len() < LEAST_SIGNALS {
        return None;
    }
    let lines: Vec<(f64, f64)> = processed
        .lines
        .iter()
        .filter(|line| line.kind == LineKind::Signal)
        .map(|line| (line.shift.0, line.area))
        .collect();
    let count = (FURTHEST / STEP).round() as i64;
    let scores: Vec<(f64, f64)> = (-count..=count)
        .map(|k| k as f64 * STEP)
        .map(|offset| (offset, found(&combs, &lines, offset, field)))
        .collect();
    let most = scores.iter().map(|s| s.1).fold(0.0, f64::max);
    let top: Vec<f64> = scores.iter().filter(|s| s.1 > most - 0.05).map(|s| s.0).collect();
    let best = top.get(top.len() / 2).copied()?;
    let rival = scores.iter().filter(|s| (s.0 - best).abs() > APART).map(|s| s.1).fold(0.0, f64::max);
    let sure = most >= LEAST_FOUND * combs.len() as f64 && most - rival >= MARGIN;
    sure.then_some(Ppm(if best.abs() < WITHIN_ROUNDING { 0.0 } else { best }))
}

fn comb(signal: &ExpectedSignal, field: Megahertz) -> Option<Comb> {
    let exchanging = signal.multiplicity.as_ref().is_some_and(lees_core::Multiplicity::is_broad);
    let sticks = first_order(signal.multiplicity.as_ref()?, &signal.couplings, field)?;
    (!exchanging).then(|| Comb { centre: signal.range.centre().0, protons: signal.protons, sticks })
}

/// How many signals are found when the axis is moved by `offset`: each counts by the share of its area, on the scale that
/// most of them agree on.
fn found(combs: &[Comb], lines: &[(f64, f64)], offset: f64, field: Megahertz) -> f64 {
    let near = NEAR.max(NEAR_HZ / field.0);
    let of_stick = |comb: &Comb, stick: &Stick| -> f64 {
        let place = comb.centre - stick.offset / field.0 - offset;
        lines.iter().filter(|l| (l.0 - place).abs() < near).map(|l| l.1).sum()
    };
    let areas: Vec<Vec<f64>> =
        combs.iter().map(|c| c.sticks.iter().map(|s| of_stick(c, s)).collect()).collect();
    let mut each: Vec<f64> =
        combs.iter().zip(&areas).map(|(c, a)| a.iter().sum::<f64>() / c.protons).collect();
    each.sort_by(f64::total_cmp);
    let scale = each[each.len() / 2];
    if scale <= 0.0 {
        return 0.0;
    }
    let share = |comb: &Comb, areas: &[f64]| -> f64 {
        comb.sticks.iter().zip(areas).map(|(s, a)| (a / (scale * comb.protons)).min(s.share)).sum()
    };
    combs.iter().zip(&areas).map(|(c, a)| share(c, a)).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use lees_core::{LimitSet, Measurement, Multiplicity, ShiftRange};
    use lees_process::{Settings, Workspace, process};
    use lees_spin::simulate::{Compound, Recipe, Signal, Simulator};

    const PLACES: [(f64, f64); 4] = [(8.31, 1.0), (6.87, 2.0), (3.79, 3.0), (2.24, 3.0)];

    fn measured(off: f64) -> (Processed, Product) {
        let mut compound = Compound::new("aryl ether").mass(150.0);
        for (at, protons) in PLACES {
            compound = compound.signal(Signal::new(at - off, protons));
        }
        let recipe = Recipe { product: Some(compound), ..Recipe::default() };
        let made = Simulator::default().run(&recipe).expect("a sound recipe");
        let processed =
            process(&Measurement::Spectrum(made.spectrum), &Settings::default(), &mut Workspace::default())
                .expect("a sound spectrum");
        let signals = PLACES.map(|(at, protons)| ExpectedSignal {
            range: ShiftRange::new(Ppm(at), Ppm(at)),
            multiplicity: Some(Multiplicity::singlet()),
            couplings: Vec::new(),
            protons,
            assignment: None,
        });
        let product = Product {
            name: "aryl ether".to_owned(),
            formula: None,
            molar_mass: 150.0,
            signals: signals.to_vec(),
            quantify: Vec::new(),
            limits: LimitSet::default(),
        };
        (processed, product)
    }

    #[test]
    fn an_axis_that_is_off_is_mended_by_the_product() {
        for off in [0.0, 0.017, -0.033] {
            let (processed, product) = measured(off);
            let found = offset_by_product(&processed, &product).expect("four signals agree");
            assert!((found.0 - off).abs() < 0.006, "{off}: {found:?}");
        }
    }

    #[test]
    fn far_off_or_with_two_signals_nothing_is_said() {
        let (processed, mut product) = measured(0.3);
        assert_eq!(offset_by_product(&processed, &product), None);
        product.signals.truncate(2);
        assert_eq!(offset_by_product(&processed, &product), None);
    }
}
