//! How well one molecule fits under the spectrum, at any amount and any place within its tolerance.

mod measure;
mod peak;
mod places;
mod take;

pub(super) use measure::{BESIDE_HZ, Company, on_place, undisturbed, witness};
pub(crate) use peak::Peak;
pub(super) use peak::peaks;
pub(super) use places::{GroupScan, student};
pub(super) use take::take_off;

use super::context::Context;
use crate::fit::scene::Scene;
use crate::pattern::{Pattern, PatternGroup};
use places::scan;

/// Relative spread of a peak about its pattern: roofs, couplings and widths are never quite those of the table.
pub(super) const PATTERN_TOLERANCE: f64 = 0.08;
/// The same of an area that other molecules have taken already.
pub(super) const TAKEN_TOLERANCE: f64 = 0.15;
/// A missing peak weighs at most this much (natural logarithm): exchange, saturation and table errors exist.
pub(super) const MISSING_CAP: f64 = 20.0;
/// A group is fresh when at least this share of the area at its place has not been taken by another molecule ...
const LEAST_FRESH: f64 = 0.7;
/// ... or this, where it was taken by a line of the NMR solvent of which others of its multiplet tell how large it is.
const LEAST_FRESH_IN_MULTIPLET: f64 = 0.5;
/// Groups are looked for within this many spreads of their place ...
const REACH_SPREADS: f64 = 3.0;
/// ... but no further than this, in ppm.
const LONGEST_REACH: f64 = 0.12;

/// Amounts between none and the most possible that are weighed.
const AMOUNTS: usize = 32;
/// Probability that there is no more than the upper limit.
const WITHIN: f64 = 0.95;

/// Where a group was found, and whether it counts.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct GroupFit {
    /// Index of the group in the pattern.
    pub group: usize,
    /// Its centre in hertz from the first point.
    pub at: f64,
    /// Width over the common width.
    pub factor: f64,
    /// Share of its protons that is not covered by something else.
    pub clear: f64,
    /// Whether its lines were still unexplained when it was found.
    pub fresh: bool,
    /// Whether only the area of a crowded multiplet was looked at.
    pub by_area: bool,
    /// What it says for the molecule.
    pub gain: f64,
}

/// A molecule's best fit.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Assessment {
    /// Area of one proton of it.
    pub amount: f64,
    /// Noise of that amount by its clear peaks alone.
    pub noise: f64,
    /// Log-evidence, prior odds counted.
    pub evidence: f64,
    /// Each group.
    pub groups: Vec<GroupFit>,
}

impl Assessment {
    /// Amount over its noise.
    pub(crate) fn significance(&self) -> f64 {
        self.amount / self.noise
    }
}

/// Fits a pattern under the spectrum.
pub(crate) fn assess(scene: &Scene<'_>, pattern: &Pattern, context: &Context) -> Option<Assessment> {
    let scans: Vec<Option<GroupScan>> =
        pattern.groups.iter().map(|group| scan(scene, pattern, group, context)).collect();
    let mut amounts: Vec<f64> = scans.iter().flatten().flat_map(GroupScan::proposals).collect();
    amounts.sort_by(f64::total_cmp);
    amounts.dedup_by(|a, b| (*a - *b).abs() < 0.02 * *b);
    let in_multiplet = |at: f64| context.residual.iter().any(|line| (line - at).abs() < on_place(scene));
    let least_fresh = |at: f64| if in_multiplet(at) { LEAST_FRESH_IN_MULTIPLET } else { LEAST_FRESH };
    let weigh = |amount: f64| weigh(pattern, &scans, amount, &least_fresh);
    let first = amounts.into_iter().map(weigh).reduce(better)?;
    let refined = refine(&scans, &first).map(weigh);
    Some(refined.map_or(first.clone(), |second| better(first, second)))
}

/// The most of a molecule that agrees with what stands at its places, when 95 % of what would be there unnamed is no more than
/// `cap`: 95 % of the probability lie below. Before the measurement any amount up to the cap was as likely, and any from there to
/// twice the cap, which share the other 5 %. Where its groups may stand counts as for naming.
pub(crate) fn at_most(scene: &Scene<'_>, pattern: &Pattern, context: &Context, cap: f64) -> f64 {
    let scans: Vec<GroupScan> =
        pattern.groups.iter().filter_map(|group| scan(scene, pattern, group, context)).collect();
    if scans.is_empty() || !cap.is_finite() {
        return cap;
    }
    let step = cap / AMOUNTS as f64;
    let evidence = |k: usize| scans.iter().map(|scan| scan.at((k as f64 + 0.5) * step).2).sum::<f64>();
    let each: Vec<f64> = (0..2 * AMOUNTS).map(evidence).collect();
    let most = each.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let before = |k: usize| if k < AMOUNTS { WITHIN } else { 1.0 - WITHIN };
    let shares: Vec<f64> = each.iter().enumerate().map(|(k, e)| before(k) * libm::exp(e - most)).collect();
    let mut above = (1.0 - WITHIN) * shares.iter().sum::<f64>();
    for (k, share) in shares.iter().enumerate().rev() {
        if *share > above {
            return (k as f64 + 1.0 - above / share) * step;
        }
        above -= share;
    }
    0.0
}

