//! Fitting all named molecules together, and the amount of each.

use super::context::{Context, Occupied};
use super::molecule::{Amounts, Others, Owner, amounts};
use super::probe::{GroupFit, on_place};
use super::search::{Accepted, is_clear};
use crate::evidence::{Witness, best};
use crate::fit::scene::{Scene, SceneLine};
use crate::fit::template::{Pose, SAME_STICK, Stick, extent, merge};
use crate::fit::window::{Member, WindowFit, fit};
use crate::pattern::Pattern;

/// A fitted group: which molecule, which of its groups, where and how large.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Slot {
    /// Index into the named molecules.
    pub named: usize,
    /// Index of the group in the pattern.
    pub group: usize,
}

/// The outcome of the joint fit.
#[derive(Default)]
pub(crate) struct Quantified {
    /// One entry per fitted group.
    pub slots: Vec<Slot>,
    /// The fitted groups, in the order of `slots`.
    pub members: Vec<Member>,
    /// The windows.
    pub fits: Vec<WindowFit>,
    /// Amount of each named molecule.
    pub amounts: Amounts,
}

impl Quantified {
    /// What each fitted group of a molecule says of its amount.
    fn witnesses(&self, patterns: &[Pattern], accepted: &Accepted, named: usize) -> Vec<(usize, Witness)> {
        let pattern = &patterns[accepted.pattern];
        let mut out = Vec::new();
        for fit in &self.fits {
            for (i, &k) in fit.members.iter().enumerate().filter(|(_, k)| self.slots[**k].named == named) {
                let group = self.slots[k].group;
                let protons = pattern.groups[group].protons;
                let amount = self.members[k].area / protons;
                let noise = fit.covariance[(i, i)].max(0.0).sqrt() / protons;
                let agreement = if fit.crowded { CROWDED_AGREEMENT } else { AGREEMENT };
                let u = libm::hypot(noise, agreement * amount);
                out.push((group, Witness { amount, u, cover: COVER, missing_cap: MISSING_CAP }));
            }
        }
        out
    }

    /// The fitted group of a molecule, if it was fitted.
    pub(crate) fn member(&self, named: usize, group: usize) -> Option<&Member> {
        let at = self.slots.iter().position(|s| s.named == named && s.group == group)?;
        self.members.get(at)
    }
}

/// A molecule whose fitted amount is less than this many times its noise is not there after all.
const LEAST_FITTED: f64 = 3.5;
/// A molecule of lower prior log-odds must stand that clear of all that is uncertain about it, not of noise alone.
const RARE_PRIOR: f64 = -3.0;
/// Fitted groups of one molecule may disagree by this share: roofs, saturation, neighbours.
const AGREEMENT: f64 = 0.06;
/// What it costs to say that something else lies under a fitted group.
const COVER: f64 = 4.0;
/// The most that a group without signal can weigh against a molecule here; the search has weighed it before.
const MISSING_CAP: f64 = 4.0;
/// A group that says less than the others by this many uncertainties was fitted at a wrong place.
const TOO_LITTLE: f64 = 4.0;
/// In a window with other lines, groups agree less well.
const CROWDED_AGREEMENT: f64 = 0.12;
/// What the fitted groups must say for a molecule, in natural log-likelihood (chosen on simulated samples).
const LEAST_GAIN: f64 = 2.0;
/// Members that fall short of the room beside the product by so many standard uncertainties are not all that is there.
const EXCESS_SIGMAS: f64 = 2.5;
/// A member of which less than this share stands in a stretch is none of its concern.
const LEAST_INSIDE: f64 = 0.05;
/// Lines this many widths apart are mostly told apart.
const ONE_LINE: f64 = 0.35;
/// Lines this many widths apart are not told apart: one line, or a doublet of a small coupling, may have been fitted as both ...
const SPLIT: f64 = 0.75;
/// ... when either has at least this share of the other, and of its own left.
const LEAST_HALF: f64 = 0.4;
/// A line so many standard uncertainties strong tells its width, which is no more than this many common widths.
const STRONG: f64 = 20.0;
const WIDEST: f64 = 8.0;
/// Rounds of fitting and leaving out.
const ROUNDS: usize = 4;

