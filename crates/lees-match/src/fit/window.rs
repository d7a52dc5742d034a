//! Joint least squares of patterns, neighbouring lines and a local baseline in one window.

use lees_core::LineKind;

use super::scene::{Scene, SceneLine};
use super::solve::{Normal, Solution};
use super::sum::{is_dense, runs, summed, with_feet};
use super::template::{Drawn, Pose, Stick, draw, extent, trace};

/// A window reaches this many common widths beyond the outermost stick.
const MARGIN_WIDTHS: f64 = 8.0;
/// A line wider than this many common widths, such as water in exchange, is fitted to its middle only: all of it would draw in
/// half the spectrum.
pub(super) const WIDEST_FACTOR: f64 = 12.0;
/// Windows that come closer than this many widths are fitted together.
const JOIN_WIDTHS: f64 = 4.0;
/// A fitted line within this many widths of a stick is that stick.
const CLAIM_WIDTHS: f64 = 0.9;
/// A line this many times larger than the stick it lies on is not that stick.
const FOREIGN_FACTOR: f64 = 2.5;
/// Standard uncertainty from a satellite that may or may not be there, over its parent's area: 0.54 % (one of the pair),
/// taken as a rectangular law.
const SATELLITE_U: f64 = 0.0054 * 0.58;
/// Fainter sticks do not matter for satellites.
const FAINT_STICK: f64 = 0.05;
/// Most lines of no member that are fitted in a window: no spectrum has more, but a file with a wrong axis may.
const MOST_FREE: usize = 150;
/// Gauss-Newton steps: poses start within a line width, so that few are needed.
const STEPS: usize = 6;
/// Smaller changes than this, in widths or of a factor, end the steps.
const SETTLED: f64 = 1e-4;
/// A member of unresolved structure is tried this many widths to either side, in such steps, before its fit.
const START_WIDTHS: f64 = 5.0;
const START_STEP: f64 = 0.5;
/// Spread of a group's stretch about 1: couplings in tables are rounded to a tenth or two of a hertz.
const STRETCH_SD: f64 = 0.03;
/// Spread of a sharp line's width factor about 1.
const FACTOR_SD: f64 = 0.15;
/// Share of a line's height that the common line may miss at any of its points.
const MISFIT: f64 = 0.015;
/// Uncertainty of the baseline under a group, in noise of one point, after whole and local baseline.
pub(crate) const LEVEL_U: f64 = 0.1;
/// Spread of the local baseline, in noise of one point, over what the whole baseline left.
const LEVEL_SD: f64 = 0.5;

/// A group of a molecule to be fitted.
#[derive(Debug, Clone)]
pub(crate) struct Member {
    /// Its lines.
    pub sticks: Vec<Stick>,
    /// Where it starts and, after the fit, stands.
    pub pose: Pose,
    /// Its area: the guess before, the result after the fit.
    pub area: f64,
}

/// What a window's fit gave.
pub(crate) struct WindowFit {
    /// Indices of the members fitted here, in the caller's list.
    pub members: Vec<usize>,
    /// Covariance of their areas, noise and overlap, colour counted.
    pub covariance: nalgebra::DMatrix<f64>,
    /// Change of each area when the baseline moves by one noise unit.
    pub by_level: Vec<f64>,
    /// Change of each area when the phase moves by one radian.
    pub by_phase: Vec<f64>,
    /// Sum of what the fit left within the window, in area units, and its noise.
    pub left_over: (f64, f64),
    /// Uncertainty of each area from carbon-13 satellites of stronger lines that may stand among its own.
    pub satellites: Vec<f64>,
    /// Whether each member's lines run into one another, so that its shape is only roughly known.
    pub dense: Vec<bool>,
    /// Whether other lines stand in the window.
    pub crowded: bool,
}

/// Fits all members, window by window; poses and areas are updated in place.
pub(crate) fn fit(scene: &Scene<'_>, members: &mut [Member]) -> Vec<WindowFit> {
    windows(scene, members).into_iter().filter_map(|group| fit_one(scene, members, group)).collect()
}