fn better(a: Assessment, b: Assessment) -> Assessment {
    if b.evidence > a.evidence { b } else { a }
}

/// Evidence of a given amount, each group at the place that suits it best; fresh where at least so much is left of what stands there.
fn weigh(
    pattern: &Pattern,
    scans: &[Option<GroupScan>],
    amount: f64,
    least_fresh: &dyn Fn(f64) -> f64,
) -> Assessment {
    let mut groups = Vec::new();
    let (mut evidence, mut weight) = (pattern.prior, 0.0);
    for (group, scan) in scans.iter().enumerate().filter_map(|(k, s)| Some((k, s.as_ref()?))) {
        let (place, gain, marginal) = scan.at(amount);
        evidence += marginal;
        let clear = scan.clear(place, amount);
        weight += clear.1;
        let at = scan.places[place];
        groups.push(GroupFit {
            group,
            at,
            factor: 1.0,
            clear: clear.0,
            fresh: scan.fresh[place] >= least_fresh(at),
            by_area: scan.noise.is_some(),
            gain,
        });
    }
    let noise = if weight > 0.0 { 1.0 / weight.sqrt() } else { f64::INFINITY };
    Assessment { amount, noise, evidence, groups }
}

/// The precision-weighted mean of all peaks that are not covered.
fn refine(scans: &[Option<GroupScan>], first: &Assessment) -> Option<f64> {
    let (mut sum, mut weight) = (0.0, 0.0);
    for fit in &first.groups {
        let scan = scans[fit.group].as_ref()?;
        let place = scan.places.iter().position(|at| *at == fit.at)?;
        for w in scan.there(place).filter(|w| !w.covered(first.amount)) {
            sum += w.amount / (w.u * w.u);
            weight += 1.0 / (w.u * w.u);
        }
    }
    (sum > 0.0).then(|| sum / weight)
}

/// How far from its place a group is looked for, in hertz.
pub(in crate::assign) fn furthest(scene: &Scene<'_>, group: &PatternGroup) -> f64 {
    (REACH_SPREADS * group.spread.0).min(LONGEST_REACH) * scene.field()
}

#[cfg(test)]
pub(in crate::assign) mod tests {
    use super::*;
    use crate::evidence::Witness;
    use crate::fit::scene::tests::{line, wet_dye};
    use crate::pattern::tests::{group, pattern};

    /// A clear group that was found at a place.
    pub(in crate::assign) fn fit(group: usize, at: f64) -> GroupFit {
        GroupFit { group, at, factor: 1.0, clear: 1.0, fresh: true, by_area: false, gain: 10.0 }
    }

    /// Of half a normal law 95 % lie within 1.96 standard deviations. Five of them measured: 1.645 more.
    #[test]
    fn no_more_can_be_there_than_what_stands_at_its_place_and_its_noise() {
        let processed = wet_dye();
        let mut scene = Scene::of(&processed, processed.spectrum.axis);
        scene.lines.clear();
        scene.open.fill(0.0);
        let singlet = pattern(vec![group(9.8, 2.0, &[(0.0, 1.0)])]);
        let at = scene.position(singlet.groups[0].expected);
        let peak = &peaks(&scene, &singlet.groups[0])[0];
        let noise = undisturbed(&scene, peak, at);
        let context = Context::default();
        let most = |scene: &Scene<'_>| at_most(scene, &singlet, &context, 20.0 * noise);
        assert!((most(&scene) / noise - 1.96).abs() < 0.1, "{}", most(&scene) / noise);
        scene.lines = vec![line(at, 5.0 * noise * 2.0)];
        let u = libm::hypot(noise, PATTERN_TOLERANCE * 5.0 * noise);
        assert!((most(&scene) - 5.0 * noise - 1.645 * u).abs() < 0.3 * noise, "{}", most(&scene) / noise);
        assert_eq!(at_most(&scene, &singlet, &context, f64::INFINITY), f64::INFINITY);
        scene.lines = vec![line(at, 30.0 * noise * 2.0)];
        assert!(
            most(&scene) > 30.0 * noise,
            "more stands there than the cap allows: {}",
            most(&scene) / noise
        );
    }

    /// 1.00 (0.01) and 1.03 (0.02) weigh 10000 and 2500: 1.006. A third peak lies under something else and does not count.
    #[test]
    fn the_refined_amount_is_the_weighted_mean_of_the_peaks_that_are_not_covered() {
        let single = |at: f64, amount: f64, u: f64| {
            Some(GroupScan::single(at, Witness { amount, u, cover: 5.0, missing_cap: MISSING_CAP }, 0.0))
        };
        let scans = [single(500.0, 1.0, 0.01), single(600.0, 1.03, 0.02), single(700.0, 7.0, 0.02)];
        let groups = vec![fit(0, 500.0), fit(1, 600.0), fit(2, 700.0)];
        let first = Assessment { amount: 1.0, noise: 0.01, evidence: 20.0, groups };
        let refined = refine(&scans, &first).expect("an amount");
        assert!((refined - 1.006).abs() < 1e-9, "{refined}");
    }
}
