//! How well one molecule fits under the spectrum, at any amount and any place within its tolerance.

use super::context::Context;
use super::partner::is_of_larger;
use super::wide::{band, crowded, is_crowded, reach, take};
use crate::evidence::{Witness, gain};
use crate::fit::scene::Scene;
use crate::fit::solve::{correlate, dot};
use crate::fit::template::{Pose, Stick, extent, merge, trace};
use crate::pattern::{Pattern, PatternGroup};

/// Sticks closer than this many widths make one peak: fitted lines closer than that are not told apart.
const PEAK_WIDTHS: f64 = 1.6;
/// ... and closer than this in hertz: small couplings in tables are too rough to tell such peaks apart.
const PEAK_HZ: f64 = 2.5;
/// Peaks under this share of the tallest are not looked for one by one.
const FAINT_PEAK: f64 = 0.06;
/// Points are looked at this many widths beyond a peak's outer sticks.
const MARGIN_WIDTHS: f64 = 1.3;
/// Relative spread of a peak about its pattern: roofs, couplings and widths are never quite those of the table.
pub(super) const PATTERN_TOLERANCE: f64 = 0.08;
/// The same of an area that other molecules have taken already.
pub(super) const TAKEN_TOLERANCE: f64 = 0.15;
/// A group is fresh when at least this share of the area at its place has not been taken by another molecule.
const LEAST_FRESH: f64 = 0.7;
/// Uncertainty of neighbouring lines that were taken off, relative.
const NEIGHBOUR_TOLERANCE: f64 = 0.05;
/// Neighbours further off than this many widths do not disturb.
const NEIGHBOUR_WIDTHS: f64 = 12.0;
/// A missing peak weighs at most this much (natural logarithm): exchange, saturation and table errors exist.
pub(super) const MISSING_CAP: f64 = 20.0;
/// Groups are looked for within this many spreads of their place ...
const REACH_SPREADS: f64 = 3.0;
/// ... but no further than this, in ppm.
const LONGEST_REACH: f64 = 0.12;
/// A fitted line this near to a peak's sticks, in widths, is the peak ...
const ON_PLACE_WIDTHS: f64 = 0.45;
/// ... or this near in hertz, since couplings are tabulated to a tenth.
const ON_PLACE_HZ: f64 = 0.25;
/// A line wider than this many common widths is not a solvent's.
const WIDEST: f64 = 2.5;
/// Area of one carbon-13 satellite over its parent's.
const SATELLITE_SHARE: f64 = 0.0054;
/// What disturbs a peak is looked up only when the peak says more than this many standard uncertainties.
const CURIOUS: f64 = 1.5;
/// What it costs to call a line of a larger multiplet a signal of its own (natural logarithm).
const PARTNER_COVER: f64 = 1.0;
/// A signal of which the fitted lines hold less than this share was too small to be fitted.
const LEAST_FITTED: f64 = 0.3;
/// The exponential of anything less is lost beside 1.
const NOTHING: f64 = -700.0;
/// Points between places up to which a peak is compared with the spectrum at every point of a stretch at once.
const DENSE_PLACES: f64 = 4.0;
/// Degrees of freedom of Student's t for shifts: tables have their outliers.
const SHIFT_FREEDOM: f64 = 4.0;

/// A resolved peak of a group, drawn for measuring.
#[derive(Debug, Clone)]
pub(crate) struct Peak {
    /// First and last stick, from the group's centre.
    pub(super) from: f64,
    pub(super) to: f64,
    /// Its sticks from its centre; their shares sum to its protons.
    sticks: Vec<Stick>,
    /// Points from the centre of the peak to the end of the drawn stretch.
    half: usize,
    /// The peak less its mean over the stretch, so that a level baseline does not count.
    kernel: Vec<f64>,
    /// Kernel times peak of unit amount.
    scale: f64,
    /// Standard deviation of the measured amount per unit point noise.
    noise: f64,
    /// Height of the peak per unit amount.
    height: f64,
    pub(super) protons: f64,
}

