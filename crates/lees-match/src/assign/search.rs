//! The best molecule first, then the next in what is left, until nothing convinces.

use super::context::{Context, Least};
use super::memory::Memory;
use super::probe::{Assessment, GroupFit, take_off};
use super::water::{NEAR, Reach, Wet, hdo, take_water, water};
use crate::fit::scene::Scene;
use crate::fit::template::extent;
use crate::pattern::{Pattern, PatternGroup, Role};

/// Amount over its noise from which a molecule may be named.
pub(crate) const LEAST_SIGNIFICANCE: f64 = 5.0;
/// Log-evidence, prior odds counted, from which a molecule is named. Chosen on simulated samples with decoys.
pub(crate) const LEAST_EVIDENCE: f64 = 1.0;
/// A group must be clear in at least this share of its protons for an amount to rest on it.
const LEAST_CLEAR: f64 = 0.4;
/// Two explanations of the same lines whose log-evidence differs by less than this are rivals (odds of 20).
const RIVAL_MARGIN: f64 = 3.0;
/// ... or by less than this when the other rests on nothing but the same lines (odds of 400).
const SAME_LINES_MARGIN: f64 = 6.0;
/// ... or by less than this when all that speaks for either is crowded multiplets, whose look is known roughly: alkanes.
const CROWDED_MARGIN: f64 = 12.0;
/// What is met as seldom as this (prior log-odds), such as a gas, gives way to anything usual by the second margin.
const UNLIKELY_PRIOR: f64 = -6.0;
/// Crowded multiplets whose centres are closer than this, in hertz, are the same.
const CROWDED_PLACE_HZ: f64 = 15.0;
/// Centres closer than this, in hertz, are the same place.
const SAME_PLACE_HZ: f64 = 6.0;
/// A group that says less than this for its molecule is not there.
const LEAST_GROUP_GAIN: f64 = 1.0;

/// So much more log-evidence than for naming makes a molecule plainly there.
const PLAIN: f64 = 5.0;

/// A line of the NMR solvent stands within this of its place, in ppm, on an axis that it set itself or that the product set.
const RESIDUAL_SLACK: f64 = 0.01;

/// Most sweeps over the table.
const SWEEPS: usize = 3;

/// A molecule that was named.
#[derive(Debug, Clone)]
pub(crate) struct Accepted {
    /// Index of its pattern.
    pub pattern: usize,
    /// How it was found.
    pub found: Assessment,
    /// Patterns that would explain the same lines about as well, with their fit.
    pub rivals: Vec<(usize, Assessment)>,
}

/// Whether an assessment suffices for naming.
pub(crate) fn convinces(found: &Assessment, least: Least) -> bool {
    suffices(found, least) && !is_made_up(found)
}

/// Whether there is enough evidence, resting on lines that nothing else explains.
fn suffices(found: &Assessment, least: Least) -> bool {
    found.evidence >= least.evidence
        && found.significance() >= least.significance
        && found.groups.iter().any(|g| is_clear(g) && g.fresh)
}

/// Whether only the area of one crowded multiplet speaks for a molecule while another group speaks against it, however little:
/// any lines in such a stretch make such an area up.
fn is_made_up(found: &Assessment) -> bool {
    let alone = found.groups.iter().filter(|g| is_clear(g)).count() < 2;
    alone && found.groups.iter().any(|g| g.gain < 0.0) && is_all_crowded(found)
}

/// Whether all that an amount may rest on is crowded multiplets.
pub(crate) fn is_all_crowded(found: &Assessment) -> bool {
    found.groups.iter().filter(|g| is_clear(g)).all(|g| g.by_area)
}

/// Whether an amount may rest on a group.
pub(crate) fn is_clear(group: &GroupFit) -> bool {
    group.clear >= LEAST_CLEAR && group.gain > LEAST_GROUP_GAIN
}

