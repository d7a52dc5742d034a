//! Whole area of a group of lines: what the fits say, corrected by what they left.
//!
//! Couplings too small to be resolved widen a group of lines without widening its tails. Fitted by the common line at a
//! larger width, such a group gets tails that are not there, and some per cent too much area. The sum over the points
//! has no such fault, but it holds all noise of its stretch. Both are weighed.

use lees_core::{Hertz, LineKind};
use lees_process::LineShape;

use super::scene::{Scene, SceneLine};

/// Points are summed this many line widths beyond the outer lines: that far the fits look.
const REACH: f64 = 12.0;
/// Lines with less than this share of a group's area may stand beside it without narrowing the stretch.
const FAINT: f64 = 0.02;
/// Beyond this many of its widths a line is all tail.
const CORE: f64 = 3.0;
/// What the common line misses of other lines is known to this share of their area.
const FOREIGN_U: f64 = 0.015;
/// Relative error of a fitted area that the common line describes ...
const SHARP_U: f64 = 0.005;
/// ... and of one that is twice as wide, and no more for wider lines than for one this much wider than common.
const WIDE_U: f64 = 0.06;
const WIDE_MOST: f64 = 1.5;
/// A sum this many of its uncertainties off the fits is believed: lines were missed.
const MISSED_SIGMAS: f64 = 2.0;
/// The phase is known to this, in radian: half a degree.
const PHASE_U: f64 = 0.009;
/// This share of the correction is uncertain beside noise: baseline, ends of the stretch.
const CORRECTION_U: f64 = 0.25;

/// Lines that show the usual misfit have widths in this range, in common widths, ...
const PLAIN: std::ops::Range<f64> = 0.75..1.3;
/// ... stand so much above the noise, ...
const CLEAR: f64 = 40.0;
/// ... so many of the strongest are taken, ...
const MODELS: usize = 12;
/// ... with no more than this share of the area in faint lines at the foot, of which so much is uncertain, ...
const FOOT: f64 = 0.2;
const FOOT_U: f64 = 0.3;
/// ... each known to this share beside noise, ...
const MODEL_U: f64 = 0.004;
/// ... and without any the misfit is 0 within this share.
const USUAL_U: f64 = 0.02;
/// Rounds of weighing them, and the share of its squared distance from the mean that widens a misfit.
const ROUNDS: usize = 8;
const SLACK: f64 = 0.3;

/// A relative misfit and its standard uncertainty.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Usual {
    share: f64,
    u: f64,
    /// Share of a line's area that stands in faint lines at its foot, which the common line has not: a poor shim.
    pub foot: f64,
}

impl Usual {
    /// Nothing known.
    pub(super) const NONE: Self = Self { share: 0.0, u: USUAL_U, foot: 0.0 };
}

/// What was summed about a group of lines.
struct Summed {
    /// Area by the fits.
    fitted: f64,
    /// What the fits left within the stretch, and its noise.
    left: f64,
    noise: f64,
    /// Area that other lines have in the stretch.
    foreign: f64,
    /// What the fitted tails beyond the stretch have too much, and its standard uncertainty.
    excess: (f64, f64),
    /// What other lines would bring into the stretch by a phase error of one radian.
    dispersion: f64,
}

/// What fits leave of the area of sharp lines that stand alone: the same share of every line, so that it cancels in ratios.
pub(super) fn usual(scene: &Scene<'_>) -> Usual {
    let plain = |line: &SceneLine| line.kind == LineKind::Signal && PLAIN.contains(&line.factor);
    let middle = |line: &SceneLine| ((line.at / scene.hz) as usize).min(scene.points().saturating_sub(1));
    let height = |line: &SceneLine| line.area * scene.shape_of(line).height(line.factor);
    let mut tall: Vec<&SceneLine> = scene
        .lines
        .iter()
        .filter(|line| plain(line) && height(line) > CLEAR * scene.sigma[middle(line)])
        .collect();
    tall.sort_by(|a, b| height(b).total_cmp(&height(a)));
    let seen: Vec<(f64, f64, f64)> =
        tall.into_iter().filter_map(|line| misfit(scene, line)).take(MODELS).collect();
    let mut feet: Vec<f64> = seen.iter().map(|(.., foot)| *foot).collect();
    feet.sort_by(f64::total_cmp);
    let foot = feet.get(feet.len() / 2).copied().unwrap_or_default();
    let misfits: Vec<(f64, f64)> = seen.into_iter().map(|(share, u, _)| (share, u)).collect();
    // one that is far from the others holds something else
    let mut usual = Usual { foot, ..Usual::NONE };
    let mut slack = 0.0;
    for _ in 0..ROUNDS {
        let weight = |(share, u): &(f64, f64)| (u * u + slack * (share - usual.share).powi(2)).recip();
        let prior = USUAL_U.powi(-2);
        let all: f64 = prior + misfits.iter().map(weight).sum::<f64>();
        let share = misfits.iter().map(|m| m.0 * weight(m)).sum::<f64>() / all;
        usual = Usual { share, u: all.sqrt().recip(), foot };
        slack = SLACK;
    }
    usual
}

