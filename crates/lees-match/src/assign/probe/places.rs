//! A group at every place where it may stand.

use super::measure::{Company, Row, Seen, along, company, is_curious, spots};
use super::peak::peaks;
use super::{PATTERN_TOLERANCE, furthest};
use crate::assign::context::Context;
use crate::assign::partner::is_of_larger;
use crate::assign::wide::{band, crowded, is_crowded};
use crate::evidence::{Witness, cost, gain};
use crate::fit::scene::Scene;
use crate::fit::template::extent;
use crate::pattern::{Pattern, PatternGroup};

/// What it costs to call a line of a larger multiplet a signal of its own (natural logarithm).
const PARTNER_COVER: f64 = 1.0;
/// What it costs to say that an unknown signal at a group's place is split like it (natural logarithm): ethyl and isopropyl groups
/// are common.
const SAME_PATTERN: f64 = 6.0;
/// The exponential of anything less is lost beside 1.
const NOTHING: f64 = -30.0;
/// Amounts proposed by one group at most.
const PROPOSALS: usize = 4;

/// A group at its possible places.
pub(in crate::assign) struct GroupScan {
    /// Centres in hertz from the first point.
    pub(in crate::assign) places: Vec<f64>,
    /// Log-probability of each place; the probabilities sum to 1, or to less where only the best place was looked at.
    pub(in crate::assign) prior: Vec<f64>,
    /// What no amount at all costs at each place.
    pub(in crate::assign) nothing: Vec<f64>,
    /// What each peak says at each place, place by place.
    pub(in crate::assign) witnesses: Vec<Witness>,
    /// Share of the area at each place that no other molecule has taken.
    pub(in crate::assign) fresh: Vec<f64>,
    /// Share of the group's protons in each peak.
    pub(in crate::assign) shares: Vec<f64>,
    /// Noise of the amount, where the witnesses' uncertainties hold more than that.
    pub(in crate::assign) noise: Option<f64>,
    /// Whether no amount may rest on it: a band of unknown structure, or one among the product's signals.
    pub(in crate::assign) bound: bool,
}

impl GroupScan {
    /// A group at one place, of which one witness speaks.
    pub(in crate::assign) fn single(at: f64, witness: Witness) -> Self {
        Self {
            places: vec![at],
            prior: vec![0.0],
            nothing: vec![witness.cost(0.0)],
            witnesses: vec![witness],
            fresh: vec![1.0],
            shares: vec![1.0],
            noise: None,
            bound: false,
        }
    }

    /// What the peaks say at each place.
    fn by_place(&self) -> impl Iterator<Item = (&[Witness], f64)> {
        self.witnesses.chunks(self.shares.len()).zip(self.prior.iter().copied())
    }

    /// What the peaks say at a place.
    pub(super) fn there(&self, place: usize) -> &[Witness] {
        &self.witnesses[place * self.shares.len()..][..self.shares.len()]
    }

    /// Amounts that some place of this group proposes: the best few.
    pub(super) fn proposals(&self) -> Vec<f64> {
        if self.bound {
            return Vec::new();
        }
        let mut best: Vec<(f64, f64)> = self
            .by_place()
            .flat_map(|(peaks, prior)| {
                let clear = peaks.iter().filter(|w| w.amount > 3.0 * w.u);
                clear.map(move |w| (w.amount, gain(peaks, w.amount) + prior))
            })
            .collect();
        best.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.total_cmp(&b.0)));
        let mut kept: Vec<f64> = Vec::new();
        for (amount, _) in best {
            if kept.len() < PROPOSALS && kept.iter().all(|k| (k - amount).abs() > 0.1 * amount) {
                kept.push(amount);
            }
        }
        kept
    }

    /// The likeliest place at an amount, what the group gains there, and the log-evidence with all places counted by
    /// their probability: many places that noise alone may favour weigh as much as they should.
    pub(super) fn at(&self, amount: f64) -> (usize, f64, f64) {
        let gains: Vec<f64> = self
            .by_place()
            .zip(&self.nothing)
            .map(|((peaks, prior), nothing)| prior + nothing - cost(peaks, amount))
            .collect();
        let (place, most) = gains
            .iter()
            .enumerate()
            .fold((0, f64::NEG_INFINITY), |best, (k, gain)| if *gain > best.1 { (k, *gain) } else { best });
        let terms = gains.iter().map(|gain| gain - most);
        let sum: f64 = terms.filter(|t| *t > NOTHING).map(f64::exp).sum();
        let gain = most - self.prior[place];
        // where it was not looked at, the group says nothing for the molecule
        let elsewhere = (1.0 - self.prior.iter().map(|p| p.exp()).sum::<f64>()).max(0.0);
        let rest = elsewhere * (gain.min(0.0) - most).exp();
        (place, gain, most + (sum + rest).ln())
    }

    /// Share of the group that is not covered, and the information (inverse variance) of those peaks.
    pub(super) fn clear(&self, place: usize, amount: f64) -> (f64, f64) {
        if self.bound {
            return (0.0, 0.0);
        }
        let (mut share, mut weight) = (0.0, 0.0);
        for (w, s) in self.there(place).iter().zip(&self.shares) {
            let r = (w.amount - amount) / w.u;
            if !w.covered(amount) && r.abs() < 4.0 {
                share += s;
                let tolerated = PATTERN_TOLERANCE * w.amount;
                let variance = self.noise.map_or(w.u * w.u - tolerated * tolerated, |noise| noise * noise);
                weight += 1.0 / variance.max(1e-300);
            }
        }
        (share / self.shares.iter().sum::<f64>(), weight)
    }
}