/// The stretch a member needs.
fn reach(scene: &Scene<'_>, member: &Member) -> (f64, f64) {
    let margin = MARGIN_WIDTHS * scene.width * member.pose.factor.min(WIDEST_FACTOR);
    let (low, high) = extent(&member.sticks, 0.0);
    (member.pose.at + low - margin, member.pose.at + high + margin)
}

/// Members grouped by overlapping stretches, by growing position.
fn windows(scene: &Scene<'_>, members: &[Member]) -> Vec<Vec<usize>> {
    let mut order: Vec<usize> = (0..members.len()).collect();
    order.sort_by(|&a, &b| reach(scene, &members[a]).0.total_cmp(&reach(scene, &members[b]).0));
    let mut groups: Vec<(f64, Vec<usize>)> = Vec::new();
    for k in order {
        let (from, to) = reach(scene, &members[k]);
        match groups.last_mut() {
            Some((end, group)) if from < *end - (2.0 * MARGIN_WIDTHS - JOIN_WIDTHS) * scene.width => {
                group.push(k);
                *end = end.max(to);
            }
            _ => groups.push((to, vec![k])),
        }
    }
    groups.into_iter().map(|(_, group)| group).collect()
}

fn fit_one(scene: &Scene<'_>, members: &mut [Member], group: Vec<usize>) -> Option<WindowFit> {
    let from = group.iter().map(|&k| reach(scene, &members[k]).0).fold(f64::INFINITY, f64::min);
    let to = group.iter().map(|&k| reach(scene, &members[k]).1).fold(f64::NEG_INFINITY, f64::max);
    let range = scene.range(from, to);
    if range.len() < 8 {
        return None;
    }
    let mut free = free_lines(scene, members, &group, from, to);
    let held = hold_weakest(scene, &mut free);
    let data = foreground(scene, from, to, range.clone(), &held);
    let sigma = scene.sigma[range.start + range.len() / 2].max(f64::MIN_POSITIVE);
    let weights = weights(scene, &free, range.clone(), sigma);
    let fixed = fixed_columns(scene, &free, range.clone());
    if let [only] = group[..]
        && is_dense(scene, &members[only])
    {
        members[only].pose.at += best_start(scene, &members[only], &fixed, &data, &weights, range.clone());
    }
    let starts: Vec<Pose> = group.iter().map(|&k| members[k].pose).collect();
    let mut solved = None;
    for _ in 0..STEPS {
        let design = Design::new(scene, members, &group, &fixed, range.clone(), &starts);
        let solution = design.solve(&data, sigma, &weights)?;
        let moved = design.update(scene, members, &group, &solution, &starts);
        solved = Some((design, solution));
        if moved < SETTLED {
            break;
        }
    }
    let (design, solution) = solved?;
    let mut by_level = None;
    if let [only] = group[..] {
        let noise = (solution.covariance[(0, 0)] * scene.colour).max(0.0).sqrt();
        if let Some(sum) = summed(scene, &members[only], &free) {
            let share = sum.share(members[only].area, noise);
            members[only].area += share * (sum.area - members[only].area);
            by_level = Some(share * sum.by_level);
        } else {
            members[only].area = with_feet(scene, &members[only], &free, noise);
        }
    }
    let data = Data { points: &data, weights: &weights, range, sigma };
    let mut report = report(scene, members, group, &design, &solution, &data, !free.is_empty());
    if let (Some(by_level), [fitted]) = (by_level, &mut report.by_level[..]) {
        *fitted = by_level;
    }
    Some(report)
}

