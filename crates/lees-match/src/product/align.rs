//! How far the product's signals stand from where they were described, all alike: a reference for the shift axis where no line of
//! the NMR solvent is sure, and a journal line's own reference where one is.

use lees_core::{ExpectedSignal, LineKind, Megahertz, Ppm, Product};
use lees_process::Processed;

use crate::fit::scene::Scene;
use crate::fit::template::Stick;
use crate::pattern::first_order;

/// How an offset is sought.
struct Search {
    /// Fewer signals with a known pattern than this do not tell.
    least_signals: usize,
    /// Largest offset and steps, in ppm.
    furthest: f64,
    step: f64,
    /// Share of the signals that must be found.
    least_found: f64,
    /// An offset further away than [`APART`] must find so many signals less.
    margin: f64,
}

/// An axis set with care.
const CLOSE: Search =
    Search { least_signals: 3, furthest: 0.08, step: 0.001, least_found: 0.85, margin: 0.8 };
/// A wrong lock: chance patterns abound, so that nearly all of more signals must agree.
const FAR: Search = Search { least_signals: 4, furthest: 6.0, step: 0.002, least_found: 0.93, margin: 1.2 };
/// A line this near to its place, in ppm and in hertz, whichever is more, is found: journals round to 0.01 ppm.
const NEAR: f64 = 0.006;
const NEAR_HZ: f64 = 1.5;
/// The product is the largest thing that fits: what is smaller than this share of it is its satellites, or chance.
const LEAST_SCALE: f64 = 0.2;
/// Offsets closer than this, in ppm, or so close that the same lines are found, are the same.
const APART: f64 = 0.015;
/// Smaller errors of the axis than this, in ppm, are within the rounding of journal lines.
const WITHIN_ROUNDING: f64 = 0.004;
/// Smaller offsets than this, in ppm, leave signals within the stretches in which they are looked for.
const WITHIN_MARGIN: f64 = 0.007;

/// A signal as lines: its place, its protons and its pattern in hertz.
struct Comb {
    centre: f64,
    protons: f64,
    sticks: Vec<Stick>,
}

/// By how much the axis must move for the product's signals to stand where they were described; `None` when they do not
/// tell. Zero when the axis is right within the rounding of a journal line.
pub(crate) fn offset_by_product(processed: &Processed, product: &Product) -> Option<Ppm> {
    let best = best_of(product, lines(processed, 0.0), processed.spectrum.axis.field(), &[CLOSE, FAR])?;
    Some(Ppm(if best.abs() < WITHIN_ROUNDING { 0.0 } else { best }))
}

/// As [`offset_by_product`], near an offset that something else proposes.
pub(crate) fn offset_by_product_near(processed: &Processed, product: &Product, offset: Ppm) -> Option<Ppm> {
    let more = best_of(product, lines(processed, offset.0), processed.spectrum.axis.field(), &[CLOSE])?;
    Some(offset + Ppm(more))
}

/// Shift and area of every signal's line on an axis that is moved.
fn lines(processed: &Processed, moved: f64) -> Vec<(f64, f64)> {
    let signals = processed.lines.iter().filter(|line| line.kind == LineKind::Signal);
    signals.map(|line| (line.shift.0 + moved, line.area)).collect()
}

/// By how much, in hertz, all signals of the product stand at higher positions than described; zero within what a stretch's margin
/// holds, and when they do not tell.
pub(super) fn common_offset(scene: &Scene<'_>, product: &Product) -> f64 {
    let field = Megahertz(scene.field());
    let signals = scene.lines.iter().filter(|line| line.is_signal());
    let lines = signals.map(|line| (scene.shift(line.at).0, line.area)).collect();
    let best = best_of(product, lines, field, &[CLOSE]).unwrap_or(0.0);
    if best.abs() < WITHIN_MARGIN { 0.0 } else { best * field.0 }
}

/// The first offset found among lines of shift and area.
fn best_of(
    product: &Product,
    mut lines: Vec<(f64, f64)>,
    field: Megahertz,
    searches: &[Search],
) -> Option<f64> {
    let combs: Vec<Comb> = product.signals.iter().filter_map(|s| comb(s, field)).collect();
    lines.sort_by(|a, b| a.0.total_cmp(&b.0));
    searches.iter().find_map(|search| sought(&combs, &lines, field, search))
}

/// How near to its place a line is found, in ppm.
fn near(field: Megahertz) -> f64 {
    NEAR.max(NEAR_HZ / field.0)
}