/// Names molecules until none convinces; what is explained is taken off the lines.
///
/// The NMR solvent's own lines come first, unless they cannot be `told` from a product that is not known. A second sweep looks
/// again at what was too crowded in the first.
pub(crate) fn search(
    scene: &mut Scene<'_>,
    patterns: &[Pattern],
    context: &mut Context,
    wet: Option<Wet<'_>>,
    refuted: &[usize],
    memory: &mut Memory,
    told: bool,
) -> Vec<Accepted> {
    scene.restore();
    let residual = |k: &usize| patterns[*k].role == Role::Residual;
    let is_water = |k: &usize| patterns[*k].role == Role::Water;
    let mut named = Vec::new();
    let solvents = (0..patterns.len()).filter(|k| told && residual(k)).collect();
    sweep(scene, patterns, context, solvents, &mut named, memory);
    context.unrecognised = (0..patterns.len())
        .filter(|k| residual(k) && !named.iter().any(|n| n.pattern == *k))
        .flat_map(|k| solvent_places(scene, &patterns[k..=k]))
        .collect();
    context.residual = named.iter().flat_map(|n| multiplet_lines(&patterns[n.pattern], &n.found)).collect();
    let plainer = plainer_than_water(scene, patterns, context, wet, refuted, memory);
    sweep(scene, patterns, context, plainer, &mut named, memory);
    name_water(scene, context, wet, Reach::Near, &mut named);
    for _ in 0..SWEEPS {
        let is_named = |k: usize| {
            let same = |n: &Accepted| n.pattern == k || patterns[k].is_same_compound(&patterns[n.pattern]);
            named.iter().any(same)
        };
        let done = |k: &usize| refuted.contains(k) || is_named(*k);
        let water_known = named.iter().any(|n| is_water(&n.pattern));
        let as_water = |k: &usize| !water_known && wet.is_some_and(|wet| stands_as_water(&patterns[*k], wet));
        let open = (0..patterns.len()).filter(|k| !residual(k) && !is_water(k) && !done(k) && !as_water(k));
        let open: Vec<usize> = open.collect();
        let before = named.len();
        sweep(scene, patterns, context, open, &mut named, memory);
        if named.len() == before {
            break;
        }
    }
    if !named.iter().any(|n| is_water(&n.pattern)) {
        name_water(scene, context, wet, Reach::Far, &mut named);
    }
    named
}

/// The lines of a molecule's multiplets where they were found, in hertz.
fn multiplet_lines(pattern: &Pattern, found: &Assessment) -> Vec<f64> {
    let several = found.groups.iter().filter(|fit| pattern.groups[fit.group].sticks.len() > 1);
    several.flat_map(|fit| pattern.groups[fit.group].sticks.iter().map(|s| fit.at + s.offset)).collect()
}

/// The stretches in which lines of the NMR solvent stand, from and to, in hertz.
pub(crate) fn solvent_places(scene: &Scene<'_>, patterns: &[Pattern]) -> Vec<(f64, f64)> {
    let residual = patterns.iter().filter(|pattern| pattern.role == Role::Residual);
    residual.flat_map(|p| &p.groups).filter(|g| !g.exchangeable).map(|group| place_of(scene, group)).collect()
}

/// The stretch in which a line of the NMR solvent stands.
fn place_of(scene: &Scene<'_>, group: &PatternGroup) -> (f64, f64) {
    let (low, high) = extent(&group.sticks, 0.0);
    let (at, slack) = (scene.position(group.expected), RESIDUAL_SLACK * scene.field() + scene.width);
    (at + low - slack, at + high + slack)
}

/// Whether all that an amount would rest on stands where an unrecognised line of the NMR solvent, or HDO beside water, must be.
fn may_be_the_solvents(found: &Assessment, context: &Context) -> bool {
    let there = |at: f64| is_within(context.unrecognised.iter().chain(&context.hdo), at);
    found.groups.iter().filter(|g| is_clear(g)).all(|g| there(g.at))
}

/// Whether a position lies in one of some stretches, from and to.
pub(crate) fn is_within<'a>(stretches: impl IntoIterator<Item = &'a (f64, f64)>, position: f64) -> bool {
    stretches.into_iter().any(|(from, to)| *from < position && position < *to)
}