/// How far a member of unresolved structure should be moved before its fit, in hertz: where its pattern explains most of the
/// data. Small steps from a place that was found by few of its lines may not lead there.
fn best_start(
    scene: &Scene<'_>,
    member: &Member,
    fixed: &[Vec<f64>],
    data: &[f64],
    weights: &[f64],
    range: std::ops::Range<usize>,
) -> f64 {
    let most = (START_WIDTHS * scene.width / scene.hz).round() as usize;
    let step = (START_STEP * scene.width / scene.hz).round().max(1.0) as usize;
    let at = member.pose.at + most as f64 * scene.hz;
    let drawn = trace(
        &scene.shape,
        &member.sticks,
        Pose { at, ..member.pose },
        scene.hz,
        range.start..range.end + 2 * most,
    );
    let explained = |shift: usize| -> f64 {
        let mut columns = vec![drawn[shift..shift + range.len()].to_vec()];
        columns.extend_from_slice(fixed);
        let normal = Normal::new(&columns, data, weights);
        normal.solve().map_or(0.0, |solution| solution.value.dot(&normal.moment))
    };
    let shifts = (0..=2 * most).step_by(step);
    let best = shifts.map(|shift| (shift, explained(shift))).reduce(|a, b| if b.1 > a.1 { b } else { a });
    best.map_or(0.0, |(shift, _)| (most as f64 - shift as f64) * scene.hz)
}

/// Inverse variances of the points: noise, and what the common line misses of stronger lines that stand there.
fn weights(scene: &Scene<'_>, free: &[usize], range: std::ops::Range<usize>, sigma: f64) -> Vec<f64> {
    let mut heights = vec![0.0; range.len()];
    for line in free.iter().map(|&l| &scene.lines[l]) {
        scene.add_line(line, range.start, &mut heights);
    }
    heights.into_iter().map(|height| (sigma * sigma + (MISFIT * height).powi(2)).recip()).collect()
}

/// What a window is fitted to.
struct Data<'a> {
    points: &'a [f64],
    weights: &'a [f64],
    range: std::ops::Range<usize>,
    sigma: f64,
}

/// Lines in the window that no member's stick accounts for.
fn free_lines(scene: &Scene<'_>, members: &[Member], group: &[usize], from: f64, to: f64) -> Vec<usize> {
    let is_free = |l: &usize| {
        let line = &scene.lines[*l];
        let claimed: f64 = group.iter().map(|&k| claim(scene, &members[k], line)).sum();
        !(claimed > 0.0 && line.area < FOREIGN_FACTOR * claimed) && line.kind != LineKind::Spike
    };
    scene.lines_within(from, to).filter(is_free).collect()
}

/// Takes the weakest lines beyond [`MOST_FREE`] out of a list and gives them: they stay as they were fitted.
fn hold_weakest(scene: &Scene<'_>, free: &mut Vec<usize>) -> Vec<usize> {
    free.sort_by(|a, b| scene.lines[*b].area.total_cmp(&scene.lines[*a].area));
    let held = free.split_off(free.len().min(MOST_FREE));
    free.sort_unstable();
    held
}

/// Area that a member can account for in a line: all sticks of the unresolved runs that the line stands in. A wide line may have
/// been fitted to several.
fn claim(scene: &Scene<'_>, member: &Member, line: &SceneLine) -> f64 {
    let margin = CLAIM_WIDTHS * scene.width * line.factor.clamp(1.0, WIDEST_FACTOR);
    runs(scene, member)
        .into_iter()
        .filter(|run| run.from - margin < line.at && line.at < run.to + margin)
        .map(|run| run.share * member.area)
        .sum()
}

/// What a stronger line's satellites may add to a member's area, as a standard uncertainty.
fn satellites(scene: &Scene<'_>, member: &Member) -> f64 {
    let parents = |s: &Stick| scene.satellite_parents(member.pose.at + s.offset);
    let strongest = member.sticks.iter().filter(|s| s.share > FAINT_STICK).map(parents).fold(0.0, f64::max);
    SATELLITE_U * strongest
}

/// The data of the window without the tails of lines that stand outside it, and without lines that are held.
fn foreground(
    scene: &Scene<'_>,
    from: f64,
    to: f64,
    range: std::ops::Range<usize>,
    held: &[usize],
) -> Vec<f64> {
    let inside = scene.lines_within(from, to);
    let mut data: Vec<f64> = scene.residual[range.clone()].to_vec();
    for l in inside.filter(|l| !held.contains(l)) {
        scene.add_line(&scene.lines[l], range.start, &mut data);
    }
    data
}

