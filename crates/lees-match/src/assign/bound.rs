//! How much of a molecule may be there although it was not named.

use super::context::{Context, Room};
use super::probe::{
    Assessment, BESIDE_HZ, Company, PATTERN_TOLERANCE, Peak, on_place, peaks, undisturbed, witness,
};
use super::search::{is_clear, is_within};
use super::wide::{are_bunched, band, crowded, is_crowded, narrow_lines};
use crate::fit::scene::{Scene, SceneLine, total};
use crate::fit::template::extent;
use crate::pattern::{Pattern, PatternGroup};

/// A molecule that lacks less log-evidence than this for naming may be there (odds of 1 to 400).
const DOUBTFUL: f64 = 6.0;
/// From this log-evidence on, odds of 1 to 19, a molecule may be there with a probability of more than 5 %: no interval of 95 % may
/// leave it out.
const PROBABLE: f64 = -2.944_438_979_166_44;
/// Something stands at a molecule's places when its log-evidence exceeds its prior by more than this.
const SPEAKS: f64 = 1.0;
/// Something unexplained this many spreads of a group's place away may be the group.
pub(crate) const PLACE_SPREADS: f64 = 3.5;
/// A group is looked for up to this many spreads beside its place when it is asked how well it would be seen wherever it stands.
const ABOUT: f64 = 1.4;
/// Lines fitted as those of something else hold a molecule's area within this share (chosen on a worked spectrum).
const OTHER_LOOK: f64 = 0.15;
/// Of a line that was taken for a named molecule's, less than this share left is the misfit of that molecule's pattern.
const LEAST_LEFT: f64 = 0.3;
/// One-sided 95 % point of the normal law.
pub(crate) const ONE_SIDED: f64 = 1.645;
/// Signals of one molecule agree with one another within this: relaxation of different protons (common practice, no source).
const SAME_MOLECULE: f64 = 0.05;
/// A peak of a named molecule holds nothing else when its area is within this share of the molecule's (common practice, no source).
const CLEAN: f64 = 0.15;

/// A molecule that was named, and how it was found.
pub(crate) type Named<'a> = (&'a Pattern, &'a Assessment);