/// Whether all of a molecule's lines stand where water's usually does: as long as that has not been found, they are taken for it.
fn stands_as_water(pattern: &Pattern, wet: Wet<'_>) -> bool {
    let near = |at: f64| wet.place.0 - NEAR.0 < at && at < wet.place.0 + NEAR.1;
    pattern.groups.iter().all(|group| near(group.expected.0))
}

/// Molecules with a group where the line stands that would be taken for water, and plainly there by that group and
/// another.
fn plainer_than_water(
    scene: &Scene<'_>,
    patterns: &[Pattern],
    context: &Context,
    wet: Option<Wet<'_>>,
    refuted: &[usize],
    memory: &mut Memory,
) -> Vec<usize> {
    let Some(line) = wet.and_then(|wet| water(scene, context, wet, Reach::Near)) else { return Vec::new() };
    let at = line.found.groups[0].at;
    let there = |g: &GroupFit| (g.at - at).abs() < SAME_PLACE_HZ && g.fresh && is_clear(g);
    let plain = |found: Assessment| {
        found.evidence > context.least.evidence + PLAIN
            && found.groups.iter().any(there)
            && found.groups.iter().filter(|g| is_clear(g) && g.fresh).count() > 1
    };
    (0..patterns.len())
        .filter(|k| {
            patterns[*k].role == Role::Volatile && patterns[*k].groups.len() > 1 && !refuted.contains(k)
        })
        .filter(|k| {
            patterns[*k].groups.iter().any(|g| (scene.position(g.expected) - at).abs() < SAME_PLACE_HZ)
        })
        .filter(|k| memory.assess(scene, patterns, *k, context).is_some_and(plain))
        .collect()
}

/// The scene and its context with the named molecules taken off, but for bystanders that rest on nothing but bands and crowded
/// multiplets: what looks like grease may be an alkane. `None` when there are no such bystanders.
pub(crate) fn without_crowded_bystanders<'a>(
    scene: &Scene<'a>,
    patterns: &[Pattern],
    context: &Context,
    named: &[Accepted],
) -> Option<(Scene<'a>, Context)> {
    let is_one = |n: &&Accepted| {
        let pattern = &patterns[n.pattern];
        let rough = |g: &GroupFit| g.by_area || !pattern.groups[g.group].resolved;
        pattern.role == Role::Bystander && n.found.groups.iter().filter(|g| is_clear(g)).all(rough)
    };
    named.iter().find(is_one)?;
    let (mut scene, mut context) = (scene.clone(), context.clone());
    scene.restore();
    for other in named.iter().filter(|n| !is_one(n)) {
        if patterns[other.pattern].role == Role::Water {
            take_water(&mut scene, &mut context, &other.found);
        } else {
            take_off(&mut scene, &mut context, &patterns[other.pattern], &other.found);
        }
    }
    Some((scene, context))
}

fn name_water(
    scene: &mut Scene<'_>,
    context: &mut Context,
    wet: Option<Wet<'_>>,
    reach: Reach,
    named: &mut Vec<Accepted>,
) {
    if let Some(found) = wet.and_then(|wet| water(scene, context, wet, reach)) {
        take_water(scene, context, &found.found);
        context.hdo = hdo(scene, wet.map(|wet| wet.solvent), found.found.groups[0].at);
        named.push(found);
    }
}

