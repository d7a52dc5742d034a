//! Groups that show no lines one by one: bands of unknown structure, and multiplets so crowded that only their area counts.

use super::context::Context;
use super::probe::{GroupScan, MISSING_CAP, PATTERN_TOLERANCE, Peak, TAKEN_TOLERANCE, student};
use crate::evidence::Witness;
use crate::fit::scene::{Scene, SceneLine};
use crate::fit::template::{Stick, extent, merge};
use crate::pattern::PatternGroup;
use lees_process::dot;
use lees_process::lineshape::Row;

/// A band of unknown structure may reach this far beyond its tabulated range, in ppm ...
const BAND_MARGIN: f64 = 0.03;
/// ... and lack this share of its area there.
const BAND_TOLERANCE: f64 = 0.2;
/// Lines closer than a run's limit that together stretch over more than this, in hertz, do not form one line.
const RUN_HZ: f64 = 3.0;
/// A multiplet is crowded when such runs hold more than this share of it.
const CROWDED_SHARE: f64 = 0.4;
/// The area of a crowded multiplet is sought this many widths beyond its outermost lines.
const EDGE_WIDTHS: f64 = 2.0;
/// Fainter outer lines, as a share of the whole, do not widen that stretch.
const FAINT: f64 = 0.004;
/// Relative spread of a crowded multiplet's area: lines far out, shifts within a chain.
const CROWDED_TOLERANCE: f64 = 0.12;
/// Sticks nearer than this many widths make one line.
const MERGED_WIDTHS: f64 = 0.4;
/// Nodes at which a blurred multiplet is known, for one place where it is looked for.
const NODES: usize = 2;
/// The matched filter counts each line within this many widths of its middle.
const NEAR_WIDTHS: f64 = 8.0;
/// Lines are blurred over this many hertz before their pattern is compared: couplings are known no better.
const BLUR_HZ: f64 = 2.0;
/// Any two bunches of lines in one stretch are as alike as this.
const CHANCE_LIKENESS: f64 = 0.7;
/// What the right pattern says for a crowded multiplet beside its area (natural logarithm): about three peaks' worth.
const SHAPE_GAIN: f64 = 8.0;
/// Where so many standard uncertainties stand over noise and this share of it is one line, of which the multiplet has less than that,
/// it is another signal: what it costs to say so (natural logarithm).
const CLEAR_SIGMAS: f64 = 8.0;
const ONE_LINE: f64 = 0.85;
const NO_LINE: f64 = 0.65;
const UNLIKE_COVER: f64 = 1.0;
/// Lines narrower than this many common widths are sharp: a wider one may be all of a multiplet.
const SHARP: f64 = 2.0;
/// Lines within this share of a multiplet's width on either side of one place are a bunch.
const BUNCH: f64 = 0.15;
/// Area of one carbon-13 satellite over its parent's, with room for its inner structure and noise.
const SATELLITE_SHARE: f64 = 0.0075;
/// Of a line that the product accounts for, this share may be something else's.
const PRODUCT_FOOT: f64 = 0.02;
/// Places of a crowded multiplet closer than this, in hertz or as a share of its own width, are as good as one another.
const ONE_PLACE_HZ: f64 = 1.5;
const ONE_PLACE: f64 = 0.12;
/// Wider lines than this many common widths are humps of the baseline or exchanging protons.
const WIDEST: f64 = 12.0;

/// The lines of a stretch that are no humps: one line fitted to the whole of a crowded multiplet may be as wide as the stretch
/// itself.
pub(super) fn narrow_lines<'s>(
    scene: &'s Scene<'_>,
    from: f64,
    to: f64,
) -> impl Iterator<Item = &'s SceneLine> {
    let widest = WIDEST.max((to - from) / scene.width);
    scene.signals_within(from, to).filter(move |line| line.factor < widest)
}

/// What stands in a stretch beside the product.
struct Stretch {
    /// Area that is not yet explained.
    left: f64,
    /// Its standard uncertainty, noise and product's share together.
    u: f64,
    /// Area that other molecules have taken.
    taken: f64,
    /// The product's own area.
    product: f64,
}

fn stretch(scene: &Scene<'_>, from: f64, to: f64, context: &Context) -> Option<Stretch> {
    let range = scene.range(from, to);
    if range.is_empty() {
        return None;
    }
    let own = narrow_lines(scene, from, to);
    let (left, taken) = own.fold((0.0, 0.0), |(a, t), l| (a + l.left.max(0.0), t + l.taken));
    let unseen = scene.open[range.clone()].iter().sum::<f64>() * scene.hz;
    let noise = scene.noise.range_u(range) * scene.hz;
    let (product, product_u) = context.product_area(from, to);
    Some(Stretch { left: left + unseen - product, u: libm::hypot(noise, product_u), taken, product })
}