/// A group at its possible places.
pub(super) struct GroupScan {
    /// Centres in hertz from the first point.
    pub places: Vec<f64>,
    /// Log-probability of each place; the probabilities sum to 1.
    pub prior: Vec<f64>,
    /// What each peak says at each place.
    pub witnesses: Vec<Vec<Witness>>,
    /// Share of the area at each place that no other molecule has taken.
    pub fresh: Vec<f64>,
    /// Share of the group's protons in each peak.
    pub shares: Vec<f64>,
    /// Noise of the amount, where the witnesses' uncertainties hold more than that.
    pub noise: Option<f64>,
    /// Whether no amount may rest on it: a band of unknown structure, or one among the product's signals.
    pub bound: bool,
}

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
    let first = amounts.into_iter().map(|n| weigh(pattern, &scans, n)).reduce(better)?;
    let refined = refine(&scans, &first).map(|n| weigh(pattern, &scans, n));
    Some(refined.map_or(first.clone(), |second| better(first, second)))
}

fn better(a: Assessment, b: Assessment) -> Assessment {
    if b.evidence > a.evidence { b } else { a }
}

/// Evidence of a given amount, each group at the place that suits it best.
fn weigh(pattern: &Pattern, scans: &[Option<GroupScan>], amount: f64) -> Assessment {
    let mut groups = Vec::new();
    let (mut evidence, mut weight) = (pattern.prior, 0.0);
    for (group, scan) in scans.iter().enumerate().filter_map(|(k, s)| Some((k, s.as_ref()?))) {
        let (place, gain, marginal) = scan.at(amount);
        evidence += marginal;
        let clear = scan.clear(place, amount);
        weight += clear.1;
        groups.push(GroupFit {
            group,
            at: scan.places[place],
            factor: 1.0,
            clear: clear.0,
            fresh: scan.fresh[place] >= LEAST_FRESH,
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
        for w in scan.witnesses[place].iter().filter(|w| !w.covered(first.amount)) {
            sum += w.amount / (w.u * w.u);
            weight += 1.0 / (w.u * w.u);
        }
    }
    (sum > 0.0).then(|| sum / weight)
}

impl GroupScan {
    /// Amounts that some place of this group proposes: the best few.
    fn proposals(&self) -> Vec<f64> {
        if self.bound {
            return Vec::new();
        }
        let mut best: Vec<(f64, f64)> = self
            .witnesses
            .iter()
            .zip(&self.prior)
            .flat_map(|(peaks, prior)| {
                peaks
                    .iter()
                    .filter(|w| w.amount > 3.0 * w.u)
                    .map(move |w| (w.amount, gain(peaks, w.amount) + prior))
            })
            .collect();
        best.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.total_cmp(&b.0)));
        let mut kept: Vec<f64> = Vec::new();
        for (amount, _) in best {
            if kept.len() < 4 && kept.iter().all(|k| (k - amount).abs() > 0.1 * amount) {
                kept.push(amount);
            }
        }
        kept
    }

    /// The likeliest place at an amount, what the group gains there, and the log-evidence with all places counted by
    /// their probability: many places that noise alone may favour weigh as much as they should.
    fn at(&self, amount: f64) -> (usize, f64, f64) {
        let gains: Vec<f64> = self.witnesses.iter().map(|peaks| gain(peaks, amount)).collect();
        let mut best = (0, f64::NEG_INFINITY, 0.0);
        for (k, (gain, prior)) in gains.iter().zip(&self.prior).enumerate() {
            if gain + prior > best.1 {
                best = (k, gain + prior, *gain);
            }
        }
        let terms = gains.iter().zip(&self.prior).map(|(gain, prior)| gain + prior - best.1);
        let sum: f64 = terms.filter(|t| *t > NOTHING).map(f64::exp).sum();
        (best.0, best.2, best.1 + sum.ln())
    }

    /// Share of the group that is not covered, and the information (inverse variance) of those peaks.
    fn clear(&self, place: usize, amount: f64) -> (f64, f64) {
        if self.bound {
            return (0.0, 0.0);
        }
        let (mut share, mut weight) = (0.0, 0.0);
        for (w, s) in self.witnesses[place].iter().zip(&self.shares) {
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

/// How far from its place a group is looked for, in hertz.
pub(super) fn furthest(scene: &Scene<'_>, group: &PatternGroup) -> f64 {
    (REACH_SPREADS * group.spread.0).min(LONGEST_REACH) * scene.field()
}

/// Measures a group at every place within its tolerance.
fn scan(scene: &Scene<'_>, pattern: &Pattern, group: &PatternGroup, context: &Context) -> Option<GroupScan> {
    if !group.resolved {
        return band(scene, group, context).map(|witness| GroupScan {
            places: vec![scene.position(group.expected)],
            prior: vec![0.0],
            witnesses: vec![vec![witness]],
            fresh: vec![1.0],
            shares: vec![1.0],
            bound: true,
            noise: None,
        });
    }
    let peaks = peaks(scene, group);
    let expected = scene.position(group.expected);
    let reach = furthest(scene, group);
    if is_crowded(peaks) {
        return crowded(scene, group, context, reach);
    }
    let step = (scene.width / 6.0 / scene.hz).floor().max(1.0) * scene.hz;
    let count = (reach / step).ceil() as i64;
    let spread = (group.spread.0 * scene.field()).max(0.5 * scene.width);
    let company = company(scene, pattern, group, context);
    let mut scan = GroupScan {
        places: vec![],
        prior: vec![],
        witnesses: vec![],
        fresh: vec![],
        shares: vec![],
        bound: false,
        noise: None,
    };
    scan.shares = peaks.iter().map(|peak| peak.protons).collect();
    let kin = kin(scene, pattern, group);
    let furthest = count as f64 * step;
    let overlaps: Vec<Overlap> = peaks
        .iter()
        .map(|peak| Overlap::new(scene, peak, (expected - furthest, expected + furthest), step))
        .collect();
    let mut seen: Vec<(Witness, Own)> = Vec::with_capacity(peaks.len());
    for k in -count..=count {
        let at = expected + k as f64 * step;
        seen.clear();
        seen.extend(overlaps.iter().map_while(|overlap| measured(scene, company, overlap, at, context)));
        if seen.len() == peaks.len() {
            for (witness, lines) in &mut seen {
                if witness.amount > CURIOUS * witness.u
                    && lines.centre.is_some_and(|at| is_of_larger(scene, context, at, peaks.len(), &kin))
                {
                    witness.cover = witness.cover.min(PARTNER_COVER);
                }
            }
            let sum = |f: &dyn Fn(&Own) -> f64| seen.iter().map(|s| f(&s.1)).sum::<f64>();
            let (left, taken) = (sum(&|o| o.left), sum(&|o| o.taken));
            scan.fresh.push(if left + taken > 0.0 { left / (left + taken) } else { 1.0 });
            let t = (at - expected) / spread;
            scan.places.push(at);
            scan.prior.push(-0.5 * (SHIFT_FREEDOM + 1.0) * (t * t / SHIFT_FREEDOM).ln_1p());
            scan.witnesses.push(seen.iter().map(|s| s.0).collect());
        }
    }
    let all = scan.prior.iter().map(|p| p.exp()).sum::<f64>().ln();
    scan.prior.iter_mut().for_each(|p| *p -= all);
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

/// The peaks of a group; they are drawn once, since a pattern is only ever compared with one spectrum.
pub(super) fn peaks<'g>(scene: &Scene<'_>, group: &'g PatternGroup) -> &'g [Peak] {
    group.drawn.get_or_init(|| drawn(scene, group))
}

fn drawn(scene: &Scene<'_>, group: &PatternGroup) -> Vec<Peak> {
    let mut sticks = merge(&group.sticks, 0.05 * scene.width);
    sticks.sort_by(|a, b| a.offset.total_cmp(&b.offset));
    let apart = (PEAK_WIDTHS * scene.width).max(if group.exact { 0.0 } else { PEAK_HZ });
    let mut clusters: Vec<Vec<Stick>> = Vec::new();
    for stick in sticks {
        match clusters.last_mut() {
            Some(last) if stick.offset - last[last.len() - 1].offset < apart => last.push(stick),
            _ => clusters.push(vec![stick]),
        }
    }
    let share = |c: &Vec<Stick>| c.iter().map(|s| s.share).sum::<f64>();
    let tallest = clusters.iter().map(share).fold(0.0, f64::max);
    clusters.iter().filter(|c| share(c) >= FAINT_PEAK * tallest).map(|c| peak(scene, group, c)).collect()
}

fn peak(scene: &Scene<'_>, group: &PatternGroup, sticks: &[Stick]) -> Peak {
    let (from, to) = (sticks[0].offset, sticks[sticks.len() - 1].offset);
    let middle = (from + to) / 2.0;
    let half = (((to - from) / 2.0 + MARGIN_WIDTHS * scene.width) / scene.hz).ceil().max(2.0) as usize;
    let near: Vec<Stick> =
        sticks.iter().map(|s| Stick { offset: s.offset - middle, share: s.share * group.protons }).collect();
    let pose = Pose { at: half as f64 * scene.hz, stretch: 1.0, factor: 1.0 };
    let shape = trace(&scene.shape, &near, pose, scene.hz, 0..2 * half + 1);
    let mean = shape.iter().sum::<f64>() / shape.len() as f64;
    let kernel: Vec<f64> = shape.iter().map(|v| v - mean).collect();
    let scale = dot(&kernel, &shape).max(f64::MIN_POSITIVE);
    Peak {
        from,
        to,
        half,
        noise: scene.kernel_sd(&kernel) / scale,
        height: shape.iter().copied().fold(0.0, f64::max),
        scale,
        protons: near.iter().map(|s| s.share).sum(),
        sticks: near,
        kernel,
    }
}

/// A group's protons, alone and with those of the molecule that stand in the same signal of the product.
#[derive(Debug, Clone, Copy)]
pub(super) struct Company {
    pub protons: f64,
    pub together: f64,
    pub exchangeable: bool,
}

fn company(scene: &Scene<'_>, pattern: &Pattern, group: &PatternGroup, context: &Context) -> Company {
    let at = scene.position(group.expected);
    let beside = |other: &&PatternGroup| {
        let slack = furthest(scene, group) + furthest(scene, other);
        context.same_signal(at, scene.position(other.expected), slack)
    };
    let together: f64 = pattern.groups.iter().filter(beside).map(|g| g.protons).sum();
    Company {
        protons: group.protons,
        together: together.max(group.protons),
        exchangeable: group.exchangeable,
    }
}

/// What a peak says when the group's centre stands at `at`; `None` beyond the spectrum's ends.
pub(super) fn witness(
    scene: &Scene<'_>,
    group: Company,
    peak: &Peak,
    at: f64,
    context: &Context,
) -> Option<(Witness, Own)> {
    let lone = Overlap { peak, first: 0, with: Vec::new(), lines: 0..scene.lines.len() };
    measured(scene, group, &lone, at, context)
}

/// A peak's overlap with what no line accounts for, at every point of a stretch; empty when it is made place by place.
struct Overlap<'p> {
    peak: &'p Peak,
    first: usize,
    with: Vec<f64>,
    /// Lines that may stand at one of its places.
    lines: std::ops::Range<usize>,
}

impl<'p> Overlap<'p> {
    fn new(scene: &Scene<'_>, peak: &'p Peak, (from, to): (f64, f64), step: f64) -> Self {
        let length = peak.kernel.len();
        let on = on_place(scene) + scene.hz;
        let lines = scene.lines_within(from + peak.from - on, to + peak.to + on);
        let Some(last) = scene.points().checked_sub(length).filter(|_| step < DENSE_PLACES * scene.hz) else {
            return Self { peak, first: 0, with: Vec::new(), lines };
        };
        let start = |at: f64| (peak.centre(scene, at) - peak.half as f64).clamp(0.0, last as f64) as usize;
        let (first, end) = (start(from), start(to));
        Self { peak, first, with: correlate(&scene.open[first..end + length], &peak.kernel), lines }
    }

    fn at(&self, scene: &Scene<'_>, start: usize) -> f64 {
        let known = start.checked_sub(self.first).and_then(|k| self.with.get(k)).copied();
        let kernel = &self.peak.kernel;
        known.unwrap_or_else(|| dot(&scene.open[start..start + kernel.len()], kernel))
    }
}

impl Peak {
    /// Index of the point nearest to the peak's centre.
    fn centre(&self, scene: &Scene<'_>, at: f64) -> f64 {
        ((at + (self.from + self.to) / 2.0) / scene.hz).round()
    }
}

fn measured(
    scene: &Scene<'_>,
    group: Company,
    overlap: &Overlap<'_>,
    at: f64,
    context: &Context,
) -> Option<(Witness, Own)> {
    let peak = overlap.peak;
    let position = at + (peak.from + peak.to) / 2.0;
    let centre = peak.centre(scene, at);
    if centre < peak.half as f64 || centre + peak.half as f64 >= scene.points() as f64 {
        return None;
    }
    let unseen = overlap.at(scene, centre as usize - peak.half) / peak.scale;
    let own = standing(scene, overlap.lines.clone(), at + peak.from, at + peak.to);
    let amount = own.left / peak.protons + unseen;
    let noise = scene.sigma[centre as usize] * peak.noise;
    let taken = TAKEN_TOLERANCE * own.taken / peak.protons;
    let doubtful = own.doubtful / peak.protons;
    let mut u2 = noise * noise + (PATTERN_TOLERANCE * amount).powi(2) + taken * taken + doubtful * doubtful;
    let mut cover = f64::INFINITY;
    if amount * amount > CURIOUS * CURIOUS * u2 {
        let disturbed = NEIGHBOUR_TOLERANCE * neighbours(scene, at + peak.from, at + peak.to) / peak.height;
        let satellites = SATELLITE_SHARE * scene.satellite_parents(position) / peak.protons;
        u2 += disturbed * disturbed + satellites * satellites;
        cover = context.cover(
            scene,
            own.centre.unwrap_or(position),
            amount * group.protons,
            amount * group.together,
        );
    }
    let missing_cap = if group.exchangeable { 0.0 } else { MISSING_CAP };
    let witness = Witness { amount, u: u2.sqrt(), cover, missing_cap };
    Some((witness, own))
}

/// Area that stands at a place.
pub(super) struct Own {
    left: f64,
    taken: f64,
    /// Area of what processing takes for satellites and artefacts: signals may be among it.
    doubtful: f64,
    /// Where the largest of the lines stands.
    centre: Option<f64>,
}

/// A line this near to a peak's sticks is the peak, in hertz.
fn on_place(scene: &Scene<'_>) -> f64 {
    (ON_PLACE_WIDTHS * scene.width).max(ON_PLACE_HZ)
}

/// What stands at a peak's place, of some lines.
fn standing(scene: &Scene<'_>, lines: std::ops::Range<usize>, from: f64, to: f64) -> Own {
    let on = on_place(scene);
    let mut own = Own { left: 0.0, taken: 0.0, doubtful: 0.0, centre: None };
    let mut largest = 0.0;
    let lines = &scene.lines[lines];
    let first = lines.partition_point(|line| line.at < from - on);
    for line in lines[first..].iter().take_while(|line| line.at <= to + on) {
        if !line.is_signal() {
            own.doubtful += line.area.abs();
        } else if line.factor < WIDEST {
            own.left += line.left;
            own.taken += line.taken;
            if line.left > largest {
                largest = line.left;
                own.centre = Some(line.at);
            }
        }
    }
    own
}

/// Height that neighbouring lines give at a peak's place.
fn neighbours(scene: &Scene<'_>, from: f64, to: f64) -> f64 {
    let on = on_place(scene);
    let near = NEIGHBOUR_WIDTHS * scene.width;
    scene.lines[scene.lines_within(from - near, to + near)]
        .iter()
        .map(|line| (line, (from - line.at).max(line.at - to)))
        .filter(|(_, off)| *off > on)
        .map(|(line, off)| line.area * scene.shape.value(lees_core::Hertz(off), line.factor))
        .sum()
}

/// Takes a molecule off the lines that are still to be explained.
pub(crate) fn take_off(scene: &mut Scene<'_>, context: &mut Context, pattern: &Pattern, found: &Assessment) {
    for fit in &found.groups {
        let group = &pattern.groups[fit.group];
        let peaks = peaks(scene, group);
        if !group.resolved || is_crowded(peaks) {
            let (from, to) = reach(scene, group, fit.at);
            take(scene, context, from, to, found.amount * group.protons);
            context.take(fit.at, found.amount * group.protons);
            continue;
        }
        for peak in peaks {
            let area = found.amount * peak.protons;
            take_peak(scene, peak, fit.at, area);
            context.take(fit.at + (peak.from + peak.to) / 2.0, area);
        }
    }
}

/// Takes an area off the lines at a peak's place, in proportion to what is left of each; what they do not hold is
/// taken off the points beside them.
fn take_peak(scene: &mut Scene<'_>, peak: &Peak, at: f64, area: f64) {
    let on = on_place(scene);
    let lines = scene.lines_within(at + peak.from - on, at + peak.to + on);
    let there: f64 = scene.lines[lines.clone()].iter().map(|l| l.left.max(0.0)).sum();
    let share = if there > 0.0 { (area / there).min(1.0) } else { 0.0 };
    for line in &mut scene.lines[lines] {
        let part = share * line.left.max(0.0);
        line.left -= part;
        line.taken += part;
    }
    if there < LEAST_FITTED * area {
        let middle = (peak.from + peak.to) / 2.0;
        scene.take_unseen(&peak.sticks, at + middle, (area - there) / peak.protons);
    }
}