/// What the fit left of the area of a line that stands alone, as a share, its standard uncertainty, and the share in faint
/// lines at its foot, which the common line misses too. `None` when others of note stand near.
fn misfit(scene: &Scene<'_>, line: &SceneLine) -> Option<(f64, f64, f64)> {
    let reach = REACH * scene.width * line.factor.max(1.0);
    let near = &scene.lines[scene.lines_within(line.at - 2.0 * reach, line.at + 2.0 * reach)];
    let is_own = |other: &SceneLine| (other.at - line.at).abs() < reach && other.kind == LineKind::Signal;
    if near.iter().any(|other| !is_own(other) && other.area > FAINT * line.area) {
        return None;
    }
    let own: Vec<&SceneLine> = near.iter().filter(|other| is_own(other)).collect();
    let foot = 1.0 - line.area / own.iter().map(|other| other.area).sum::<f64>();
    if foot > FOOT {
        return None;
    }
    let summed = Summed::of(scene, &own)?;
    let share = (summed.left - summed.excess.0) / summed.fitted;
    let wider = WIDE_U * (line.factor - 1.0).max(0.0);
    Some((
        share,
        libm::hypot(libm::hypot(libm::hypot(summed.u() / summed.fitted, MODEL_U), wider), FOOT_U * foot),
        foot,
    ))
}

/// Area of a group of lines, by growing position, and its standard uncertainty; `fit_u` is that of their sum by noise.
pub(crate) fn whole(scene: &Scene<'_>, own: &[&SceneLine], fit_u: f64) -> (f64, f64) {
    let usual = scene.usual;
    let Some(summed) = Summed::of(scene, own) else { return (0.0, fit_u) };
    let fitted = summed.fitted;
    let sum = (fitted + summed.left - usual.share * summed.foreign - summed.excess.0) / (1.0 + usual.share);
    let sum_u = libm::hypot(summed.u(), usual.u * fitted);
    let wider = |line: &&SceneLine| line.area * (line.factor - 1.0).abs().min(WIDE_MOST);
    let prior = libm::hypot(SHARP_U, WIDE_U * own.iter().map(wider).sum::<f64>() / fitted) * fitted;
    let (area, u) = weighed(fitted, prior, sum, sum_u);
    // lines that overlap trade area with one another: their sum is known better than their parts
    (area.max(0.0), libm::hypot(u, fit_u.min(summed.noise)))
}

/// A fitted area, right within `prior`, drawn towards the sum over the points, right within `sum_u`; and the standard
/// uncertainty of the outcome.
fn weighed(fitted: f64, prior: f64, sum: f64, sum_u: f64) -> (f64, f64) {
    // a fit that is further off than that has missed lines
    let missed = ((sum - fitted).powi(2) - (MISSED_SIGMAS * sum_u).powi(2)).max(0.0);
    let variance = (prior * prior).max(missed);
    let weight = variance / (variance + sum_u * sum_u).max(f64::MIN_POSITIVE);
    let correction = weight * (sum - fitted);
    (fitted + correction, libm::hypot(weight.sqrt() * sum_u, CORRECTION_U * correction))
}

impl Summed {
    /// Standard uncertainty of the sum.
    fn u(&self) -> f64 {
        libm::hypot(
            libm::hypot(libm::hypot(self.noise, FOREIGN_U * self.foreign), self.excess.1),
            PHASE_U * self.dispersion,
        )
    }