/// What a band of unknown structure says: no more of the molecule than stands there.
pub(super) fn band(scene: &Scene<'_>, group: &PatternGroup, context: &Context) -> Option<Witness> {
    let margin = BAND_MARGIN * scene.field();
    let (low, high) = extent(&group.sticks, 0.0);
    let at = scene.position(group.expected);
    let found = stretch(scene, at + low - margin, at + high + margin, context)?;
    let amount = found.left / group.protons;
    let u = libm::hypot(found.u / group.protons, BAND_TOLERANCE * amount);
    Some(Witness { amount, u, cover: 0.0, missing_cap: MISSING_CAP })
}

/// Whether only a multiplet's area and rough look tell: its peaks run into one another, or stand nobody knows where. Never where
/// each line's place is known exactly.
pub(super) fn is_crowded(group: &PatternGroup, peaks: &[Peak]) -> bool {
    if group.exact {
        return false;
    }
    let all: f64 = peaks.iter().map(|p| p.protons).sum();
    let runs: f64 = peaks.iter().filter(|p| p.to - p.from > RUN_HZ).map(|p| p.protons).sum();
    group.rough || runs > CROWDED_SHARE * all
}

/// The stretch of a crowded multiplet or of a band at a place.
pub(super) fn reach(scene: &Scene<'_>, group: &PatternGroup, at: f64) -> (f64, f64) {
    // the sticks of a band are all alike, and many may each be faint
    let (low, high) = extent(&group.sticks, if group.resolved { FAINT } else { 0.0 });
    (at + low - EDGE_WIDTHS * scene.width, at + high + EDGE_WIDTHS * scene.width)
}

/// A crowded multiplet by its area, at the place where its lines agree best with the spectrum.
pub(super) fn crowded(
    scene: &Scene<'_>,
    group: &PatternGroup,
    context: &Context,
    furthest: f64,
) -> Option<GroupScan> {
    let (at, chance) = place(scene, group, furthest);
    let (from, to) = reach(scene, group, at);
    let found = stretch(scene, from, to, context)?;
    let amount = found.left / group.protons;
    let u2 = (found.u / group.protons).powi(2)
        + (CROWDED_TOLERANCE * amount).powi(2)
        + (TAKEN_TOLERANCE * found.taken / group.protons).powi(2)
        + (satellites(scene, from, to) / group.protons).powi(2);
    let bound = found.product > PATTERN_TOLERANCE * found.left.abs();
    let alike = if bound { 0.0 } else { likeness(scene, group, at, (from, to)) };
    let shape = SHAPE_GAIN * ((alike - CHANCE_LIKENESS) / (1.0 - CHANCE_LIKENESS)).max(0.0);
    let clear = amount > CLEAR_SIGMAS * found.u / group.protons;
    let own: Vec<&SceneLine> = narrow_lines(scene, from, to).collect();
    let cover = match !bound && !group.rough && clear && are_bunched(&own, group) {
        true => UNLIKE_COVER,
        false => context.cover_within(scene, from, to, amount * group.protons) + shape,
    };
    let witness = Witness { amount, u: u2.sqrt(), cover, missing_cap: MISSING_CAP };
    let all = found.left.max(0.0) + found.taken;
    let range = scene.range(from, to);
    let middle = range.start + range.len() / 2;
    Some(GroupScan {
        fresh: vec![if all > 0.0 { found.left.max(0.0) / all } else { 1.0 }],
        bound,
        noise: Some(scene.sigma[middle] * crowd(scene, group).noise),
        ..GroupScan::single(at, witness, libm::log(chance))
    })
}

/// A crowded multiplet as a whole.
#[derive(Debug, Clone)]
pub(crate) struct Crowd {
    /// Its first and last stick that is not faint, from its centre, those merged that the common line does not tell apart.
    ends: (f64, f64),
    /// Noise of its amount by its own shape (a matched filter), per unit point noise: what limits seeing it at all.
    noise: f64,
    blurred: Blurred,
}

/// The multiplet as a whole; made once, since a pattern is only ever compared with one spectrum.
fn crowd<'g>(scene: &Scene<'_>, group: &'g PatternGroup) -> &'g Crowd {
    group.crowd.get_or_init(|| {
        let sticks = merge(&group.sticks, MERGED_WIDTHS * scene.width);
        let (low, high) = extent(&sticks, 0.0);
        let margin = EDGE_WIDTHS * scene.width;
        let step = scene.stride as f64 * scene.hz;
        let points = ((high - low + 2.0 * margin) / step).ceil() as usize + 1;
        let mut shape = vec![0.0; points];
        for stick in &sticks {
            let at = (margin - low + stick.offset) / step;
            let reach = NEAR_WIDTHS * scene.width / step;
            let (first, end) = ((at - reach).max(0.0) as usize, ((at + reach) as usize + 1).min(points));
            let row = Row::about(at * step, first as f64 * step, step);
            scene.shape.add_row(row, 1.0, stick.share, &mut shape[first.min(end)..end]);
        }
        let power = dot(&shape, &shape).max(f64::MIN_POSITIVE) * scene.stride as f64;
        Crowd {
            ends: extent(&sticks, FAINT),
            noise: scene.strides_sd(&shape) / power / group.protons,
            blurred: Blurred::of(
                &sticks,
                reach(scene, group, 0.0),
                step_of(scene) / NODES as f64,
                scene.width,
            ),
        }
    })
}