/// The columns that no step changes: free lines and level.
fn fixed_columns(scene: &Scene<'_>, free: &[usize], range: std::ops::Range<usize>) -> Vec<Vec<f64>> {
    let column = |l: &usize| {
        let line = &scene.lines[*l];
        let pose = Pose { at: line.at, stretch: 1.0, factor: line.factor };
        trace(scene.shape_of(line), &[Stick { offset: 0.0, share: 1.0 }], pose, scene.hz, range.clone())
    };
    free.iter().map(column).chain(std::iter::once(vec![1.0; range.len()])).collect()
}

/// Columns of the linear problem: members, free lines, level, then the members' derivatives.
struct Design {
    columns: Vec<Vec<f64>>,
    members: usize,
    free: usize,
    /// Mean and spread of each derivative's coefficient.
    priors: Vec<(f64, f64)>,
}

impl Design {
    fn new(
        scene: &Scene<'_>,
        members: &[Member],
        group: &[usize],
        fixed: &[Vec<f64>],
        range: std::ops::Range<usize>,
        starts: &[Pose],
    ) -> Self {
        let drawn: Vec<Drawn> = group
            .iter()
            .map(|&k| draw(&scene.shape, &members[k].sticks, members[k].pose, scene.hz, range.clone()))
            .collect();
        let mut columns: Vec<Vec<f64>> = drawn.iter().map(|d| d.value.clone()).collect();
        columns.extend_from_slice(fixed);
        let mut priors = Vec::new();
        for (d, (&k, start)) in drawn.iter().zip(group.iter().zip(starts)) {
            let (area, pose) = (members[k].area, members[k].pose);
            let scaled = |v: &Vec<f64>| v.iter().map(|x| x * area).collect::<Vec<f64>>();
            columns.push(scaled(&d.by_at));
            columns.push(scaled(&d.by_stretch));
            columns.push(scaled(&d.by_factor));
            priors.push((start.at - pose.at, scene.width));
            priors.push((1.0 - pose.stretch, STRETCH_SD));
            priors.push((start.factor - pose.factor, FACTOR_SD * start.factor));
        }
        Self { columns, members: group.len(), free: fixed.len() - 1, priors }
    }

    fn level(&self) -> usize {
        self.members + self.free
    }

    fn solve(&self, data: &[f64], sigma: f64, weights: &[f64]) -> Option<Solution> {
        self.normal(data, sigma, weights).solve()
    }

    fn normal(&self, data: &[f64], sigma: f64, weights: &[f64]) -> Normal {
        let mut normal = Normal::new(&self.columns, data, weights);
        normal.prior(self.level(), 0.0, LEVEL_SD * sigma);
        for (k, (mean, sd)) in self.priors.iter().enumerate() {
            normal.prior(self.level() + 1 + k, *mean, *sd);
        }
        normal
    }

    /// Moves the members by the fitted derivatives, at most half a width a step. Gives the largest change of a place in
    /// widths, of a stretch or of a width factor.
    fn update(
        &self,
        scene: &Scene<'_>,
        members: &mut [Member],
        group: &[usize],
        solution: &Solution,
        starts: &[Pose],
    ) -> f64 {
        let first = self.level() + 1;
        let mut most = 0.0f64;
        for (slot, &k) in group.iter().enumerate() {
            let member = &mut members[k];
            let before = member.pose;
            member.area = solution.value[slot];
            let step = |d: usize| solution.value[first + 3 * slot + d];
            let limit = 0.5 * scene.width;
            let at = member.pose.at + step(0).clamp(-limit, limit);
            member.pose.at =
                at.clamp(starts[slot].at - 2.0 * scene.width, starts[slot].at + 2.0 * scene.width);
            member.pose.stretch = (member.pose.stretch + step(1).clamp(-0.03, 0.03)).clamp(0.85, 1.15);
            member.pose.factor = (member.pose.factor + step(2).clamp(-0.3, 0.3)).clamp(0.6, 30.0);
            let now = member.pose;
            let moved = ((now.at - before.at) / scene.width).abs();
            most = most.max(moved).max((now.stretch - before.stretch).abs());
            most = most.max((now.factor - before.factor).abs());
        }
        most
    }
}