    fn of(scene: &Scene<'_>, own: &[&SceneLine]) -> Option<Self> {
        let fitted: f64 = own.iter().map(|line| line.area).sum();
        if own.is_empty() || fitted <= 0.0 {
            return None;
        }
        let (from, to) = stretch(scene, own, fitted);
        let range = scene.range(from, to);
        let mut wide = vec![0.0; range.len()];
        let mut sharp = vec![0.0; range.len()];
        let mut tail = vec![true; range.len()];
        for line in own {
            for (k, i) in range.clone().enumerate() {
                let off = i as f64 * scene.hz - line.at;
                wide[k] += scene.value(line, i as f64 * scene.hz);
                sharp[k] += line.area * scene.shape.value(Hertz(off), line.factor.min(1.0));
                tail[k] &= off.abs() > CORE * scene.width * line.factor;
            }
        }
        let left = scene.residual[range.clone()].iter().sum::<f64>() * scene.hz;
        let foreign: Vec<f64> =
            range.clone().zip(&wide).map(|(i, own)| scene.y[i] - scene.residual[i] - own).collect();
        // how far the tails are those of sharp lines, between 0 and 1
        let (mut moment, mut weight) = (2.0, 4.0);
        for (k, i) in range.clone().enumerate().filter(|(k, _)| tail[*k]) {
            let variance = scene.colour * scene.sigma[i].powi(2) + (FOREIGN_U * foreign[k]).powi(2);
            let change = sharp[k] - wide[k];
            moment += change * scene.residual[i] / variance.max(f64::MIN_POSITIVE);
            weight += change * change / variance.max(f64::MIN_POSITIVE);
        }
        let beyond = |shape: &LineShape, factor: f64, line: &SceneLine| {
            let tail = |edge: f64| (edge - line.at).abs() * shape.value(Hertz(edge - line.at), factor);
            line.area * (tail(from) + tail(to))
        };
        let too_much = |line: &SceneLine| {
            beyond(scene.shape_of(line), line.factor, line) - beyond(&scene.shape, line.factor.min(1.0), line)
        };
        let too_much: f64 = own.iter().map(|line| too_much(line)).sum();
        let share = (moment / weight).clamp(0.0, 1.0);
        Some(Self {
            fitted,
            left,
            noise: if range.is_empty() { 0.0 } else { scene.noise.range_u(range) * scene.hz },
            foreign: foreign.iter().sum::<f64>().max(0.0) * scene.hz,
            excess: (share * too_much, too_much / weight.sqrt()),
            dispersion: dispersion(scene, own, from, to),
        })
    }
}

/// What a phase error of one radian would bring into a stretch from all other lines.
fn dispersion(scene: &Scene<'_>, own: &[&SceneLine], from: f64, to: f64) -> f64 {
    let (first, last) = (own[0].at, own[own.len() - 1].at);
    let far = |line: &&SceneLine| line.at < first || line.at > last;
    let distance = |edge: f64, line: &SceneLine| (edge - line.at).abs().max(scene.width);
    let each = |line: &SceneLine| line.area * libm::log(distance(to, line) / distance(from, line));
    (scene.lines.iter().filter(far).map(each).sum::<f64>() / std::f64::consts::PI).abs()
}