/// Where the multiplet's lines agree best with what is unexplained, and the chance that it stands there or so near that it
/// would not be told apart.
fn place(scene: &Scene<'_>, group: &PatternGroup, furthest: f64) -> (f64, f64) {
    let expected = scene.position(group.expected);
    let step = step_of(scene);
    let count = (furthest / step).ceil() as i64;
    let spread = (group.spread.0 * scene.field()).max(scene.width);
    let Crowd { ends: (low, high), blurred, .. } = crowd(scene, group);
    let areas = nodes(scene, expected - count as f64 * step, blurred, 2 * count as usize + 1);
    let score = |k: i64| {
        let off = k as f64 * step;
        let overlap = dot(&blurred.values, &areas[NODES * (k + count) as usize..]);
        overlap / (1.0 + (off / spread).powi(2) / 4.0)
    };
    let best = (-count..=count)
        .map(|k| (k, score(k)))
        .fold((0, 0.0), |best, next| if next.1 > best.1 { next } else { best });
    let at = expected + best.0 as f64 * step;
    let weight = |k: i64| student(k as f64 * step / spread);
    let near = (ONE_PLACE_HZ.max(ONE_PLACE * (high - low)).max(scene.width) / step).round() as i64;
    let there: f64 = (best.0 - near..=best.0 + near).map(weight).sum();
    let all: f64 = (-count - near..=count + near).map(weight).sum();
    (at, there / all)
}

/// Hertz from one place of a crowded multiplet to the next.
fn step_of(scene: &Scene<'_>) -> f64 {
    (0.5 * scene.width).max(scene.hz)
}

/// What is unexplained as areas at nodes, of which the first is the blurred multiplet's first when its centre stands at `at`, and
/// the last its last when it stands the last of so many places further; each point and line is shared out between two nodes.
fn nodes(scene: &Scene<'_>, at: f64, blurred: &Blurred, places: usize) -> Vec<f64> {
    let first = at + blurred.first;
    let mut nodes = vec![0.0; blurred.values.len() + NODES * places];
    let last = first + (nodes.len() - 1) as f64 * blurred.step;
    let per_step = blurred.step.recip();
    let mut add = |position: f64, area: f64| {
        let x = (position - first) * per_step;
        let node = x as usize;
        if let Some([left, right]) = nodes.get_mut(node..node + 2) {
            let part = area * (x - node as f64);
            *left += area - part;
            *right += part;
        }
    };
    scene.signals_within(first, last).for_each(|line| add(line.at, line.left.max(0.0)));
    scene.range(first, last).for_each(|i| add(i as f64 * scene.hz, scene.hz * scene.open[i]));
    nodes
}

/// Area in a stretch that may be carbon-13 satellites of stronger lines.
fn satellites(scene: &Scene<'_>, from: f64, to: f64) -> f64 {
    let possible = |line: &SceneLine| SATELLITE_SHARE * scene.satellite_parents(line.at);
    scene.signals_within(from, to).map(|line| line.left.max(0.0).min(possible(line))).sum()
}

/// A multiplet blurred by two common widths, at nodes from its outer lines' edge to edge; linear between them.
#[derive(Debug, Clone)]
struct Blurred {
    /// The first node, from the multiplet's centre.
    first: f64,
    step: f64,
    values: Vec<f64>,
}

impl Blurred {
    /// The nodes within a reach from the multiplet's centre.
    fn of(sticks: &[Stick], (from, to): (f64, f64), step: f64, width: f64) -> Self {
        let first = (from / step).ceil() * step;
        let mut values = vec![0.0; ((to - first) / step + 1.0).max(0.0) as usize];
        let per_width = width.recip();
        for stick in sticks {
            let (from, step) = ((first - stick.offset) * per_width, step * per_width);
            for (k, value) in values.iter_mut().enumerate() {
                let x = from + k as f64 * step;
                *value += stick.share / (1.0 + x * x);
            }
        }
        Self { first, step, values }
    }
}

