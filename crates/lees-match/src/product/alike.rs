//! A product whose signals all stand alike from where they were described, further than a search line by line allows for: the
//! solution is concentrated, or the journal's axis was another.
//!
//! What is looked at is what will be measured: in how many stretches the right protons stand in the right pattern when all are
//! looked for elsewhere.

use lees_core::{Megahertz, Product};

use super::region::{Region, WIDEST};
use super::sticks::sticks;
use super::{Described, SEVERAL};
use crate::fit::scene::Scene;
use crate::pattern::first_order;

/// Furthest that all signals are looked for, and steps, in ppm (residual lines in neat and concentrated samples wander this far;
/// common practice, no source).
const FURTHEST: f64 = 0.3;
const STEP: f64 = 0.01;
/// The signals stand within this of their common displacement, in ppm: a concentrated solution moves some more than others.
const SPREAD: f64 = 0.03;
/// Displacements closer than this, in ppm, may be found by the same lines: the stretches' margins and the spread.
const SAME: f64 = 0.08;
/// A signal is found when it has its protons within this share.
const AGREES: f64 = 0.12;
/// At any other displacement so many signals fewer must be found.
const LEAD: usize = 2;
/// Of so many signals one may be covered or stand by itself.
const ONE_ASTRAY: usize = 5;
/// The signals that are found have at least this share of all area beside the NMR solvent's lines: chance patterns are small.
const MAIN: f64 = 0.5;

/// All signals looked for at one displacement.
struct Tried {
    /// Displacement in hertz.
    off: f64,
    /// Signals that could be found.
    all: usize,
    /// How far each of those that are found stands from where it was described, in hertz.
    moves: Vec<f64>,
    /// Their area.
    area: f64,
}

/// By how much, in hertz, all signals of the product stand at higher positions than described; `None` when no displacement
/// is clearly better than any other.
pub(crate) fn moved_alike(scene: &Scene<'_>, product: &Product, solvent: &[(f64, f64)]) -> Option<f64> {
    let count = (FURTHEST / STEP).round() as i32;
    let at = |off: f64| tried(scene, product, solvent, off);
    let all: Vec<Tried> = (-count..=count).map(|k| at(f64::from(k) * STEP * scene.field())).collect();
    let most = all.iter().map(|t| t.moves.len()).max()?;
    let first = all.iter().filter(|t| t.moves.len() == most).max_by(|a, b| a.area.total_cmp(&b.area))?;
    let best = at(median(&first.moves)?);
    let enough = |t: &Tried| {
        let found = t.moves.len();
        found >= SEVERAL && found + usize::from(t.all >= ONE_ASTRAY) >= t.all
    };
    let rival = |t: &&Tried| (t.off - best.off).abs() > SAME * scene.field();
    let next = all.iter().filter(rival).map(|t| t.moves.len()).max().unwrap_or(0);
    let clear = best.moves.len() >= next + LEAD;
    let own = |at: f64| !solvent.iter().any(|(from, to)| *from < at && at < *to);
    let total: f64 = scene.lines.iter().filter(|l| l.is_signal() && own(l.at)).map(|l| l.area).sum();
    (enough(&best) && clear && best.area > MAIN * total).then_some(best.off)
}

fn tried(scene: &Scene<'_>, product: &Product, solvent: &[(f64, f64)], off: f64) -> Tried {
    let described = Described::placed(product, scene, solvent, off);
    let mut tried = Tried { off, all: 0, moves: Vec::new(), area: 0.0 };
    let Some(scale) = described.per_proton.as_ref().map(|scale| scale.value) else { return tried };
    for region in described.regions.iter().filter(|region| !region.exchanging) {
        tried.all += 1;
        let expected = scale * region.protons;
        let moved = displacement(scene, region, product);
        let alike = |moved: &f64| (moved - off).abs() < SPREAD * scene.field();
        let right = (region.area - expected).abs() < AGREES * expected;
        if let Some(moved) = moved.filter(alike).filter(|_| right && is_like(scene, region, product, scale)) {
            tried.moves.push(moved);
            tried.area += region.area;
        }
    }
    tried
}

/// How far the middle of what stands in a stretch is from the middle of what was described, in hertz.
fn displacement(scene: &Scene<'_>, region: &Region, product: &Product) -> Option<f64> {
    let lines = || scene.signals_within(region.from, region.to).filter(|line| line.factor < WIDEST);
    let area: f64 = lines().map(|line| line.area).sum();
    let centre = lines().map(|line| line.at * line.area).sum::<f64>() / area;
    let described = region.signals.iter().map(|&k| &product.signals[k]);
    let stated =
        described.map(|s| s.protons * scene.position(s.range.centre())).sum::<f64>() / region.protons;
    (area > 0.0).then_some(centre - stated)
}