/// The offset at which the signals are found, when no other one does nearly as well.
fn sought(combs: &[Comb], lines: &[(f64, f64)], field: Megahertz, search: &Search) -> Option<f64> {
    if combs.len() < search.least_signals {
        return None;
    }
    let count = (search.furthest / search.step).round() as i64;
    let tried: Vec<(f64, (f64, f64))> = (-count..=count)
        .map(|k| k as f64 * search.step)
        .map(|offset| (offset, found(combs, lines, offset, field)))
        .collect();
    let well = |score: f64| score >= search.least_found * combs.len() as f64;
    let largest = tried.iter().filter(|t| well(t.1.0)).map(|t| t.1.1).fold(0.0, f64::max);
    let scores: Vec<(f64, f64)> = tried
        .into_iter()
        .map(|(offset, (score, scale))| (offset, if scale < LEAST_SCALE * largest { 0.0 } else { score }))
        .collect();
    let most = scores.iter().map(|s| s.1).fold(0.0, f64::max);
    let top: Vec<f64> = scores.iter().filter(|s| s.1 > most - 0.05).map(|s| s.0).collect();
    let best = top.get(top.len() / 2).copied()?;
    let apart = APART.max(2.0 * near(field));
    let rival = scores.iter().filter(|s| (s.0 - best).abs() > apart).map(|s| s.1).fold(0.0, f64::max);
    (well(most) && most - rival >= search.margin).then_some(best)
}

fn comb(signal: &ExpectedSignal, field: Megahertz) -> Option<Comb> {
    let exchanging = signal.multiplicity.as_ref().is_some_and(lees_core::Multiplicity::is_broad);
    let sticks = first_order(signal.multiplicity.as_ref()?, &signal.couplings, field)?;
    (!exchanging).then(|| Comb { centre: signal.range.centre().0, protons: signal.protons, sticks })
}

/// How many signals are found when the axis is moved by `offset`: each counts by the share of its area, on the scale that
/// most of them agree on. Returns the count and that scale, the area of one proton. `lines` grow in shift.
fn found(combs: &[Comb], lines: &[(f64, f64)], offset: f64, field: Megahertz) -> (f64, f64) {
    let near = near(field);
    let of_stick = |comb: &Comb, stick: &Stick| -> f64 {
        let place = comb.centre - stick.offset / field.0 - offset;
        let first = lines.partition_point(|l| l.0 <= place - near);
        lines[first..].iter().take_while(|l| l.0 < place + near).map(|l| l.1).sum()
    };
    let areas: Vec<Vec<f64>> =
        combs.iter().map(|c| c.sticks.iter().map(|s| of_stick(c, s)).collect()).collect();
    let mut each: Vec<f64> =
        combs.iter().zip(&areas).map(|(c, a)| a.iter().sum::<f64>() / c.protons).collect();
    each.sort_by(f64::total_cmp);
    let scale = each[each.len() / 2];
    if scale <= 0.0 {
        return (0.0, 0.0);
    }
    let share = |comb: &Comb, areas: &[f64]| -> f64 {
        comb.sticks.iter().zip(areas).map(|(s, a)| (a / (scale * comb.protons)).min(s.share)).sum()
    };
    (combs.iter().zip(&areas).map(|(c, a)| share(c, a)).sum(), scale)
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
            nmr_solvent: None,
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
    fn a_wrong_lock_takes_more_signals_than_a_small_error() {
        let (processed, mut product) = measured(0.3);
        let found = offset_by_product(&processed, &product).expect("four signals agree");
        assert!((found.0 - 0.3).abs() < 0.006, "{found:?}");
        product.signals.truncate(3);
        assert_eq!(offset_by_product(&processed, &product), None, "three do not tell a wrong lock");
        let (processed, mut product) = measured(0.0);
        product.signals.truncate(2);
        assert_eq!(offset_by_product(&processed, &product), None);
    }

    #[test]
    fn signals_that_all_stand_off_are_looked_for_there_and_small_offsets_are_left() {
        for (off, moved) in [(0.017, true), (-0.033, true), (0.004, false)] {
            let (processed, product) = measured(off);
            let scene = Scene::of(&processed, processed.spectrum.axis);
            let found = common_offset(&scene, &product) / scene.field();
            assert!(if moved { (found - off).abs() < 0.004 } else { found == 0.0 }, "{off}: {found}");
            let described = super::super::Described::of(&product, &scene, &[]);
            let protons = |region: &super::super::Region| {
                region.area / described.per_proton.as_ref().expect("a scale").value
            };
            assert!(described.regions.iter().all(|r| (protons(r) - r.protons).abs() < 0.05 * r.protons));
        }
    }
}
