//! Where the product's own lines stand within its signals, when the journal line gives patterns and couplings.

use lees_core::{ExpectedSignal, Product};

use super::region::Region;
use crate::fit::scene::Scene;
use crate::fit::template::Stick;
use crate::pattern::first_order;

/// A signal's centre lies within this of the stated shift, in ppm: journals round, concentration shifts.
const CENTRE_REACH: f64 = 0.025;
/// A line this near to a stick, in hertz or in common widths, is that stick's: couplings are rounded, roofs move lines.
const ON_STICK_HZ: f64 = 1.5;
const ON_STICK_WIDTHS: f64 = 1.0;
/// The pattern is believed when its sticks find at least this share of their area.
const LEAST_FOUND: f64 = 0.7;

/// Of two places where the pattern is found, the one with less beside it is the product's: area in excess counts this much
/// against a place.
const EXCESS_WEIGHT: f64 = 0.1;
/// ... and so does one that is this far from the stated shift, in ppm, by this share of the signal, growing with the square:
/// another signal of as many protons may stand next to it.
const CENTRE_SPREAD: f64 = 0.01;
const AWAY_WEIGHT: f64 = 0.03;
/// Lines of a multiplet are as strong as first order has them within at least this share ...
const LEAST_TOLERANCE: f64 = 0.04;
/// ... and at most this one: roofs, small couplings.
const MOST_TOLERANCE: f64 = 0.2;
/// The others of a multiplet agree with first order by half of what may be expected of one.
const CAUTION: f64 = 2.0;

/// A line that the product should have.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct ProductStick {
    /// Position in hertz from the first point.
    pub at: f64,
    /// Its area.
    pub area: f64,
    /// Standard uncertainty of that area, from how well the other lines of the multiplet agree with first order.
    pub u: f64,
}

/// All lines of a region; `None` when a pattern in it is not known or not found.
pub(super) fn sticks(
    scene: &Scene<'_>,
    region: &Region,
    product: &Product,
    per_proton: f64,
) -> Option<Vec<ProductStick>> {
    let mut all = Vec::new();
    for &k in &region.signals {
        let own = of_signal(scene, &product.signals[k], region.moved, per_proton, &all)?;
        all.extend(own);
    }
    Some(all)
}

/// The lines of one signal; those of other signals are `claimed`.
fn of_signal(
    scene: &Scene<'_>,
    signal: &ExpectedSignal,
    moved: f64,
    per_proton: f64,
    claimed: &[ProductStick],
) -> Option<Vec<ProductStick>> {
    let pattern =
        first_order(signal.multiplicity.as_ref()?, &signal.couplings, lees_core::Megahertz(scene.field()))?;
    let area = per_proton * signal.protons;
    let stated = scene.position(signal.range.centre()) + moved;
    let reach = CENTRE_REACH * scene.field();
    let widest = pattern.iter().map(|s| s.offset.abs()).fold(0.0, f64::max) + reach;
    let candidates = scene
        .signals_within(stated - widest, stated + widest)
        .flat_map(|line| pattern.iter().map(move |stick| line.at - stick.offset))
        .filter(|centre| (centre - stated).abs() <= reach);
    let best =
        candidates.map(|centre| (centre, found(scene, &pattern, centre, area, claimed))).max_by(|a, b| {
            let score = |(centre, (found, excess)): (f64, (f64, f64))| {
                let off = (centre - stated) / (CENTRE_SPREAD * scene.field());
                found - EXCESS_WEIGHT * excess - AWAY_WEIGHT * area * off * off
            };
            score(*a).total_cmp(&score(*b)).then((b.0 - stated).abs().total_cmp(&(a.0 - stated).abs()))
        })?;
    (best.1.0 >= LEAST_FOUND * area).then(|| placed(scene, &pattern, best.0, area, claimed))
}

