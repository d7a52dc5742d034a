//! Water: one line, broad or sharp, whose place depends on what else is in the tube.

use super::context::Context;
use super::partner::is_of_larger;
use super::probe::{Assessment, GroupFit};
use super::search::Accepted;
use crate::fit::scene::{Scene, SceneLine};
use crate::table::{Family, NmrSolvent};

/// How far water may stand from its tabulated place, in ppm: towards lower and towards higher shift. Hydrogen bonds to
/// the product, acids and cold move it to higher shift (common practice; METHODS of shift tables warn of it).
const REACH: [(Family, f64, f64); 6] = [
    (Family::Chlorinated, 0.08, 0.55),
    (Family::Aromatic, 0.1, 0.5),
    (Family::Dipolar, 0.12, 0.4),
    (Family::Ether, 0.1, 0.4),
    (Family::Protic, 0.15, 0.15),
    (Family::Hydrocarbon, 0.1, 0.4),
];
/// Water in a dry enough tube stands within this of its place, in ppm: towards lower and higher shift.
pub(super) const NEAR: (f64, f64) = (0.04, 0.07);
/// Protons of a water molecule.
const PROTONS: f64 = 2.0;
/// Scale of the usual displacement in ppm.
const USUAL: f64 = 0.05;
/// A line this many times its uncertainty may be water.
const LEAST_SIGNIFICANCE: f64 = 5.0;
/// Lines closer than this to another of similar size are part of a multiplet, in hertz.
const LONELY_HZ: f64 = 9.0;
/// Lines within this many of its widths are pieces of the same broad line.
const PIECE_WIDTHS: f64 = 1.5;
/// ... unless they are hardly wider than the common line: those are other signals.
const LEAST_PIECE: f64 = 1.7;
/// A line at least this share of its neighbour is similar in size.
const SIMILAR: f64 = 0.15;

/// HDO stands beside its place below water, in ppm: so much nearer to it, and so much further off.
const HDO_SLACK: (f64, f64) = (0.01, 0.015);

/// Beside HDO there is at least so much water, as a share of it (common practice, no source).
const LEAST_OF_PAIR: f64 = 0.5;

/// Where to look for water.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Wet<'a> {
    /// Index of its pattern.
    pub pattern: usize,
    /// Its usual place.
    pub place: lees_core::Ppm,
    pub solvent: &'a NmrSolvent,
}

/// Whether to look about the usual place only or as far as water ever strays.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Reach {
    /// Before other molecules are named: near the usual place a strong lonely line is water.
    Near,
    /// When nothing else explains the line.
    Far,
}

/// Water, when a line is left where it may be.
pub(crate) fn water(scene: &Scene<'_>, context: &Context, wet: Wet<'_>, reach: Reach) -> Option<Accepted> {
    let place = wet.place;
    let (below, above) = match reach {
        Reach::Near => NEAR,
        Reach::Far => REACH.iter().find(|r| r.0 == wet.solvent.family).map_or((0.1, 0.3), |r| (r.1, r.2)),
    };
    let from = scene.position(lees_core::Ppm(place.0 + above));
    let to = scene.position(lees_core::Ppm(place.0 - below));
    let best = scene
        .lines_within(from, to)
        .filter(|&k| may_be_water(scene, k, context, reach))
        .map(|k| (k, score(scene, k, place.0)))
        .max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)))?;
    let chosen = &scene.lines[best.0];
    // of a pair so far apart as water and HDO the upper one is water
    let is_pair = |k: &usize| {
        let other = &scene.lines[*k];
        let under = hdo(scene, Some(wet.solvent), other.at);
        under.is_some_and(|(from, to)| from < chosen.at && chosen.at < to)
            && other.area > LEAST_OF_PAIR * chosen.area
            && may_be_water(scene, *k, context, reach)
    };
    let line = scene.lines_within(from, to).find(is_pair).map_or(chosen, |k| &scene.lines[k]);
    let protons = PROTONS;
    let found = Assessment {
        amount: pieces(scene, line) / protons,
        noise: line.area_u / protons,
        evidence: best.1,
        groups: vec![GroupFit {
            group: 0,
            at: line.at,
            factor: line.factor,
            clear: 1.0,
            fresh: true,
            by_area: false,
            gain: f64::INFINITY,
        }],
    };
    Some(Accepted { pattern: wet.pattern, found, rivals: Vec::new() })
}

/// The stretch in which HDO may stand apart from water at a position, in hertz.
pub(crate) fn hdo(scene: &Scene<'_>, solvent: Option<&NmrSolvent>, water: f64) -> Option<(f64, f64)> {
    let below = solvent?.hdo_below_water?.0;
    Some((water + (below - HDO_SLACK.0) * scene.field(), water + (below + HDO_SLACK.1) * scene.field()))
}