/// Variance of what a fit leaves over that of noise, at least 1 (the square of the Birge ratio).
fn misfit(left: &[f64], weights: &[f64], unknowns: usize) -> f64 {
    let chi2: f64 = left.iter().zip(weights).map(|(r, w)| r * r * w).sum();
    (chi2 / left.len().saturating_sub(unknowns).max(1) as f64).max(1.0)
}

fn report(
    scene: &Scene<'_>,
    members: &[Member],
    group: Vec<usize>,
    design: &Design,
    solution: &Solution,
    data: &Data<'_>,
    crowded: bool,
) -> WindowFit {
    let (m, sigma, range) = (group.len(), data.sigma, data.range.clone());
    let fitted = |k: usize| -> f64 {
        design.columns.iter().zip(solution.value.iter()).map(|(column, v)| column[k] * v).sum()
    };
    let left: Vec<f64> = data.points.iter().enumerate().map(|(k, y)| y - fitted(k)).collect();
    let linear = |change: &[f64]| -> Vec<f64> {
        let moment = design.normal(change, sigma, data.weights).moment;
        let free_of_priors = &solution.covariance * moment;
        free_of_priors.iter().take(m).copied().collect()
    };
    let by_level = linear(&vec![sigma; range.len()]);
    let by_phase = scene.quadrature.map_or_else(|| vec![0.0; m], |q| linear(&q[range.clone()]));
    let misfit = misfit(&left, data.weights, design.columns.len());
    WindowFit {
        covariance: solution.covariance.view((0, 0), (m, m)) * scene.colour * misfit,
        satellites: group.iter().map(|&k| satellites(scene, &members[k])).collect(),
        dense: group.iter().map(|&k| is_dense(scene, &members[k])).collect(),
        members: group,
        by_level,
        by_phase,
        left_over: (
            left.iter().sum::<f64>() * scene.hz,
            sigma * scene.hz * (range.len() as f64 * scene.colour).sqrt(),
        ),
        crowded,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::scene::tests::wet_dye;

    #[test]
    fn each_member_takes_the_steps_that_were_solved_for_it() {
        let processed = wet_dye();
        let scene = Scene::of(&processed, processed.spectrum.axis);
        let pose = |at: f64| Pose { at, stretch: 1.0, factor: 1.0 };
        let starts = [pose(500.0), pose(510.0)];
        let member = |pose: Pose| Member { sticks: vec![Stick { offset: 0.0, share: 1.0 }], pose, area: 1.0 };
        let mut members = starts.map(member);
        let design = Design { columns: Vec::new(), members: 2, free: 1, priors: Vec::new() };
        // areas, the free line, the level, and of each member the steps of place, stretch and width
        let off = 0.1 * scene.width;
        let value = vec![7.0, 8.0, 9.0, 0.5, off, 0.01, 0.2, -2.0 * off, -0.02, -0.1];
        let covariance = nalgebra::DMatrix::zeros(value.len(), value.len());
        let solution = Solution { value: value.into(), covariance };
        let most = design.update(&scene, &mut members, &[0, 1], &solution, &starts);
        assert_eq!(members.each_ref().map(|m| m.area), [7.0, 8.0]);
        assert_eq!(members[0].pose, Pose { at: 500.0 + off, stretch: 1.01, factor: 1.2 });
        assert_eq!(members[1].pose, Pose { at: 510.0 - 2.0 * off, stretch: 0.98, factor: 0.9 });
        assert!((most - 0.2).abs() < 1e-9, "a fifth of a width, by place and by width: {most}");
    }

    /// Squares of 4, 1, 0 and 1 times noise: 6 over the two points that two unknowns leave.
    #[test]
    fn what_a_fit_leaves_beyond_noise_is_a_misfit_and_less_than_noise_is_none() {
        assert!((misfit(&[4.0, -1.0, 0.0, 1.0], &[0.25, 1.0, 1.0, 1.0], 2) - 3.0).abs() < 1e-12);
        assert_eq!(misfit(&[0.1, -0.1, 0.0], &[1.0; 3], 1), 1.0);
    }
}