/// How like the multiplet's lines are to those of the spectrum, both blurred: 1 for the same, 0 for
/// nothing in common (the cosine between them).
fn likeness(scene: &Scene<'_>, group: &PatternGroup, at: f64, (from, to): (f64, f64)) -> f64 {
    let bins = ((to - from) / BLUR_HZ).ceil() as usize + 2;
    let blur = |lines: &mut dyn Iterator<Item = (f64, f64)>| -> Vec<f64> {
        let mut out = vec![0.0; bins];
        for (position, area) in lines {
            let x = (position - from) / BLUR_HZ;
            for (k, value) in out.iter_mut().enumerate() {
                *value += area * (1.0 - (k as f64 - x).abs() / 2.0).max(0.0);
            }
        }
        out
    };
    let expected = blur(&mut group.sticks.iter().map(|s| (at + s.offset, s.share)));
    let own = narrow_lines(scene, from, to);
    let found = blur(&mut own.map(|l| (l.at, l.left.max(0.0))));
    dot(&expected, &found) / (dot(&expected, &expected) * dot(&found, &found)).sqrt().max(f64::MIN_POSITIVE)
}

/// Whether sharp lines stand closer together than those of a multiplet.
pub(super) fn are_bunched(lines: &[&SceneLine], group: &PatternGroup) -> bool {
    let (low, high) = extent(&group.sticks, FAINT);
    let reach = BLUR_HZ.max(BUNCH * (high - low));
    let own: Vec<(f64, f64, bool)> =
        lines.iter().map(|l| (l.at, l.left.max(0.0), l.factor < SHARP)).collect();
    let sticks: Vec<(f64, f64, bool)> = group.sticks.iter().map(|s| (s.offset, s.share, true)).collect();
    concentration(&own, reach) > ONE_LINE && concentration(&sticks, reach) < NO_LINE
}

/// The largest share of an area that stands in sharp lines within a reach of one place, in hertz; lines by place, area and whether
/// they are sharp.
fn concentration(lines: &[(f64, f64, bool)], reach: f64) -> f64 {
    let all: f64 = lines.iter().map(|l| l.1).sum();
    let near = |l: &&(f64, f64, bool), at: f64| l.2 && (l.0 - at).abs() < reach;
    let about = |at: f64| lines.iter().filter(|l| near(l, at)).map(|l| l.1).sum::<f64>();
    lines.iter().map(|l| about(l.0)).fold(0.0, f64::max) / all.max(f64::MIN_POSITIVE)
}

/// Takes an area off the lines of a stretch, in proportion to what is left of each beside the product.
pub(super) fn take(scene: &mut Scene<'_>, context: &Context, from: f64, to: f64, area: f64) {
    let lines = scene.lines_within(from, to);
    let free: Vec<f64> = scene.lines[lines.clone()]
        .iter()
        .map(|l| (l.left - context.stick_area(scene, l.at)).max(PRODUCT_FOOT * l.left).max(0.0))
        .collect();
    let there: f64 = free.iter().sum();
    if there <= 0.0 {
        return;
    }
    for (line, free) in scene.lines[lines].iter_mut().zip(free) {
        let part = (area / there * free).min(line.left.max(0.0));
        line.left -= part;
        line.taken += part;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assign::probe::peaks;
    use crate::fit::scene::tests::{line, wet_dye};
    use crate::pattern::tests::group;
    use lees_core::Ppm;

    #[test]
    fn of_two_places_that_fit_about_as_well_the_nearer_is_taken() {
        let processed = wet_dye();
        let mut scene = Scene::of(&processed, processed.spectrum.axis);
        let singlet = PatternGroup { spread: Ppm(0.05), ..group(2.0, 3.0, &[(0.0, 1.0)]) };
        let (expected, spread) = (scene.position(singlet.expected), 0.05 * scene.field());
        scene.open.fill(0.0);
        for side in [-1.0, 1.0] {
            let near = expected + side * spread;
            scene.lines = vec![line(near, 100.0), line(expected + 2.1 * side * spread, 120.0)];
            scene.lines.sort_by(|a, b| a.at.total_cmp(&b.at));
            let (at, _) = place(&scene, &singlet, 3.0 * spread);
            assert!((at - near).abs() < scene.width.max(scene.hz), "{at}, not {near}");
        }
    }

    #[test]
    fn lines_that_run_into_one_another_are_a_crowd_unless_each_is_known_exactly() {
        let processed = wet_dye();
        let scene = Scene::of(&processed, processed.spectrum.axis);
        let sticks: Vec<(f64, f64)> = (-4..=4).map(|k| (f64::from(k), 1.0 / 9.0)).collect();
        let exact = group(2.0, 3.0, &sticks);
        assert!(!is_crowded(&exact, peaks(&scene, &exact)));
        let tabulated = PatternGroup { exact: false, ..group(2.0, 3.0, &sticks) };
        assert!(is_crowded(&tabulated, peaks(&scene, &tabulated)));
    }
}