/// Density, but for its height, of Student's t with four degrees of freedom, for shifts: tables have their outliers.
pub(in crate::assign) fn student(t: f64) -> f64 {
    let q = (1.0 + t * t / 4.0).recip();
    q * q * q.sqrt()
}

/// Measures a group at every place within its tolerance.
pub(super) fn scan(
    scene: &Scene<'_>,
    pattern: &Pattern,
    group: &PatternGroup,
    context: &Context,
) -> Option<GroupScan> {
    if !group.resolved {
        let at = scene.position(group.expected);
        return band(scene, group, context)
            .map(|witness| GroupScan { bound: true, ..GroupScan::single(at, witness) });
    }
    let peaks = peaks(scene, group);
    let reach = furthest(scene, group);
    if is_crowded(group, peaks) {
        return crowded(scene, group, context, reach);
    }
    let step = scene.stride as f64 * scene.hz;
    let expected = scene.position(group.expected);
    let row = Row { expected, step, beside: (reach / step).ceil() as usize };
    let company: Company = company(scene, pattern, group, context);
    let spots = spots(scene, peaks, row);
    let mut seen: Vec<Seen> =
        peaks.iter().map(|peak| along(scene, company, peak, row, &spots, context)).collect();
    let kin = kin(scene, pattern, group);
    let mut larger: Vec<(usize, bool)> = Vec::new();
    let mut is_larger = |line: usize| match larger.iter().find(|(known, _)| *known == line) {
        Some((_, answer)) => *answer,
        None => {
            let answer = is_of_larger(scene, context, scene.lines[line].at, peaks.len(), &kin);
            larger.push((line, answer));
            answer
        }
    };
    for Seen { witnesses, owns, .. } in &mut seen {
        for (witness, own) in witnesses.iter_mut().zip(owns) {
            if let Some(line) = own.largest
                && is_curious(witness)
                && is_larger(line)
            {
                witness.cover = witness.cover.min(PARTNER_COVER);
            }
        }
    }
    let shares: Vec<f64> = peaks.iter().map(|peak| peak.protons).collect();
    let mut scan = GroupScan {
        places: Vec::with_capacity(row.len()),
        prior: Vec::with_capacity(row.len()),
        nothing: Vec::with_capacity(row.len()),
        witnesses: Vec::with_capacity(row.len() * peaks.len()),
        fresh: Vec::with_capacity(row.len()),
        shares,
        noise: None,
        bound: false,
    };
    let spread = (group.spread.0 * scene.field()).max(0.5 * scene.width);
    let first = seen.iter().map(|peak| peak.first).max().unwrap_or(0);
    let end = seen.iter().map(|peak| peak.first + peak.witnesses.len()).min().unwrap_or(0);
    for (number, &(place, stands_for)) in spots.iter().enumerate().take(end).skip(first) {
        let (mut left, mut taken, mut nothing, mut dearest) = (0.0, 0.0, 0.0, 0.0f64);
        for peak in &seen {
            let (own, witness) = (&peak.owns[number - peak.first], peak.witnesses[number - peak.first]);
            left += own.left;
            taken += own.taken;
            nothing += witness.cost(0.0);
            dearest = dearest.max(witness.cost(0.0));
            scan.witnesses.push(witness);
        }
        let at = row.at(place);
        let t = (at - expected) / spread;
        scan.places.push(at);
        scan.prior.push(stands_for * student(t));
        scan.fresh.push(if left + taken > 0.0 { left / (left + taken) } else { 1.0 });
        scan.nothing.push(nothing.min(dearest + SAME_PATTERN));
    }
    let whole: f64 = scan.prior.iter().sum();
    scan.prior.iter_mut().for_each(|p| *p = (*p / whole).ln());
    (!scan.places.is_empty()).then_some(scan)
}

/// Where a molecule's other groups may stand.
fn kin(scene: &Scene<'_>, pattern: &Pattern, own: &PatternGroup) -> Vec<(f64, f64)> {
    pattern
        .groups
        .iter()
        .filter(|group| !std::ptr::eq(*group, own))
        .map(|group| {
            let (low, high) = extent(&group.sticks, 0.0);
            let at = scene.position(group.expected);
            let slack = furthest(scene, group);
            (at + low - slack, at + high + slack)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::scene::tests::wet_dye;
    use crate::pattern::tests::{group, pattern};

    #[test]
    fn the_other_groups_may_stand_as_far_off_as_they_are_looked_for() {
        let processed = wet_dye();
        let scene = Scene::of(&processed, processed.spectrum.axis);
        let pattern =
            pattern(vec![group(2.0, 3.0, &[(0.0, 1.0)]), group(4.0, 2.0, &[(-5.0, 0.5), (3.0, 0.5)])]);
        let other = &pattern.groups[1];
        let (at, off) = (scene.position(other.expected), furthest(&scene, other));
        assert!(off > 0.0);
        assert_eq!(kin(&scene, &pattern, &pattern.groups[0]), [(at - 5.0 - off, at + 3.0 + off)]);
    }
}