/// Whether the lines of a stretch have the pattern that was described, as far as one was.
fn is_like(scene: &Scene<'_>, region: &Region, product: &Product, per_proton: f64) -> bool {
    let known = |k: &usize| {
        let signal = &product.signals[*k];
        let pattern = signal.multiplicity.as_ref();
        pattern.is_some_and(|m| first_order(m, &signal.couplings, Megahertz(scene.field())).is_some())
    };
    !region.signals.iter().all(known) || sticks(scene, region, product, per_proton).is_some()
}

fn median(moves: &[f64]) -> Option<f64> {
    let mut moves = moves.to_vec();
    moves.sort_by(f64::total_cmp);
    moves.get(moves.len() / 2).copied()
}

#[cfg(test)]
mod tests {
    use super::*;
    use lees_core::Measurement;
    use lees_process::{Processed, Settings, Workspace, process};
    use lees_spin::simulate::{Compound, Recipe, Signal, Simulator};

    /// An invented isopropyl ester, its signals at so many ppm from where [`ESTER`] has them.
    fn measured(off: [f64; 5]) -> Processed {
        let mut compound = Compound::new("ester").mass(262.3);
        let signals = [
            (8.02, 2.0, 1, 8.6),
            (7.44, 2.0, 1, 8.6),
            (5.24, 1.0, 6, 6.2),
            (2.47, 3.0, 0, 0.0),
            (1.37, 6.0, 1, 6.2),
        ];
        for ((at, protons, partners, j), off) in signals.into_iter().zip(off) {
            let signal = Signal::new(at + off, protons);
            compound = compound.signal(if partners > 0 { signal.split_by(partners, j) } else { signal });
        }
        let recipe = Recipe { product: Some(compound), ..Recipe::default() };
        let made = Simulator::default().run(&recipe).expect("a sound recipe");
        process(&Measurement::Spectrum(made.spectrum), &Settings::default(), &mut Workspace::default())
            .expect("a sound spectrum")
    }

    fn moved(processed: &Processed, line: &str) -> Option<f64> {
        let text = format!("name = 'ester'\nmolar_mass = 262.3\nsignals = '{line}'");
        let product = lees_format::product::parse(&text, "ester.toml").expect("a product");
        let scene = Scene::of(processed, processed.spectrum.axis);
        moved_alike(&scene, &product, &[]).map(|off| -off / scene.field())
    }

    const ESTER: &str = "8.02 (d, J = 8.6 Hz, 2H), 7.44 (d, J = 8.6 Hz, 2H), 5.24 (sept, J = 6.2 Hz, 1H), 2.47 (s, 3H), 1.37 (d, J = 6.2 Hz, 6H)";

    #[test]
    fn signals_that_stand_alike_elsewhere_are_found_although_some_move_more_than_others() {
        for off in [0.1, -0.1, 0.2, -0.2] {
            let processed = measured([0.018, -0.015, 0.0, 0.009, -0.012].map(|own| off + own));
            let found = moved(&processed, ESTER).expect("all five");
            assert!((found - off).abs() < 0.02, "{off}: {found}");
        }
    }

    #[test]
    fn one_of_five_signals_may_stand_by_itself_and_one_of_four_may_not() {
        let processed = measured([0.2, 0.2, 0.2, 0.2, -0.3]);
        assert!(moved(&processed, ESTER).is_some_and(|found| (found - 0.2).abs() < 0.02));
        let four =
            ESTER.rsplit_once(", 2.47").expect("four of five").0.to_owned() + ", 1.37 (d, J = 6.2 Hz, 6H)";
        assert_eq!(moved(&processed, &four), None);
    }

    #[test]
    fn another_compound_is_not_found_anywhere() {
        let processed = measured([0.2; 5]);
        for (line, why) in [
            ("8.02 (d, J = 8.6 Hz, 2H), 7.44 (d, J = 8.6 Hz, 2H)", "two signals are too few"),
            (
                "8.02 (d, J = 17 Hz, 2H), 7.44 (d, J = 17 Hz, 2H), 5.24 (t, J = 15 Hz, 1H), 2.47 (s, 3H), 1.37 (d, J = 13 Hz, 6H)",
                "its patterns are others",
            ),
            (
                "8.02 (d, J = 8.6 Hz, 1H), 7.44 (d, J = 8.6 Hz, 2H), 5.24 (sept, J = 6.2 Hz, 3H), 2.47 (s, 3H), 1.37 (d, J = 6.2 Hz, 2H)",
                "its protons are others",
            ),
            (
                "8.12 (d, J = 8.6 Hz, 2H), 7.31 (d, J = 8.6 Hz, 2H), 4.92 (sept, J = 6.2 Hz, 1H), 2.87 (s, 3H), 1.27 (d, J = 6.2 Hz, 6H)",
                "no two places are moved alike",
            ),
        ] {
            assert_eq!(moved(&processed, line), None, "{why}");
        }
    }
}