/// Fits the named molecules; groups that something else covers and molecules that turn out not to be there are left out,
/// the latter are added to `refuted`, by pattern.
pub(crate) fn quantify(
    scene: &Scene<'_>,
    patterns: &[Pattern],
    named: &mut Vec<Accepted>,
    refuted: &mut Vec<usize>,
    context: &Context,
    phase_u: f64,
) -> Quantified {
    for _ in 0..ROUNDS {
        let fitted = fit_all(scene, patterns, named, context, phase_u);
        let verdicts: Vec<Verdict> =
            (0..named.len()).map(|k| judge(patterns, &named[k], &fitted, k)).collect();
        if verdicts.iter().all(|v| v.stays && v.covered.is_empty()) {
            return fitted;
        }
        let mut each = verdicts.into_iter();
        named.retain_mut(|accepted| {
            let Some(verdict) = each.next() else { return true };
            for group in &mut accepted.found.groups {
                if verdict.covered.contains(&group.group) {
                    group.clear = 0.0;
                }
            }
            if !verdict.stays {
                refuted.push(accepted.pattern);
            }
            verdict.stays
        });
    }
    fit_all(scene, patterns, named, context, phase_u)
}

/// What the joint fit says of one molecule.
struct Verdict {
    stays: bool,
    /// Groups on which the amount should not rest.
    covered: Vec<usize>,
}

fn judge(patterns: &[Pattern], accepted: &Accepted, fitted: &Quantified, index: usize) -> Verdict {
    let Some(amount) = fitted.amounts.each[index] else {
        return Verdict { stays: false, covered: Vec::new() };
    };
    let pattern = &patterns[accepted.pattern];
    let noise = amount.sources.noise.max(accepted.found.noise);
    let doubt = if pattern.prior < RARE_PRIOR { amount.sources.total().max(noise) } else { noise };
    let significant = amount.value > LEAST_FITTED * doubt;
    let groups: Vec<(usize, Witness)> = fitted.witnesses(patterns, accepted, index);
    if groups.len() < 2 {
        return Verdict { stays: significant, covered: Vec::new() };
    }
    let witnesses: Vec<Witness> = groups.iter().map(|g| g.1).collect();
    let (n, gain) = best(&witnesses);
    let apart = |w: &Witness| w.covered(n) || n - w.amount > TOO_LITTLE * w.u.max(AGREEMENT * n);
    let covered: Vec<usize> = groups.iter().filter(|g| apart(&g.1)).map(|g| g.0).collect();
    let significant = if covered.is_empty() { significant } else { n > 0.0 };
    Verdict { stays: significant && gain > LEAST_GAIN, covered }
}

/// Fits every clear group of every named molecule.
fn fit_all(
    scene: &Scene<'_>,
    patterns: &[Pattern],
    named: &[Accepted],
    context: &Context,
    phase_u: f64,
) -> Quantified {
    let (mut slots, mut members, mut owners) = (Vec::new(), Vec::new(), Vec::new());
    for (index, accepted) in named.iter().enumerate() {
        let pattern = &patterns[accepted.pattern];
        let stays = |g: &&GroupFit| is_clear(g) && !pattern.groups[g.group].exchangeable;
        let clear = accepted.found.groups.iter().filter(stays).count();
        let others = match pattern.groups.iter().filter(|g| !g.exchangeable).count() {
            all if clear >= all => Others::Fitted,
            _ if clear == 1 => Others::AllHidden,
            _ => Others::SomeHidden,
        };
        for found in accepted.found.groups.iter().filter(|g| is_clear(g)) {
            let group = &pattern.groups[found.group];
            slots.push(Slot { named: index, group: found.group });
            owners.push(Owner { molecule: index, protons: group.protons, others });
            let (at, factor) = match found.by_area {
                true => (found.at, found.factor),
                false => (centred(scene, &group.sticks, found.at), widened(scene, &group.sticks, found)),
            };
            members.push(Member {
                sticks: merge(&group.sticks, SAME_STICK * scene.width),
                pose: Pose { at, stretch: 1.0, factor },
                area: accepted.found.amount * group.protons,
            });
        }
    }
    let fits = fit(scene, &mut members);
    let shared = share_out(scene, context, &mut members);
    let amounts = amounts(&members, &owners, &fits, &shared, named.len(), phase_u);
    Quantified { slots, members, fits, amounts }
}