/// Where a group of lines is summed: their reach beyond them, or half way to a neighbour.
fn stretch(scene: &Scene<'_>, own: &[&SceneLine], fitted: f64) -> (f64, f64) {
    let reach = |line: &SceneLine| REACH * scene.width * line.factor.max(1.0);
    let from = own.iter().map(|line| line.at - reach(line)).fold(f64::INFINITY, f64::min);
    let to = own.iter().map(|line| line.at + reach(line)).fold(f64::NEG_INFINITY, f64::max);
    let (first, last) = (own[0].at, own[own.len() - 1].at);
    let noted = |l: &usize| scene.lines[*l].area > FAINT * fitted;
    let half_way = |l: usize, at: f64| f64::midpoint(scene.lines[l].at, at);
    let before = scene.lines_within(2.0 * from - first, first).filter(noted);
    let before = before.filter(|l| scene.lines[*l].at < first).map(|l| half_way(l, first));
    let after = scene.lines_within(last, 2.0 * to - last).filter(noted);
    let after = after.filter(|l| scene.lines[*l].at > last).map(|l| half_way(l, last));
    (before.fold(from, f64::max), after.fold(to, f64::min))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::scene::tests::{line, wet_dye};
    use lees_core::Measurement;
    use lees_process::{Settings, Workspace, process};
    use lees_spin::simulate::{Recipe, simulate};

    #[test]
    fn the_sum_wins_beside_little_noise_and_the_fit_beside_much() {
        let (area, u) = weighed(1.0, 0.05, 0.96, 0.002);
        assert!((area - 0.96).abs() < 1e-3 && (0.002..0.012).contains(&u), "{area} {u}");
        let (area, u) = weighed(1.0, 0.05, 0.7, 0.5);
        assert!((area - 1.0).abs() < 0.01 && (0.04..0.06).contains(&u), "{area} {u}");
    }

    #[test]
    fn a_sum_far_above_the_fit_is_believed_and_its_distance_is_in_the_uncertainty() {
        let (area, u) = weighed(1.0, 0.005, 2.0, 0.02);
        assert!((area - 2.0).abs() < 1e-3, "lines were missed: {area}");
        assert!((0.2..0.3).contains(&u), "a quarter of what was missed: {u}");
        let (near, _) = weighed(1.0, 0.005, 1.03, 0.02);
        assert!(near < 1.003, "one and a half uncertainties are chance: {near}");
    }

    #[test]
    fn a_lone_line_is_summed_twelve_widths_to_either_side_and_half_way_to_a_neighbour_of_note() {
        let processed = wet_dye();
        let mut scene = Scene::of(&processed, processed.spectrum.axis);
        let (own, reach) = (line(500.0, 1000.0), REACH * scene.width);
        let mut summed = |neighbour: Option<SceneLine>| {
            scene.lines = std::iter::once(own.clone()).chain(neighbour).collect();
            stretch(&scene, &[&own], own.area)
        };
        let (from, to) = (own.at - reach, own.at + reach);
        assert_eq!(summed(None), (from, to));
        assert_eq!(summed(Some(line(own.at + reach, own.area))), (from, own.at + 0.5 * reach));
        assert_eq!(summed(Some(line(own.at + reach, 0.01 * own.area))), (from, to), "a faint one");
    }

    /// The foot of a lone line is none; with a tenth of the area in a second line at its foot it is a tenth.
    #[test]
    fn the_foot_is_the_share_of_the_faint_lines_beside_a_strong_one() {
        let processed = wet_dye();
        let mut scene = Scene::of(&processed, processed.spectrum.axis);
        let strong = line(500.0, 900.0);
        scene.lines = vec![strong.clone()];
        let foot = |scene: &Scene<'_>| misfit(scene, &strong).map(|(.., foot)| foot);
        assert_eq!(foot(&scene), Some(0.0));
        scene.lines.push(line(strong.at + 3.0 * scene.width, 100.0));
        assert!(foot(&scene).is_some_and(|foot| (foot - 0.1).abs() < 1e-12), "{:?}", foot(&scene));
    }

    #[test]
    fn a_line_that_stands_alone_has_no_area_of_others_in_its_stretch() {
        let processed = wet_dye();
        let scene = Scene::of(&processed, processed.spectrum.axis);
        let alone = |line: &&SceneLine| misfit(&scene, line).is_some_and(|(.., foot)| foot == 0.0);
        let largest = scene.lines.iter().filter(alone).max_by(|a, b| a.area.total_cmp(&b.area));
        let own = largest.expect("some line stands alone");
        let foreign = Summed::of(&scene, &[own]).expect("an area").foreign;
        assert!(foreign < 0.2 * own.area, "{foreign} beside {}", own.area);
    }

    /// What the spectrum is counted in is the recording's own affair: areas and their uncertainties grow with it.
    #[test]
    fn areas_and_uncertainties_grow_with_the_unit_of_the_spectrum() {
        let made = simulate(&Recipe::wet_dye()).expect("a sound recipe").spectrum;
        let areas = |unit: f64| {
            let mut spectrum = made.clone();
            spectrum.real.mapv_inplace(|y| unit * y);
            spectrum.imaginary = spectrum.imaginary.map(|imaginary| imaginary.mapv(|y| unit * y));
            let measured = Measurement::Spectrum(spectrum);
            let processed = process(&measured, &Settings::default(), &mut Workspace::default());
            let processed = processed.expect("a sound spectrum");
            let scene = Scene::of(&processed, processed.spectrum.axis);
            let each = |line: &SceneLine| whole(&scene, &[line], line.area_u);
            let clear = scene.lines.iter().filter(|line| line.area > 20.0 * line.area_u);
            clear.map(each).map(|(area, u)| (area / unit, u / unit)).collect::<Vec<_>>()
        };
        let plain = areas(1.0);
        let close = |a: f64, b: f64| (a - b).abs() <= 1e-3 * a.abs();
        for unit in [1.0 / 1024.0, 1024.0] {
            let other = areas(unit);
            assert_eq!(other.len(), plain.len(), "lines counted in {unit}");
            for (a, b) in plain.iter().zip(&other) {
                assert!(close(a.0, b.0) && close(a.1, b.1), "{a:?} counted in {unit}: {b:?}");
            }
        }
    }
}