/// Names the best of the open patterns, then the best of the rest.
fn sweep(
    scene: &mut Scene<'_>,
    patterns: &[Pattern],
    context: &mut Context,
    open: Vec<usize>,
    named: &mut Vec<Accepted>,
    memory: &mut Memory,
) {
    let seen = open.into_iter().filter_map(|k| Some((k, memory.assess(scene, patterns, k, context)?)));
    let (mut open, made_up): (Vec<(usize, Assessment)>, Vec<_>) = seen
        .filter(|(_, found)| suffices(found, context.least) && !may_be_the_solvents(found, context))
        .partition(|(_, found)| !is_made_up(found));
    while let Some(best) = next(scene, patterns, &open, context.least) {
        let (pattern, found) = open.swap_remove(best);
        take_off(scene, context, &patterns[pattern], &found);
        if let Some(host) = host(scene, patterns, named, pattern, &found) {
            named[host].rivals.push((pattern, found));
            continue;
        }
        let mut before = std::mem::take(&mut open);
        before.retain(|(other, _)| !patterns[*other].is_same_compound(&patterns[pattern]));
        let mut rivals = Vec::new();
        for (other, old) in before {
            let convinces =
                |new: &Assessment| convinces(new, context.least) && !may_be_the_solvents(new, context);
            match memory.assess(scene, patterns, other, context).filter(convinces) {
                Some(new) => open.push((other, new)),
                None if rivals_with(scene, &old, &found) => rivals.push((other, old)),
                None => {}
            }
        }
        let other_made_up =
            made_up.iter().filter(|(other, _)| !patterns[*other].is_same_compound(&patterns[pattern]));
        rivals.extend(other_made_up.filter(|(_, old)| rivals_with(scene, old, &found)).cloned());
        rivals.sort_by(|a, b| b.1.evidence.total_cmp(&a.1.evidence).then(a.0.cmp(&b.0)));
        named.push(Accepted { pattern, found, rivals });
    }
}

/// The named molecule in whose lines another one would merely share: every group it rests on stands in a multiplet that
/// the named one has already taken. Two alkanes at once cannot be told from one.
fn host(
    scene: &Scene<'_>,
    patterns: &[Pattern],
    named: &[Accepted],
    pattern: usize,
    found: &Assessment,
) -> Option<usize> {
    let stretch = |p: usize, g: &GroupFit| {
        let sticks = &patterns[p].groups[g.group].sticks;
        let margin = if sticks.len() > 1 { SAME_PLACE_HZ } else { 0.5 * scene.width };
        let (low, high) = extent(sticks, 0.0);
        (g.at + low - margin, g.at + high + margin, sticks.len() > 1)
    };
    named.iter().position(|other| {
        let shares = |g: &GroupFit| {
            let own = stretch(pattern, g);
            other.found.groups.iter().filter(|t| is_clear(t)).any(|t| {
                let theirs = stretch(other.pattern, t);
                let common = own.1.min(theirs.1) - own.0.max(theirs.0);
                own.2 == theirs.2 && common > 0.5 * (own.1 - own.0)
            })
        };
        found.groups.iter().filter(|g| is_clear(g)).all(shares)
    })
}

/// Which of the open molecules to name next: the strongest; before one that rests on nothing but the areas of crowded multiplets, which
/// would take other molecules' lines in that stretch for its own, one that is plainly there by lines told apart.
fn next(
    scene: &Scene<'_>,
    patterns: &[Pattern],
    open: &[(usize, Assessment)],
    least: Least,
) -> Option<usize> {
    let all: Vec<usize> = (0..open.len()).collect();
    let best = strongest(open, &all)?;
    let told_apart = |k: &usize| {
        let found = &open[*k].1;
        let clear = found.groups.iter().filter(|g| is_clear(g) && g.fresh && !g.by_area).count();
        found.evidence > least.evidence + PLAIN && clear > 1
    };
    let first = if is_all_crowded(&open[best].1) {
        let plain: Vec<usize> = all.into_iter().filter(told_apart).collect();
        strongest(open, &plain).unwrap_or(best)
    } else {
        best
    };
    Some(likelier(scene, patterns, open, first))
}

/// Of molecules that rest on the same lines and explain them about as well, the one met most often: such small
/// differences are within what the tables' couplings are good for.
fn likelier(scene: &Scene<'_>, patterns: &[Pattern], open: &[(usize, Assessment)], best: usize) -> usize {
    let found = &open[best].1;
    let margin = if patterns[open[best].0].prior < UNLIKELY_PRIOR { SAME_LINES_MARGIN } else { RIVAL_MARGIN };
    (0..open.len())
        .filter(|&k| found.evidence - open[k].1.evidence < margin)
        .filter(|&k| same_lines(scene, &open[k].1, found) && same_lines(scene, found, &open[k].1))
        .fold(best, |a, b| if patterns[open[b].0].prior > patterns[open[a].0].prior { b } else { a })
}