/// Where a group stands whose lines run into one: where it was found, or in the middle of that place and of what is left so near to
/// it that no spectrum tells them apart.
fn centred(scene: &Scene<'_>, sticks: &[Stick], at: f64) -> f64 {
    let (low, high) = extent(sticks, 0.0);
    if high - low > scene.width {
        return at;
    }
    let (on, split) = (on_place(scene), SPLIT * scene.width);
    let own: Vec<&SceneLine> = scene.signals_within(at + low - on, at + high + on).collect();
    let most = own.iter().map(|l| l.area).fold(0.0, f64::max);
    let is_half = |l: &&SceneLine| {
        let beside = own.iter().any(|o| (o.at - l.at).abs() < split) && own.iter().all(|o| o.at != l.at);
        beside && l.left > LEAST_HALF * most.max(l.area) && l.area * LEAST_HALF < most
    };
    let halves: Vec<&SceneLine> =
        scene.signals_within(at + low - on - split, at + high + on + split).filter(is_half).collect();
    if halves.is_empty() {
        return at;
    }
    let all = mean_by_area(own.iter().chain(&halves).copied(), |line| line.at);
    let alone = mean_by_area(own.iter().copied(), |line| line.at);
    all.zip(alone).map_or(at, |(all, alone)| at + all - alone)
}

/// The mean of something over lines, by their areas; `None` without any.
fn mean_by_area<'a>(
    lines: impl Iterator<Item = &'a SceneLine>,
    of: impl Fn(&SceneLine) -> f64,
) -> Option<f64> {
    let (sum, area) = lines.fold((0.0, 0.0), |(s, a), line| (s + line.area * of(line), a + line.area));
    (area > 0.0).then(|| sum / area)
}

/// Width of a group's lines over the common width, as processing found them where they are strong: small couplings that no table
/// gives widen a methyl group's line.
fn widened(scene: &Scene<'_>, sticks: &[Stick], found: &GroupFit) -> f64 {
    let reach = ONE_LINE * scene.width;
    let own = sticks.iter().flat_map(|stick| {
        let at = found.at + stick.offset;
        scene.signals_within(at - reach, at + reach).filter(|l| l.area > STRONG * l.area_u)
    });
    let mean = mean_by_area(own, |line| line.factor).filter(|_| found.factor == 1.0);
    mean.map_or(found.factor, |mean| mean.clamp(1.0, WIDEST))
}

/// Where the product has a signal, a member's lines may hold lines of it. How much they may have taken is what the product has
/// at their places, or would have if it were spread evenly; what it must have by its protons says how much they did. Both are
/// weighed by their uncertainties. Gives what is then uncertain of each area.
fn share_out(scene: &Scene<'_>, context: &Context, members: &mut [Member]) -> Vec<f64> {
    let mut uncertain = vec![0.0f64; members.len()];
    for stretch in &context.occupied {
        let within: Vec<Sharer> =
            (0..members.len()).filter_map(|k| sharer(scene, stretch, members, k)).collect();
        let variance: f64 = within.iter().map(|s| s.u * s.u).sum();
        let excess = within.iter().map(|s| s.inside * members[s.member].area).sum::<f64>() - stretch.room;
        let all = variance + stretch.room_u * stretch.room_u;
        let something_else = -excess > EXCESS_SIGMAS * all.sqrt();
        for Sharer { member: k, u, .. } in within {
            let share = u * u / all.max(f64::MIN_POSITIVE);
            let left = if something_else || excess > stretch.expected { 1.0 } else { 1.0 - share };
            members[k].area -= (1.0 - left) * excess.min(members[k].area);
            uncertain[k] = libm::hypot(uncertain[k], u * left.sqrt());
        }
    }
    uncertain
}

/// A member in a stretch of the product.
struct Sharer {
    member: usize,
    /// The share of it that stands there.
    inside: f64,
    /// What it may have of the product's area.
    u: f64,
}

