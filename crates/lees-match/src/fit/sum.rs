//! Areas by summing over points, for members that their patterns alone do not tell: multiplets whose lines run into one another,
//! and lines with feet.

use lees_core::LineKind;

use super::scene::{Scene, SceneLine};
use super::template::{extent, trace};
use super::whole::whole;
use super::window::{LEVEL_U, Member, WIDEST_FACTOR};

/// Sticks closer than this many widths run into one another.
const RUN_WIDTHS: f64 = 1.6;
/// From this share of its area in such runs a member's area is summed, not fitted.
const DENSE_SHARE: f64 = 0.5;
/// Feet with less of a line's area than this do not matter.
const LEAST_FOOT: f64 = 0.01;
/// Lines this many widths beyond a member's outermost stick may be its feet.
const FEET_WIDTHS: f64 = 6.0;
/// A crowded multiplet reaches this far beyond its outermost line, in hertz or in widths.
const EDGE_HZ: f64 = 3.0;
const EDGE_WIDTHS: f64 = 2.0;
/// Fainter lines, as a share of the multiplet, do not widen the stretch.
const SUM_FAINT: f64 = 0.004;
/// Relative uncertainty of a crowded multiplet's area by its pattern, and of that by summing beside noise.
const CROWDED_PATTERN_U: f64 = 0.04;
const SUM_U: f64 = 0.012;
/// A sum that holds less than this share of the pattern says nothing.
const LEAST_COVERED: f64 = 0.5;
/// A line between such runs that has no more than this share of the member is one of its own: couplings of crowded
/// multiplets are not known well enough to say where each line stands.
const GAP_SHARE: f64 = 0.2;

/// Sticks that cannot be told apart, as one stretch.
pub(super) struct Run {
    pub from: f64,
    pub to: f64,
    pub share: f64,
    sticks: usize,
}

/// The sticks of a member as stretches, by growing position.
pub(super) fn runs(scene: &Scene<'_>, member: &Member) -> Vec<Run> {
    let apart = RUN_WIDTHS * scene.width;
    let mut sticks: Vec<(f64, f64)> =
        member.sticks.iter().map(|s| (member.pose.at + s.offset, s.share)).collect();
    sticks.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut runs: Vec<Run> = Vec::new();
    for (at, share) in sticks {
        match runs.last_mut() {
            Some(run) if at - run.to < apart => {
                run.to = at;
                run.share += share;
                run.sticks += 1;
            }
            _ => runs.push(Run { from: at, to: at, share, sticks: 1 }),
        }
    }
    runs
}

/// Whether most of a member's area lies in runs of lines that cannot be told apart.
pub(super) fn is_dense(scene: &Scene<'_>, member: &Member) -> bool {
    let wide = |r: &Run| r.sticks > 1 && r.to - r.from > 0.3 * scene.width;
    runs(scene, member).iter().filter(|r| wide(r)).map(|r| r.share).sum::<f64>() >= DENSE_SHARE
}

/// A member's area by summing.
pub(super) struct Sum {
    pub area: f64,
    /// Noise of it.
    noise: f64,
    /// Its change when the baseline moves by one noise unit.
    pub by_level: f64,
}

impl Sum {
    /// What it weighs beside the area by the pattern and the noise of that: the pattern errs where the tables' couplings do,
    /// while the sum holds all noise and baseline in its stretch.
    pub(super) fn share(&self, fitted: f64, noise: f64) -> f64 {
        let by_pattern = libm::hypot(CROWDED_PATTERN_U * fitted, noise).powi(-2);
        let uncertain = [self.noise, LEVEL_U * self.by_level, SUM_U * self.area];
        let by_sum = uncertain.iter().map(|u| u * u).sum::<f64>().recip();
        by_sum / (by_pattern + by_sum)
    }
}

/// Area of a member of unresolved structure by summing over its stretch, other lines taken off, with what is uncertain of it;
/// what its pattern has outside the stretch is made up for. Areas of fitted lines would not do: one broad line in place of several
/// has tails that they have not. `None` when its lines are resolved.
pub(super) fn summed(scene: &Scene<'_>, member: &Member, free: &[usize]) -> Option<Sum> {
    if !is_dense(scene, member) {
        return None;
    }
    let (low, high) = extent(&member.sticks, SUM_FAINT);
    let margin = EDGE_HZ.max(EDGE_WIDTHS * scene.width);
    let (from, to) = (member.pose.at + low - margin, member.pose.at + high + margin);
    let range = scene.range(from, to);
    let small = |l: &usize| scene.lines[*l].area < GAP_SHARE * member.area;
    let own = scene
        .lines_within(from, to)
        .filter(|l| !free.contains(l) || small(l))
        .map(|l| &scene.lines[l])
        .filter(|l| l.kind == LineKind::Signal);
    let inside = |l: &SceneLine| range.clone().map(|i| scene.value(l, i as f64 * scene.hz)).sum::<f64>();
    let lines = own.map(inside).sum::<f64>() * scene.hz;
    let left = scene.residual[range.clone()].iter().sum::<f64>() * scene.hz;
    let noise = scene.noise.range_u(range.clone()) * scene.hz;
    let level = scene.sigma[range.start] * range.len() as f64 * scene.hz;
    let pattern = trace(&scene.shape, &member.sticks, member.pose, scene.hz, range.clone());
    let covered = pattern.iter().sum::<f64>() * scene.hz;
    (covered > LEAST_COVERED).then(|| Sum {
        area: (lines + left) / covered,
        noise: noise / covered,
        by_level: level / covered,
    })
}

/// A member's area where lines have feet that the common line has not: by the pattern, and by all that stands there.
pub(super) fn with_feet(scene: &Scene<'_>, member: &Member, free: &[usize], noise: f64) -> f64 {
    if scene.usual.foot <= LEAST_FOOT || is_dense(scene, member) {
        return member.area;
    }
    let (low, high) = extent(&member.sticks, SUM_FAINT);
    let margin = FEET_WIDTHS * scene.width * member.pose.factor.min(WIDEST_FACTOR);
    let (from, to) = (member.pose.at + low - margin, member.pose.at + high + margin);
    let is_foot = |l: &usize| scene.lines[*l].area < GAP_SHARE * member.area;
    let own: Vec<&SceneLine> = scene
        .lines_within(from, to)
        .filter(|l| !free.contains(l) || is_foot(l))
        .map(|l| &scene.lines[l])
        .filter(|l| l.kind == LineKind::Signal)
        .collect();
    let (sum, sum_u) = whole(scene, &own, noise);
    if own.is_empty() || sum < LEAST_COVERED * member.area {
        return member.area;
    }
    let by_pattern = libm::hypot(scene.usual.foot * member.area, noise).powi(-2);
    let by_sum = sum_u.max(f64::MIN_POSITIVE).powi(-2);
    (by_pattern * member.area + by_sum * sum) / (by_pattern + by_sum)
}