/// Whether another molecule explains the same lines about as well: a close call, or one that rests on nothing else.
fn rivals_with(scene: &Scene<'_>, other: &Assessment, found: &Assessment) -> bool {
    let behind = found.evidence - other.evidence;
    let margin =
        if is_all_crowded(other) && is_all_crowded(found) { CROWDED_MARGIN } else { SAME_LINES_MARGIN };
    (behind < RIVAL_MARGIN && !is_made_up(other)) || (behind < margin && same_lines(scene, other, found))
}

/// Whether a molecule rests on nothing but lines of another.
fn same_lines(scene: &Scene<'_>, other: &Assessment, found: &Assessment) -> bool {
    let near = SAME_PLACE_HZ.max(2.0 * scene.width);
    let reach = |g: &GroupFit, own: &GroupFit| if g.by_area && own.by_area { CROWDED_PLACE_HZ } else { near };
    let taken = |g: &GroupFit| found.groups.iter().any(|own| (own.at - g.at).abs() < reach(g, own));
    other.groups.iter().filter(|g| is_clear(g)).all(taken)
}

/// Greatest evidence; on a tie the first in the table.
fn strongest(open: &[(usize, Assessment)], of: &[usize]) -> Option<usize> {
    of.iter().copied().reduce(|a, b| {
        let (x, y) = (&open[a], &open[b]);
        if (y.1.evidence, x.0) > (x.1.evidence, y.0) { b } else { a }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assign::probe::tests::fit;
    use crate::fit::scene::tests::wet_dye;
    use crate::pattern::tests::{group, pattern};

    #[test]
    fn before_a_crowded_alkane_what_is_told_apart_is_named() {
        let processed = wet_dye();
        let scene = Scene::of(&processed, processed.spectrum.axis);
        let patterns = vec![pattern(vec![group(1.3, 8.0, &[(0.0, 1.0)])]); 2];
        let least = Least { evidence: 1.0, significance: 5.0 };
        let area = |at: f64| GroupFit { by_area: true, ..fit(0, at) };
        let alkane = Assessment {
            amount: 1.0,
            noise: 0.1,
            evidence: 30.0,
            groups: vec![area(1000.0), GroupFit { group: 1, ..area(1200.0) }],
        };
        let of = |evidence: f64, groups: Vec<GroupFit>| Assessment { evidence, groups, ..alkane.clone() };
        let two = || vec![fit(0, 1010.0), fit(1, 3000.0)];
        let first = |other: Assessment| next(&scene, &patterns, &[(0, alkane.clone()), (1, other)], least);
        assert_eq!(first(of(20.0, two())), Some(1));
        assert_eq!(first(of(5.0, two())), Some(0), "not plainly there");
        assert_eq!(first(of(20.0, vec![fit(0, 1010.0)])), Some(0), "by one group alone");
    }

    /// A ketone by three groups, and a singlet met more often at one of them: both explain that line, the ketone the others too.
    #[test]
    fn what_rests_on_one_of_several_lines_is_no_likelier_name_for_all_of_them() {
        let processed = wet_dye();
        let scene = Scene::of(&processed, processed.spectrum.axis);
        let of_prior = |prior: f64| Pattern { prior, ..pattern(vec![group(2.1, 3.0, &[(0.0, 1.0)])]) };
        let patterns = vec![of_prior(-3.2), of_prior(-2.4)];
        let found =
            |evidence: f64, groups: Vec<GroupFit>| Assessment { amount: 1.0, noise: 0.1, evidence, groups };
        let ketone = found(3.3, vec![fit(0, 1000.0), fit(1, 1500.0), fit(2, 2500.0)]);
        let first = |other: Assessment| likelier(&scene, &patterns, &[(0, ketone.clone()), (1, other)], 0);
        assert_eq!(first(found(2.2, vec![fit(0, 1000.0)])), 0);
        assert_eq!(first(found(2.2, ketone.groups.clone())), 1, "the same lines");
    }
}