fn sharer(scene: &Scene<'_>, stretch: &Occupied, members: &[Member], k: usize) -> Option<Sharer> {
    let member = &members[k];
    let sticks = member.sticks.iter().map(|s| (member.pose.at + s.offset, s.share));
    let within: Vec<(f64, f64)> = sticks.filter(|(at, _)| stretch.from <= *at && *at <= stretch.to).collect();
    let inside: f64 = within.iter().map(|(_, share)| share).sum();
    if inside < LEAST_INSIDE {
        return None;
    }
    let u = match &stretch.sticks {
        Some(own) => {
            // lines a width apart are told apart by the fit, lines on one another are not; a member's other lines tell too
            let met = |a: f64, b: f64| libm::exp(-((a - b) / (ONE_LINE * scene.width)).powi(2));
            let hidden = within
                .iter()
                .map(|(at, share)| share * own.iter().map(|s| met(s.at, *at)).fold(0.0, f64::max));
            let there =
                own.iter().map(|s| s.area * within.iter().map(|(at, _)| met(s.at, *at)).fold(0.0, f64::max));
            hidden.sum::<f64>() * there.sum::<f64>()
        }
        None => {
            let density = stretch.expected / (stretch.to - stretch.from).max(scene.hz);
            inside * density * footprint(scene, member)
        }
    };
    Some(Sharer { member: k, inside, u })
}

/// Hertz that a member's lines cover, as a box of each line's height and area.
fn footprint(scene: &Scene<'_>, member: &Member) -> f64 {
    let half = std::f64::consts::FRAC_PI_4 * scene.width * member.pose.factor;
    let mut ends: Vec<f64> = member.sticks.iter().map(|s| s.offset).collect();
    ends.sort_by(f64::total_cmp);
    let gaps = ends.windows(2).map(|pair| (pair[1] - pair[0]).min(2.0 * half)).sum::<f64>();
    gaps + 2.0 * half
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::scene::tests::{line, wet_dye};
    use crate::product::ProductStick;

    /// A member whose lines are on the product's one by one may hold all of them; with half of it elsewhere, half.
    #[test]
    fn a_member_may_have_of_the_products_area_what_its_lines_cover_of_it() {
        let processed = wet_dye();
        let scene = Scene::of(&processed, processed.spectrum.axis);
        let sticks = Some(vec![ProductStick { at: 500.0, area: 50.0, u: 1.0 }]);
        let stretch = Occupied { from: 400.0, to: 700.0, room: 0.0, room_u: 1.0, expected: 50.0, sticks };
        let may_have = |lines: &[(f64, f64)]| {
            let sticks = lines.iter().map(|&(offset, share)| Stick { offset, share }).collect();
            let member = Member { sticks, pose: Pose { at: 500.0, stretch: 1.0, factor: 1.0 }, area: 10.0 };
            let found = sharer(&scene, &stretch, &[member], 0).expect("within the stretch");
            assert!((found.inside - 1.0).abs() < 1e-12);
            found.u
        };
        assert!((may_have(&[(0.0, 1.0)]) - 50.0).abs() < 1e-9);
        assert!((may_have(&[(0.0, 0.5), (100.0, 0.5)]) - 25.0).abs() < 1e-9);
        assert!(may_have(&[(100.0, 1.0)]) < 1e-9, "told apart by the fit");
    }

    /// Two lines 0.6 widths apart, of which only one was taken for the group's: no spectrum tells them apart. One 1.5 widths off, or
    /// one that another molecule has taken, is another matter.
    #[test]
    fn a_line_split_in_two_is_fitted_in_the_middle_of_both() {
        let processed = wet_dye();
        let mut scene = Scene::of(&processed, processed.spectrum.axis);
        let (at, width) = (500.0, scene.width);
        let singlet = [Stick { offset: 0.0, share: 1.0 }];
        let mut centre = |lines: Vec<SceneLine>| {
            scene.lines = lines;
            centred(&scene, &singlet, at)
        };
        let own = line(at, 30.0);
        let both = centre(vec![own.clone(), line(at + 0.6 * width, 30.0)]);
        assert!((both - at - 0.3 * width).abs() < 1e-9, "{both}");
        assert_eq!(centre(vec![own.clone(), line(at + 1.5 * width, 30.0)]), at);
        assert_eq!(centre(vec![own.clone(), line(at + 0.6 * width, 3.0)]), at, "a foot");
        let taken = SceneLine { left: 0.0, taken: 30.0, ..line(at + 0.6 * width, 30.0) };
        assert_eq!(centre(vec![own, taken]), at);
    }
}
