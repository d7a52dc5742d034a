//! A group at every place where it may stand.

use super::measure::{Company, Row, Seen, along, company, is_curious, spots};
use super::peak::peaks;
use super::{PATTERN_TOLERANCE, furthest};
use crate::assign::context::Context;
use crate::assign::partner::is_of_larger;
use crate::assign::wide::{band, crowded, is_crowded};
use crate::evidence::{Columns, Witness, larger_of, smaller_of};
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
    /// What each peak says at each place.
    pub(in crate::assign) said: Columns,
    /// Share of the area at each place that no other molecule has taken.
    pub(in crate::assign) fresh: Vec<f64>,
    /// Share of the group's protons in each peak.
    pub(in crate::assign) shares: Vec<f64>,
    /// Noise of the amount, where the witnesses' uncertainties hold more than that.
    pub(in crate::assign) noise: Option<f64>,
    /// Whether no amount may rest on it: a band of unknown structure, or one among the product's signals.
    pub(in crate::assign) bound: bool,
    /// The probability that it stands nowhere that was looked at.
    pub(in crate::assign) elsewhere: f64,
}

impl GroupScan {
    /// A group at one place, of which one witness speaks, with the logarithm of the chance that it stands there.
    pub(in crate::assign) fn single(at: f64, witness: Witness, prior: f64) -> Self {
        Self {
            places: vec![at],
            elsewhere: elsewhere(&[prior]),
            prior: vec![prior],
            nothing: vec![witness.cost(0.0)],
            said: Columns::single(witness),
            fresh: vec![1.0],
            shares: vec![1.0],
            noise: None,
            bound: false,
        }
    }

    /// What the peaks say at a place.
    pub(in crate::assign) fn there(&self, place: usize) -> impl Iterator<Item = Witness> {
        (0..self.shares.len()).map(move |peak| self.said.at(peak * self.places.len() + place))
    }

    /// Amounts that some place of this group proposes: the best few.
    pub(super) fn proposals(&self) -> Vec<f64> {
        if self.bound {
            return Vec::new();
        }
        let mut best: Vec<(f64, f64)> = Vec::new();
        for place in 0..self.places.len() {
            for w in self.there(place).filter(|w| w.amount > 3.0 * w.u) {
                let cost = |n: f64| self.there(place).map(|peak| peak.cost(n)).sum::<f64>();
                best.push((w.amount, cost(0.0) - cost(w.amount) + self.prior[place]));
            }
        }
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
        let places = self.places.len();
        let mut costs = vec![0.0; places];
        for peak in 0..self.shares.len() {
            self.said.add_costs(peak * places, amount, &mut costs);
        }
        let mut gains = costs;
        for ((gain, prior), nothing) in gains.iter_mut().zip(&self.prior).zip(&self.nothing) {
            *gain = prior + nothing - *gain;
        }
        let (place, most) = gains
            .iter()
            .enumerate()
            .fold((0, f64::NEG_INFINITY), |best, (k, gain)| if *gain > best.1 { (k, *gain) } else { best });
        let terms = gains.iter().map(|gain| gain - most);
        let sum: f64 = terms.filter(|t| *t > NOTHING).map(libm::exp).sum();
        let gain = most - self.prior[place];
        // where it was not looked at, the group says nothing for the molecule
        let rest = self.elsewhere * libm::exp(gain.min(0.0) - most);
        (place, gain, most + libm::log(sum + rest))
    }

    /// Share of the group that is not covered, and the information (inverse variance) of those peaks.
    pub(super) fn clear(&self, place: usize, amount: f64) -> (f64, f64) {
        if self.bound {
            return (0.0, 0.0);
        }
        let (mut share, mut weight) = (0.0, 0.0);
        for (w, s) in self.there(place).zip(&self.shares) {
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

/// The probability left beside those of some places.
fn elsewhere(prior: &[f64]) -> f64 {
    (1.0 - prior.iter().map(|p| libm::exp(*p)).sum::<f64>()).max(0.0)
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
            .map(|witness| GroupScan { bound: true, ..GroupScan::single(at, witness, 0.0) });
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
    for Seen { said, met, .. } in &mut seen {
        for (spot, own) in met {
            if let Some(line) = own.largest
                && is_curious(&said.at(*spot))
                && is_larger(line)
            {
                said.covers[*spot] = said.covers[*spot].min(PARTNER_COVER);
            }
        }
    }
    let first = seen.iter().map(|peak| peak.first).max().unwrap_or(0);
    let end = seen.iter().map(|peak| peak.first + peak.said.len()).min().unwrap_or(0);
    if end <= first {
        return None;
    }
    let spots = &spots[first..end];
    let (mut nothing, mut dearest) = (vec![0.0; spots.len()], vec![0.0; spots.len()]);
    let mut areas = vec![(0.0, 0.0); spots.len()];
    let mut said = Columns::new(spots.len() * peaks.len(), company.missing_cap());
    let mut cost = vec![0.0; spots.len()];
    for (number, peak) in seen.iter().enumerate() {
        said.extend(&peak.said, first - peak.first..end - peak.first);
        cost.fill(0.0);
        said.add_costs(number * spots.len(), 0.0, &mut cost);
        for ((nothing, dearest), cost) in nothing.iter_mut().zip(&mut dearest).zip(&cost) {
            *nothing += cost;
            *dearest = larger_of(*dearest, *cost);
        }
        for (spot, own) in &peak.met {
            if let Some((left, taken)) = (spot + peak.first).checked_sub(first).and_then(|k| areas.get_mut(k))
            {
                *left += own.left;
                *taken += own.taken;
            }
        }
    }
    for (nothing, dearest) in nothing.iter_mut().zip(&dearest) {
        *nothing = smaller_of(*nothing, dearest + SAME_PATTERN);
    }
    let spread = (group.spread.0 * scene.field()).max(0.5 * scene.width);
    let places: Vec<f64> = spots.iter().map(|spot| row.at(spot.0)).collect();
    let mut prior: Vec<f64> =
        places.iter().zip(spots).map(|(at, spot)| spot.1 * student((at - expected) / spread)).collect();
    let whole: f64 = prior.iter().sum();
    prior.iter_mut().for_each(|p| *p = libm::log(*p / whole));
    let fresh = |(left, taken): (f64, f64)| if left + taken > 0.0 { left / (left + taken) } else { 1.0 };
    let shares: Vec<f64> = peaks.iter().map(|peak| peak.protons).collect();
    Some(GroupScan {
        places,
        elsewhere: elsewhere(&prior),
        prior,
        nothing,
        said,
        fresh: areas.into_iter().map(fresh).collect(),
        shares,
        noise: None,
        bound: false,
    })
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

    /// The last of three peaks 400 Hz apart lies beyond the spectrum's end wherever the first lies within it.
    #[test]
    fn a_group_whose_peaks_are_never_all_within_the_spectrum_is_not_measured() {
        let processed = wet_dye();
        let scene = Scene::of(&processed, processed.spectrum.axis);
        let third = |offset: f64| (offset, 1.0 / 3.0);
        let low = scene.shift(scene.points() as f64 * scene.hz).0;
        for place in [low, low - 0.2, low - 1.5, low - 5.0] {
            let wide = pattern(vec![group(place, 3.0, &[third(-400.0), third(0.0), third(400.0)])]);
            assert!(scan(&scene, &wide, &wide.groups[0], &Context::default()).is_none(), "{place} ppm");
        }
    }
}