/// Area of a line and of all that was fitted into its width.
fn pieces(scene: &Scene<'_>, line: &SceneLine) -> f64 {
    let reach = PIECE_WIDTHS * line.factor * scene.width;
    scene.lines[scene.lines_within(line.at - reach, line.at + reach)].iter().map(|piece| piece.area).sum()
}

/// Takes the line and its pieces.
pub(crate) fn take_water(scene: &mut Scene<'_>, context: &mut Context, found: &Assessment) {
    for group in &found.groups {
        let reach = PIECE_WIDTHS * group.factor * scene.width;
        let pieces = scene.lines_within(group.at - reach, group.at + reach);
        let is_piece = |l: &&mut SceneLine| l.at == group.at || l.factor > LEAST_PIECE;
        for piece in scene.lines[pieces].iter_mut().filter(is_piece) {
            let part = piece.left.max(0.0);
            piece.left -= part;
            piece.taken += part;
        }
        context.take(group.at, PROTONS * found.amount);
    }
}

fn may_be_water(scene: &Scene<'_>, k: usize, context: &Context, reach: Reach) -> bool {
    let line = &scene.lines[k];
    let still_there = line.left > 0.5 * line.area;
    let lonely = scene.lines[scene.lines_within(line.at - LONELY_HZ, line.at + LONELY_HZ)]
        .iter()
        .filter(|other| (other.at - line.at).abs() > PIECE_WIDTHS * line.factor * scene.width)
        .all(|other| other.area < SIMILAR * line.area);
    line.is_signal()
        && line.area > LEAST_SIGNIFICANCE * line.area_u
        && still_there
        && (lonely || line.factor > 3.0 || reach == Reach::Near)
        && context.has_room(scene, line.at, line.area)
        && !is_of_larger(scene, context, line.at, 1, &[])
}

/// Larger, broader and nearer to the usual place is better.
fn score(scene: &Scene<'_>, k: usize, place: f64) -> f64 {
    let line = &scene.lines[k];
    let off = (scene.shift(line.at).0 - place) / USUAL;
    libm::log(line.area / line.area_u) + libm::log(line.factor.max(0.5)) - 2.0 * libm::log1p(off * off / 4.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::scene::tests::{line, wet_dye};
    use lees_core::Ppm;

    /// The square of Cauchy's law: two scales off it is a quarter of what it is in the middle, whichever side.
    #[test]
    fn a_line_two_usual_displacements_off_is_a_quarter_as_likely_water() {
        let processed = wet_dye();
        let mut scene = Scene::of(&processed, processed.spectrum.axis);
        let place = 1.56;
        let at = |off: f64| line(scene.position(Ppm(place + off)), 10.0);
        scene.lines = vec![at(2.0 * USUAL), at(0.0), at(-2.0 * USUAL)];
        let middle = score(&scene, 1, place);
        for k in [0, 2] {
            let odds = libm::exp(score(&scene, k, place) - middle);
            assert!((odds - 0.25).abs() < 1e-6, "{odds}");
        }
    }

    /// H2O at 3.33 and HDO at 3.30 ppm in DMSO-d6 (Gottlieb 1997): the smaller and the larger of them.
    #[test]
    fn of_water_and_hdo_the_upper_line_is_water() {
        let processed = wet_dye();
        let mut scene = Scene::of(&processed, processed.spectrum.axis);
        let solvent = crate::table::Tables::bundled().nmr_solvent("DMSO-d6").expect("in the table");
        let wet = Wet { pattern: 0, place: Ppm(3.33), solvent };
        let mut found = |upper: f64, lower: f64| {
            let at = |ppm: f64, area: f64| line(scene.position(Ppm(ppm)), area);
            scene.lines = vec![at(3.36, upper), at(3.33, lower)];
            let seen = water(&scene, &Context::default(), wet, Reach::Near).expect("water");
            scene.shift(seen.found.groups[0].at).0
        };
        assert!((found(60.0, 100.0) - 3.36).abs() < 1e-9);
        assert!((found(100.0, 60.0) - 3.36).abs() < 1e-9);
        assert!((found(10.0, 100.0) - 3.33).abs() < 1e-9, "too small to be the water beside so much HDO");
        let beside = hdo(&scene, Some(solvent), scene.position(Ppm(3.36))).expect("both are seen");
        let lower = scene.position(Ppm(3.33));
        assert!(beside.0 < lower && lower < beside.1);
        assert_eq!(hdo(&scene, crate::table::Tables::bundled().nmr_solvent("CDCl3"), 100.0), None);
    }
}
