//! Multiplets that stand half within the stretch where they were described.
//!
//! A stretch holds what a journal's rounding allows. A multiplet a little further off has some of its lines in it and some
//! beside it, and half of its protons would be taken for all of them.

use lees_core::{ExpectedSignal, Megahertz};

use super::region::Region;
use super::sticks::{on_stick, standing};
use crate::fit::scene::Scene;
use crate::fit::template::{Stick, merge};
use crate::pattern::first_order;

/// Signals closer than this many couplings may be partners: their lines are not those of first order.
const FIRST_ORDER: f64 = 3.0;
/// A multiplet may stand this far from where it was described, in ppm.
const FURTHEST: f64 = 0.035;
/// It does not stand there whole when less than this share of it does.
const WHOLE: f64 = 0.5;
/// At least this share of what the stretch holds must be lines of the multiplet that stands about it.
const SAME: f64 = 0.6;

/// By how much a region of one signal must move, in hertz, for its multiplet to stand in it whole; `None` when it does, or when
/// nothing like it stands about. No line may come from the stretches `others`.
pub(super) fn missing_half(
    scene: &Scene<'_>,
    region: &Region,
    signal: &ExpectedSignal,
    others: &[(f64, f64)],
) -> Option<f64> {
    let multiplicity = signal.multiplicity.as_ref()?;
    let sticks = merge(&first_order(multiplicity, &signal.couplings, Megahertz(scene.field()))?, scene.width);
    let widest = signal.couplings.iter().map(|j| j.0.abs()).fold(0.0, f64::max);
    let coupled = |(from, to): &(f64, f64)| (region.from - to).max(from - region.to) < FIRST_ORDER * widest;
    if sticks.len() < 2 || region.exchanging || others.iter().any(coupled) {
        return None;
    }
    let stated = f64::midpoint(region.from, region.to);
    let reach = FURTHEST * scene.field();
    let widest = sticks.iter().map(|s| s.offset.abs()).fold(0.0, f64::max) + reach;
    let centres: Vec<f64> = scene
        .signals_within(stated - widest, stated + widest)
        .flat_map(|line| sticks.iter().map(move |stick| line.at - stick.offset))
        .filter(|centre| (centre - stated).abs() < reach)
        .collect();
    let inside = |at: f64| region.from <= at && at <= region.to;
    let foreign = |at: f64| others.iter().any(|(from, to)| *from <= at && at <= *to);
    let all = |centre: f64, test: &dyn Fn(f64) -> bool| sticks.iter().all(|s| test(centre + s.offset));
    let size = |centre: f64| amplitude(scene, &sticks, centre);
    let here = centres.iter().filter(|c| all(**c, &inside)).map(|c| size(*c)).fold(0.0, f64::max);
    let free = centres.iter().filter(|c| all(**c, &|at| !foreign(at)));
    let (centre, there) = free.map(|c| (*c, size(*c))).reduce(|a, b| if b.1 > a.1 { b } else { a })?;
    let reach = on_stick(scene);
    let own = |at: f64| sticks.iter().any(|s| (centre + s.offset - at).abs() < reach);
    let held = |test: &dyn Fn(f64) -> bool| -> f64 {
        scene.signals_within(region.from, region.to).filter(|l| test(l.at)).map(|l| l.area).sum()
    };
    (here < WHOLE * there && held(&own) > SAME * held(&|_| true)).then_some(centre - stated)
}

/// The largest area with which every line of a multiplet is there.
fn amplitude(scene: &Scene<'_>, sticks: &[Stick], centre: f64) -> f64 {
    sticks.iter().map(|s| standing(scene, centre + s.offset, &[]) / s.share).fold(f64::INFINITY, f64::min)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::product::region::regions;
    use lees_core::Measurement;
    use lees_process::{Settings, Workspace, process};
    use lees_spin::simulate::{Recipe, simulate};

    /// H-6 of the dye, a doublet of 3.2 Hz at 7.87 ppm, described further and further off.
    #[test]
    fn a_doublet_that_stands_half_in_its_stretch_is_found_whole() {
        let made = simulate(&Recipe::wet_dye()).expect("a sound recipe");
        let processed =
            process(&Measurement::Spectrum(made.spectrum), &Settings::default(), &mut Workspace::default())
                .expect("a sound spectrum");
        let scene = Scene::of(&processed, processed.spectrum.axis);
        for (shift, moves) in [("7.87", false), ("7.88", false), ("7.852", true), ("7.888", true)] {
            let text = format!(
                "name = 'dye'\nmolar_mass = 300.38\nsignals = '8.79 (s, 1H), {shift} (d, J = 3.2 Hz, 1H)'"
            );
            let product = lees_format::product::parse(&text, "dye.toml").expect("a product");
            let found = regions(&scene, &product, 0.0);
            let (singlet, doublet) = (&found[0], &found[1]);
            assert!((doublet.area / singlet.area - 1.0).abs() < 0.05, "{shift}: {}", doublet.area);
            assert_eq!(doublet.moved != 0.0, moves, "{shift}");
        }
    }
}