/// The most that can be there of a molecule that was not named: in the open, `sigmas` times the noise would have been named;
/// among the product's signals, on lines of a named molecule and in bands of unknown structure, no more than what stands there
/// beyond what is accounted for, with its one-sided 95 % limit. The group that shows most decides; infinite when none does. First each
/// group at its place, then each at the place within [`ABOUT`] that shows least.
pub(crate) fn at_most(
    scene: &Scene<'_>,
    pattern: &Pattern,
    context: &Context,
    named: &[Named<'_>],
    sigmas: f64,
) -> (f64, f64) {
    let (mut there, mut about) = (Shown::nothing(), Shown::nothing());
    for group in pattern.groups.iter().filter(|g| !g.exchangeable) {
        let peaks = if group.resolved { peaks(scene, group) } else { &[] };
        let (at, slack) = (scene.position(group.expected), group.spread.0 * scene.field());
        let mut bound = whole_signals(peaks, at, slack, context);
        if !group.resolved || is_crowded(group, peaks) {
            bound = bound.min(wide(scene, group, context));
        } else {
            let shown = |at: f64| Shown::at(at, scene, group, context, named, sigmas);
            let own = shown(at);
            there.add(&own);
            let larger = |a: &Shown, b: &Shown| a.bound(sigmas).total_cmp(&b.bound(sigmas));
            let all = std::iter::once(own).chain(beside(scene, group).map(shown));
            about.add(&all.max_by(larger).unwrap_or(own));
        }
        there.among = there.among.min(bound);
        about.among = about.among.min(bound);
    }
    (there.bound(sigmas), about.bound(sigmas))
}

/// Where a group may stand beside its place, in hertz from the first point: nowhere that matters when no line is near.
fn beside(scene: &Scene<'_>, group: &PatternGroup) -> impl Iterator<Item = f64> {
    let (at, furthest) = (scene.position(group.expected), ABOUT * group.spread.0 * scene.field());
    let (low, high) = extent(&group.sticks, 0.0);
    let reach = furthest + on_place(scene);
    let is_open = scene.lines_within(at + low - reach, at + high + reach).is_empty();
    let shares = [-1.0, -0.5, 0.5, 1.0].into_iter().filter(move |_| !is_open);
    shares.map(move |share| at + share * furthest)
}

/// What peaks would show.
#[derive(Clone, Copy)]
struct Shown {
    /// Inverse variance of the amount by peaks in the open.
    information: f64,
    /// The least upper limit by those among other lines.
    among: f64,
}

impl Shown {
    const fn nothing() -> Self {
        Self { information: 0.0, among: f64::INFINITY }
    }

    fn add(&mut self, other: &Self) {
        self.information += other.information;
        self.among = self.among.min(other.among);
    }

    /// By the peaks of a group at one place.
    fn at(
        at: f64,
        scene: &Scene<'_>,
        group: &PatternGroup,
        context: &Context,
        named: &[Named<'_>],
        sigmas: f64,
    ) -> Self {
        let peaks = peaks(scene, group);
        let mut shown = Self { information: 0.0, among: whole_signals(peaks, at, 0.0, context) };
        for peak in peaks {
            match sharp(scene, group, peak, at, context, named, sigmas) {
                Some(Seen::Among(bound)) => shown.among = shown.among.min(bound),
                Some(Seen::Open(noise)) => shown.information += (noise * noise).max(1e-300).recip(),
                None => {}
            }
        }
        shown
    }

    /// The most that can be there; infinite when nothing tells.
    fn bound(&self, sigmas: f64) -> f64 {
        if self.information > 0.0 { self.among.min(sigmas / self.information.sqrt()) } else { self.among }
    }
}

/// The most that can be there of a molecule that does not convince although something stands at its places: too little speaks
/// for it, but nothing against it. Nothing when it is plainly not there.
pub(crate) fn doubted(
    found: &Assessment,
    pattern: &Pattern,
    context: &Context,
    solvents: &[(f64, f64)],
) -> f64 {
    let least = context.least;
    let speaks = found.evidence - pattern.prior > SPEAKS;
    if speaks
        && has_own_lines(found, solvents)
        && found.evidence > least.evidence - DOUBTFUL
        && found.noise.is_finite()
    {
        upper(found.amount, libm::hypot(found.noise, PATTERN_TOLERANCE * found.amount))
    } else {
        0.0
    }
}

/// Whether a molecule that was not named may be there with a probability of more than 5 %, on lines of its own that are clear of noise.
pub(crate) fn is_probable(found: &Assessment, context: &Context, solvents: &[(f64, f64)]) -> bool {
    found.evidence > PROBABLE
        && found.significance() >= context.least.significance
        && has_own_lines(found, solvents)
}

/// Whether a group is clear on lines that neither another molecule nor the NMR solvent has.
fn has_own_lines(found: &Assessment, solvents: &[(f64, f64)]) -> bool {
    found.groups.iter().any(|g| is_clear(g) && g.fresh && !is_within(solvents, g.at))
}

/// The most of a molecule that what is unexplained at its places can be, whatever its look: no table's pattern is beyond doubt.
/// Lines where those of the NMR solvent stand, `solvents`, are its own. Every group in the open must have its share, so the one
/// that shows least decides; of one among the product's lines nothing is known, but for what hides in a signal that is too large.
pub(crate) fn stands(
    scene: &Scene<'_>,
    pattern: &Pattern,
    context: &Context,
    solvents: &[(f64, f64)],
) -> f64 {
    let of_group = |group: &PatternGroup| {
        let at = scene.position(group.expected);
        if context.is_in_unknown(at) {
            return None;
        }
        let slack = PLACE_SPREADS * group.spread.0 * scene.field() + scene.width;
        let (low, high) = extent(&group.sticks, 0.0);
        let (from, to) = (at + low - slack, at + high + slack);
        let is_open = |line: &&SceneLine| {
            !context.is_products(scene, line.at)
                && !is_within(solvents, line.at)
                && line.left > LEAST_LEFT * line.area
                && !scene.is_foot(line)
        };
        let open: Vec<&SceneLine> = narrow_lines(scene, from, to).filter(is_open).collect();
        let (left, variance) = context.fitting(&open);
        let other = is_crowded(group, peaks(scene, group)) && are_bunched(&open, group);
        let u = libm::hypot(variance.sqrt(), OTHER_LOOK * left);
        let open = if other { 0.0 } else { upper(left, u) };
        let hidden = context.hidden(at).map_or(0.0, |room| upper(room.area, room.u));
        Some(open.max(hidden) / group.protons)
    };
    let open = pattern.groups.iter().filter(|g| !g.exchangeable).filter_map(of_group);
    open.reduce(f64::min).unwrap_or(0.0)
}

/// What one peak's place would show.
enum Seen {
    /// Noise of the amount where nothing of the product or of a named molecule stands.
    Open(f64),
    /// Upper limit where the product or a named molecule has lines.
    Among(f64),
}

fn sharp(
    scene: &Scene<'_>,
    group: &PatternGroup,
    peak: &Peak,
    at: f64,
    context: &Context,
    named: &[Named<'_>],
    sigmas: f64,
) -> Option<Seen> {
    let company = Company { protons: group.protons, together: group.protons, exchangeable: false };
    let w = witness(scene, company, peak, at, context)?;
    let tolerated = PATTERN_TOLERANCE * w.amount;
    let noise = (w.u * w.u - tolerated * tolerated).max(0.0).sqrt();
    if let Some((area, u)) = context.excess(scene, at + (peak.from + peak.to) / 2.0) {
        return Some(Seen::Among(upper(area / peak.protons, libm::hypot(noise, u / peak.protons))));
    }
    let beyond = beyond_named(scene, (at + peak.from, at + peak.to), named);
    Some(beyond.map_or(Seen::Open(noise), |(area, u)| {
        Seen::Among(upper(area, u).max(sigmas * undisturbed(scene, peak, at) * peak.protons) / peak.protons)
    }))
}

/// The bound by the whole signals of the product that hold peaks of a group at a place, or so many hertz beside it: no more than they
/// are larger than its protons.
fn whole_signals(peaks: &[Peak], at: f64, slack: f64, context: &Context) -> f64 {
    let bound = |room: Room| {
        let (from, to) = (room.from + slack, room.to - slack);
        let inside = peaks.iter().filter(|peak| from <= at + peak.from && at + peak.to <= to);
        let protons: f64 = inside.map(|peak| peak.protons).sum();
        if protons > 0.0 { upper(room.area, room.u) / protons } else { f64::INFINITY }
    };
    context.rooms().map(bound).fold(f64::INFINITY, f64::min)
}

/// Area about two positions beyond that of the named molecules with a peak there, by what their other peaks say, and its standard
/// uncertainty; `None` when there is none, or when nothing else tells how much there is of one.
fn beyond_named(scene: &Scene<'_>, (from, to): (f64, f64), named: &[Named<'_>]) -> Option<(f64, f64)> {
    let on = on_place(scene);
    let near = on.max(BESIDE_HZ);
    let (mut expected, mut variance) = (0.0, 0.0);
    for (pattern, found) in named {
        let all = found.groups.iter().flat_map(|fit| {
            let group = &pattern.groups[fit.group];
            let own: &[Peak] = if group.resolved { peaks(scene, group) } else { &[] };
            let known = is_clear(fit) && fit.fresh && !fit.by_area && !group.exchangeable;
            own.iter().map(move |peak| (fit.at + peak.from, fit.at + peak.to, peak.protons, known))
        });
        let (here, others): (Vec<_>, Vec<_>) =
            all.partition(|peak| peak.0 - near < to && from < peak.1 + near);
        let own: f64 = here.iter().map(|peak| peak.2).sum();
        if own <= 0.0 {
            continue;
        }
        let measured = others.into_iter().filter(|peak| peak.3).map(|(from, to, protons, _)| {
            let (area, u) = standing(scene, from - on, to + on);
            (area, u, protons)
        });
        let clean = measured.filter(|m| (m.0 - found.amount * m.2).abs() < CLEAN * found.amount * m.2);
        let (area, squares, protons) =
            clean.fold((0.0, 0.0, 0.0), |sum, m| (sum.0 + m.0, sum.1 + m.1 * m.1, sum.2 + m.2));
        if protons <= 0.0 {
            return None;
        }
        expected += own * area / protons;
        variance += squares * (own / protons).powi(2) + (SAME_MOLECULE * own * area / protons).powi(2);
    }
    let (area, u) = standing(scene, from - near, to + near);
    (expected > 0.0).then(|| ((area - expected).max(0.0), (variance + u * u).sqrt()))
}

/// Area of all lines between two positions, whoever they belong to, and its standard uncertainty.
fn standing(scene: &Scene<'_>, from: f64, to: f64) -> (f64, f64) {
    let (area, variance) = total(scene.signals_within(from, to));
    (area, variance.sqrt())
}

/// The bound by a band or a crowded multiplet.
fn wide(scene: &Scene<'_>, group: &PatternGroup, context: &Context) -> f64 {
    let witness = if group.resolved {
        crowded(scene, group, context, 0.0).and_then(|scan| scan.there(0).next())
    } else {
        band(scene, group, context)
    };
    witness.map_or(f64::INFINITY, |w| upper(w.amount, w.u))
}

/// One-sided 95 % upper limit of a measured amount.
fn upper(amount: f64, u: f64) -> f64 {
    amount.max(0.0) + ONE_SIDED * u
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assign::context::Occupied;
    use crate::assign::probe::tests::fit;
    use crate::fit::scene::tests::{line, wet_dye};
    use crate::pattern::tests::{group, pattern};

    /// Two lines of 30 and 50 at the place of two protons: 40 a proton, and half of 1.645 times the root of their variances, 9 and 16,
    /// and of the square of 15 % of their sum, 144.
    #[test]
    fn no_more_of_a_molecule_can_be_there_than_all_lines_at_its_place_and_their_noise() {
        let processed = wet_dye();
        let mut scene = Scene::of(&processed, processed.spectrum.axis);
        let molecule = pattern(vec![group(2.0, 2.0, &[(0.0, 1.0)])]);
        let at = scene.position(molecule.groups[0].expected);
        let noisy = |off: f64, area: f64, area_u: f64| SceneLine { area_u, ..line(at + off, area) };
        scene.lines = vec![noisy(-1.0, 30.0, 3.0), noisy(1.0, 50.0, 4.0)];
        let most = stands(&scene, &molecule, &Context::default(), &[]);
        assert!((most - (80.0 + 1.645 * 13.0) / 2.0).abs() < 1e-9, "{most}");
    }

    /// A signal of the product that should have an area of 100 has 30 (2) more, for the two protons of the molecule; 5 more may be its own.
    #[test]
    fn what_makes_a_signal_of_the_product_too_large_may_be_the_molecule() {
        let processed = wet_dye();
        let scene = Scene::of(&processed, processed.spectrum.axis);
        let molecule = pattern(vec![group(9.8, 2.0, &[(0.0, 1.0)])]);
        let at = scene.position(molecule.groups[0].expected);
        let most = |room: f64| {
            let (from, to) = (at - 20.0, at + 20.0);
            let sticks = Some(vec![crate::product::ProductStick { at: at + 10.0, area: 100.0, u: 1.0 }]);
            let stretch = Occupied { from, to, room, room_u: 2.0, expected: 100.0, sticks };
            stands(&scene, &molecule, &Context { occupied: vec![stretch], ..Context::default() }, &[])
        };
        assert!((most(30.0) - (30.0 + 1.645 * 2.0) / 2.0).abs() < 1e-9, "{}", most(30.0));
        assert_eq!(most(5.0), 0.0);
    }

    /// A line of the product whose area is uncertain by 50 stands 0.7 spreads from the place of two protons: they may be under it.
    #[test]
    fn what_stands_beside_the_place_of_a_group_may_hide_it() {
        let processed = wet_dye();
        let mut scene = Scene::of(&processed, processed.spectrum.axis);
        scene.lines.clear();
        let molecule = pattern(vec![group(9.8, 2.0, &[(0.0, 1.0)])]);
        let at = scene.position(molecule.groups[0].expected);
        let beside = at + 0.5 * ABOUT * molecule.groups[0].spread.0 * scene.field();
        let most = |scene: &Scene<'_>, context: &Context| at_most(scene, &molecule, context, &[], 4.0);
        let (_, alone) = most(&scene, &Context::default());
        let noise = undisturbed(&scene, &peaks(&scene, &molecule.groups[0])[0], at);
        assert!((alone / (4.0 * noise) - 1.0).abs() < 0.05, "{alone}");
        let stick = crate::product::ProductStick { at: beside, area: 900.0, u: 50.0 };
        let stretch = Occupied {
            from: beside - 3.0,
            to: beside + 3.0,
            room: 0.0,
            room_u: 50.0,
            expected: 900.0,
            sticks: Some(vec![stick]),
        };
        scene.lines = vec![line(beside, 900.0)];
        let context = Context { occupied: vec![stretch], ..Context::default() };
        let (there, under) = most(&scene, &context);
        assert!((under - 1.645 * 50.0 / 2.0).abs() < 1e-9, "{under} and {alone}");
        assert!(there < 0.8 * under, "{there}, at its place it would be seen better");
    }

    /// Singlets of 3 and 2 protons, 20 area units for the two: 30 are expected of the three, 35 stand there.
    #[test]
    fn on_a_named_molecules_line_there_is_room_for_what_its_other_lines_do_not_account_for() {
        let processed = wet_dye();
        let mut scene = Scene::of(&processed, processed.spectrum.axis);
        let molecule = pattern(vec![group(2.0, 3.0, &[(0.0, 1.0)]), group(4.0, 2.0, &[(0.0, 1.0)])]);
        let at = |k: usize| scene.position(molecule.groups[k].expected);
        let (three, two) = (at(0), at(1));
        let noisy = |at: f64, area: f64, area_u: f64| SceneLine { area_u, ..line(at, area) };
        scene.lines = vec![noisy(two, 20.0, 0.4), noisy(three, 35.0, 0.3)];
        let groups = vec![fit(0, three), fit(1, two)];
        let found = Assessment { amount: 10.5, noise: 0.1, evidence: 20.0, groups };
        let (area, u) =
            beyond_named(&scene, (three, three), &[(&molecule, &found)]).expect("known by the two");
        assert!((area - 5.0).abs() < 1e-9, "{area}");
        let expected = ((1.5 * 0.4f64).powi(2) + (0.05 * 30.0f64).powi(2) + 0.3f64.powi(2)).sqrt();
        assert!((u - expected).abs() < 1e-9, "{u}");
        let alone = Assessment { groups: vec![fit(0, three)], ..found };
        let nothing = beyond_named(&scene, (three, three), &[(&molecule, &alone)]);
        assert_eq!(nothing, None, "nothing else tells how much there is of it");
    }

    /// Ten units beyond the product's own with an uncertainty of 2, for the two protons inside: half of 10 and 1.645 times 2.
    #[test]
    fn among_the_products_signals_there_is_no_more_than_they_are_too_large() {
        let processed = wet_dye();
        let scene = Scene::of(&processed, processed.spectrum.axis);
        let split = group(2.0, 2.0, &[(-20.0, 0.5), (20.0, 0.5)]);
        let at = scene.position(split.expected);
        let stretch = |from: f64, to: f64| Occupied {
            from: at + from,
            to: at + to,
            room: 10.0,
            room_u: 2.0,
            expected: 100.0,
            sticks: None,
        };
        let bound = |stretch: Occupied| {
            let context = Context { occupied: vec![stretch], ..Context::default() };
            whole_signals(peaks(&scene, &split), at, split.spread.0 * scene.field(), &context)
        };
        assert!((bound(stretch(-50.0, 50.0)) - (10.0 + 1.645 * 2.0) / 2.0).abs() < 1e-9);
        assert!((bound(stretch(-50.0, 0.0)) - (10.0 + 1.645 * 2.0)).abs() < 1e-9, "one of the two lines");
        let spread = split.spread.0 * scene.field();
        assert_eq!(bound(stretch(-20.0 - 0.9 * spread, 0.0)), f64::INFINITY, "it may stand beside it");
        assert_eq!(bound(stretch(50.0, 90.0)), f64::INFINITY);
    }
}