/// The pattern at its place, each line with what may be expected of it.
fn placed(
    scene: &Scene<'_>,
    pattern: &[Stick],
    centre: f64,
    area: f64,
    claimed: &[ProductStick],
) -> Vec<ProductStick> {
    let off: Vec<f64> = pattern
        .iter()
        .map(|stick| standing(scene, centre + stick.offset, claimed) / (area * stick.share) - 1.0)
        .collect();
    let of_others = |own: usize| {
        let others = off.iter().enumerate().filter(|(k, _)| *k != own).map(|(_, d)| d * d);
        let (sum, count) = others.fold((0.0, 0.0), |(s, n), d| (s + d, n + 1.0));
        if count > 0.0 { CAUTION * f64::sqrt(sum / count) } else { 0.0 }
    };
    pattern
        .iter()
        .enumerate()
        .map(|(k, stick)| {
            let own = area * stick.share;
            let tolerance = of_others(k).clamp(LEAST_TOLERANCE, MOST_TOLERANCE);
            ProductStick { at: centre + stick.offset, area: own, u: tolerance * own }
        })
        .collect()
}

/// Area of the lines at a position beside those of other signals.
pub(super) fn standing(scene: &Scene<'_>, at: f64, claimed: &[ProductStick]) -> f64 {
    let reach = on_stick(scene);
    let all: f64 = scene.signals_within(at - reach, at + reach).map(|l| l.area).sum();
    let others: f64 = claimed.iter().filter(|s| (s.at - at).abs() < reach).map(|s| s.area).sum();
    (all - others).max(0.0)
}

/// Area that the sticks find at their places, each no more than its own, and what stands there beyond.
fn found(
    scene: &Scene<'_>,
    pattern: &[Stick],
    centre: f64,
    area: f64,
    claimed: &[ProductStick],
) -> (f64, f64) {
    pattern.iter().fold((0.0, 0.0), |(found, excess), stick| {
        let (there, own) = (standing(scene, centre + stick.offset, claimed), area * stick.share);
        (found + there.min(own), excess + (there - own).max(0.0))
    })
}

/// Half of the stretch about a stick in which lines are its own, in hertz.
pub(crate) fn on_stick(scene: &Scene<'_>) -> f64 {
    ON_STICK_HZ.max(ON_STICK_WIDTHS * scene.width)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::product::region::regions;
    use lees_core::{ExpectedSignal, LimitSet, Measurement};
    use lees_process::{Settings, Workspace, process};
    use lees_spin::simulate::{Recipe, simulate};

    fn product(line: &str) -> Product {
        let signals: Vec<ExpectedSignal> = lees_format::journal::parse(line).expect("a journal line");
        let (name, quantify) = ("dye".to_owned(), Vec::new());
        Product {
            name,
            formula: None,
            molar_mass: 300.38,
            signals,
            nmr_solvent: None,
            quantify,
            limits: LimitSet::default(),
        }
    }

    /// A quartet of four protons: 1 to 3 to 3 to 1 parts of their area, 7.1 Hz apart.
    #[test]
    fn a_quartet_has_its_four_lines_and_a_coupling_that_is_wrong_has_none() {
        let made = simulate(&Recipe::wet_dye()).expect("a sound recipe");
        let processed =
            process(&Measurement::Spectrum(made.spectrum), &Settings::default(), &mut Workspace::default())
                .expect("a sound spectrum");
        let scene = Scene::of(&processed, processed.spectrum.axis);
        let of = |line: &str| {
            let product = product(line);
            let region = regions(&scene, &product, 0.0).remove(0);
            let per_proton = region.area / region.protons;
            (sticks(&scene, &region, &product, per_proton), region.area)
        };
        let (found, area) = of("3.46 (q, J = 7.1 Hz, 4H)");
        let found = found.expect("as described");
        let shares: Vec<f64> = found.iter().map(|stick| (8.0 * stick.area / area).round()).collect();
        assert_eq!(shares, [1.0, 3.0, 3.0, 1.0]);
        for pair in found.windows(2) {
            assert!((pair[1].at - pair[0].at - 7.1).abs() < 1e-6, "{pair:?}");
        }
        let centre = 0.25 * found.iter().map(|stick| stick.at).sum::<f64>();
        assert!((scene.shift(centre).0 - 3.46).abs() < 0.002, "{}", scene.shift(centre).0);
        assert_eq!(of("3.46 (q, J = 17 Hz, 4H)").0, None, "nothing stands there");
        assert_eq!(of("3.46 (m, 4H)").0, None, "no pattern was told");
    }
}
