//! Signals that neither the product nor a known compound answers for.

use lees_core::check::{Estimate, Unexplained};
use lees_core::{Line, Multiplicity, Ppm, ShiftRange};
use lees_process::Processed;

use crate::assign::bound::PLACE_SPREADS;
use crate::assign::probe::GroupFit;
use crate::assign::quantify::Quantified;
use crate::assign::search::{Accepted, solvent_places};
use crate::assign::water::hdo;
use crate::fit::scene::{Scene, SceneLine, total};
use crate::fit::template::extent;
use crate::hump::{self, LowHump};
use crate::pattern::{Pattern, PatternGroup, Role};
use crate::product::Described;
use crate::table::{NmrSolvent, Tables};

/// A line this many times its uncertainty is a signal.
const LEAST_SIGNIFICANCE: f64 = 6.0;
/// Lines further apart than this, in hertz, are different signals.
const WIDEST_GAP_HZ: f64 = 18.0;

/// Wider than this many common widths is broad.
const BROAD: f64 = 4.0;
/// Wider than this, in ppm, is the baseline: protons that exchange make no wider line (common practice, no source).
const BASELINE: f64 = 1.0;
/// Widths about a stick of a named molecule within which lines belong to it.
const OWN_WIDTHS: f64 = 2.0;
/// Relative uncertainty of what a named molecule answers for at its own places: roofs, satellites, feet.
const SURPLUS_TOLERANCE: f64 = 0.1;
/// More than this many standard uncertainties beyond it is something else.
const SURPLUS_SIGMAS: f64 = 4.0;

/// Exchanging protons show this share of their number: some go into water's line, some come from it.
const EXCHANGE_SHARE: (f64, f64) = (0.4, 1.6);

/// A stretch that something answers for, in hertz from the first point.
#[derive(Debug, Clone, Copy)]
struct Answered {
    /// First position.
    from: f64,
    /// Last position.
    to: f64,
}

impl Answered {
    fn holds(&self, position: f64) -> bool {
        self.from <= position && position <= self.to
    }
}

/// What the unexplained is looked for in.
pub(crate) struct Search<'a> {
    pub scene: &'a Scene<'a>,
    pub processed: &'a Processed,
    pub patterns: &'a [Pattern],
    pub named: &'a [Accepted],
    pub fitted: &'a Quantified,
    pub described: Option<&'a Described>,
    pub solvent: Option<&'a NmrSolvent>,
    /// Area of one product proton and its uncertainty.
    pub per_proton: Option<(f64, f64)>,
    /// Fewer protons than this are not reported.
    pub least_protons: f64,
}

impl Search<'_> {
    /// What is left, as signals: lines at places where nothing answers for them, and area beyond what named molecules answer for
    /// at theirs. Beside them the humps that are too low for signals.
    pub(crate) fn run(&self, exchanging: &[Exchanging]) -> (Vec<Unexplained>, Vec<LowHump>) {
        let answered = self.answered();
        let enough =
            |signal: &Unexplained| signal.relative_protons.is_none_or(|p| p.value >= self.least_protons);
        let by_shift = |a: &Unexplained, b: &Unexplained| b.shift.0.total_cmp(&a.shift.0);
        let (mut signals, mut humps) = lone(self, &answered, exchanging);
        signals.extend(surplus(self, &answered));
        signals.retain(enough);
        signals.sort_by(by_shift);
        humps.retain(enough);
        humps.sort_by(by_shift);
        let low = |hump: &Unexplained| (hump.shift.0, hump.relative_protons.map(|p| p.value));
        (signals, humps.iter().map(low).collect())
    }
}

/// Signals where nothing answers for any line, and humps too low for signals.
fn lone(
    search: &Search<'_>,
    answered: &[Answered],
    exchanging: &[Exchanging],
) -> (Vec<Unexplained>, Vec<Unexplained>) {
    let scene = search.scene;
    let mut groups: Vec<Vec<usize>> = Vec::new();
    let products = |k: usize| search.described.is_some_and(|d| d.counts_broad(scene, &scene.lines[k]));
    for k in (0..scene.lines.len()).filter(|&k| is_left(scene, k, answered) && !products(k)) {
        match groups.last_mut() {
            Some(group) if scene.lines[k].at - scene.lines[group[group.len() - 1]].at < WIDEST_GAP_HZ => {
                group.push(k);
            }
            _ => groups.push(vec![k]),
        }
    }
    let signal = |group: &Vec<usize>| {
        let mut signal = describe(scene, search.processed, group, search.per_proton);
        let hint = || {
            solvent_note(scene, search.patterns, &signal)
                .or_else(|| exchange_note(scene, group, exchanging))
                .or_else(|| hump::note(scene, group))
                .or_else(|| place_note(search.patterns, &signal))
        };
        signal.note = signal.note.clone().or_else(hint);
        signal
    };
    // what is as large as the OH of something that was found is no mere baseline
    let is_low =
        |group: &&Vec<usize>| hump::is_low(scene, group) && exchange_note(scene, group, exchanging).is_none();
    let (low, apart): (Vec<_>, Vec<_>) = groups.iter().partition(is_low);
    (apart.into_iter().map(signal).collect(), low.into_iter().map(signal).collect())
}

/// A stretch where named molecules have lines, outside the product's signals.
struct Taken<'a> {
    from: f64,
    to: f64,
    /// Area they answer for.
    area: f64,
    names: Vec<&'a str>,
    /// Whether the tube's own water or solvent, whose lines no table foretells to the per cent, is among them.
    vague: bool,
    /// Whether an alkane is among them.
    alkane: bool,
}

/// What comes with an alkane from the bottle (common practice, no source).
const MIXED_ALKANES: &str = ": other alkanes, as in hexanes or petroleum ether?";
/// All protons of alkanes stand in this stretch, in ppm.
const ALKANES: std::ops::Range<f64> = 0.6..1.9;

/// Area beyond what the named molecules answer for at their own places: something else has lines there too.
fn surplus(search: &Search<'_>, answered: &[Answered]) -> Vec<Unexplained> {
    let scene = search.scene;
    let beyond = |taken: &Taken<'_>| {
        let lines: Vec<&SceneLine> = scene
            .signals_within(taken.from, taken.to)
            .filter(|line| answered.iter().any(|a| a.holds(line.at)))
            .collect();
        let area: f64 = lines.iter().map(|l| l.area).sum();
        let noise2: f64 = lines.iter().map(|l| l.area_u * l.area_u).sum();
        let (excess, u) = (area - taken.area, libm::hypot(noise2.sqrt(), SURPLUS_TOLERANCE * taken.area));
        (excess > SURPLUS_SIGMAS * u).then(|| {
            let centre = lines.iter().map(|l| l.at * l.area).sum::<f64>() / area;
            Unexplained {
                shift: scene.shift(centre),
                range: ShiftRange::new(scene.shift(taken.from), scene.shift(taken.to)),
                multiplicity: Multiplicity::multiplet(),
                relative_protons: search.per_proton.map(|(value, u_one)| protons(excess, u, value, u_one)),
                area: excess,
                note: Some(format!(
                    "beyond what {} accounts for here{}",
                    taken.names.join(" and "),
                    if taken.alkane { MIXED_ALKANES } else { "" }
                )),
                alkanes: taken.alkane,
            }
        })
    };
    search.taken().iter().filter_map(beyond).collect()
}

impl<'a> Search<'a> {
    /// Where named molecules have lines and the product has none, what overlaps taken together, by growing position.
    fn taken(&self) -> Vec<Taken<'a>> {
        let mut groups: Vec<Taken<'a>> = self
            .groups()
            .filter_map(|(named, found, group)| {
                let pattern = &self.patterns[self.named[named].pattern];
                let (from, to) = self.reach(named, found, group);
                let area = self.fitted.amounts.each[named]?.value * group.protons;
                let vague = matches!(pattern.role, Role::Water | Role::Residual);
                let alkane = pattern.groups.len() > 1
                    && pattern.groups.iter().all(|group| ALKANES.contains(&group.expected.0));
                Some(Taken { from, to, area, names: vec![pattern.name.as_str()], vague, alkane })
            })
            .collect();
        groups.sort_by(|a, b| a.from.total_cmp(&b.from));
        let mut merged: Vec<Taken<'a>> = Vec::new();
        for next in groups {
            match merged.last_mut().filter(|last| next.from <= last.to) {
                Some(last) => {
                    last.to = last.to.max(next.to);
                    last.area += next.area;
                    last.names.extend(next.names);
                    last.names.dedup();
                    last.vague |= next.vague;
                    last.alkane |= next.alkane;
                }
                None => merged.push(next),
            }
        }
        let regions = || self.described.iter().flat_map(|d| &d.regions);
        merged.retain(|taken| !taken.vague && !regions().any(|r| r.from < taken.to && taken.from < r.to));
        merged
    }

    /// Every group that was looked at of every named molecule.
    fn groups(&self) -> impl Iterator<Item = (usize, &'a GroupFit, &'a PatternGroup)> {
        let (named, patterns) = (self.named, self.patterns);
        named.iter().enumerate().flat_map(move |(k, accepted)| {
            let pattern = &patterns[accepted.pattern];
            accepted.found.groups.iter().map(move |found| (k, found, &pattern.groups[found.group]))
        })
    }

    /// Where a group stands: its centre, how far its lines are stretched, and the margin about each.
    fn pose(&self, named: usize, found: &GroupFit) -> (f64, f64, f64) {
        let pose = self.fitted.member(named, found.group).map(|m| m.pose);
        let (at, stretch, factor) =
            pose.map_or((found.at, 1.0, found.factor), |p| (p.at, p.stretch, p.factor));
        (at, stretch, OWN_WIDTHS * self.scene.width * factor)
    }

    /// From the first to the last of a group's lines.
    fn reach(&self, named: usize, found: &GroupFit, group: &PatternGroup) -> (f64, f64) {
        let (at, stretch, margin) = self.pose(named, found);
        let (low, high) = extent(&group.sticks, 0.0);
        (at + stretch * low - margin, at + stretch * high + margin)
    }

    /// What the product and the named molecules answer for.
    fn answered(&self) -> Vec<Answered> {
        let regions = self.described.iter().flat_map(|d| &d.regions);
        let mut all: Vec<Answered> = regions.map(|r| Answered { from: r.from, to: r.to }).collect();
        for (named, found, group) in self.groups() {
            let (at, stretch, margin) = self.pose(named, found);
            all.extend(group.sticks.iter().map(|stick| {
                let place = at + stretch * stick.offset;
                Answered { from: place - margin, to: place + margin }
            }));
            let pattern = &self.patterns[self.named[named].pattern];
            if pattern.role == Role::Water {
                all.extend(hdo(self.scene, self.solvent, at).map(|(from, to)| Answered { from, to }));
            }
        }
        all
    }
}

fn is_left(scene: &Scene<'_>, k: usize, answered: &[Answered]) -> bool {
    let line = &scene.lines[k];
    line.is_signal()
        && line.factor * scene.width < BASELINE * scene.field()
        && line.area > LEAST_SIGNIFICANCE * line.area_u
        && !answered.iter().any(|a| a.holds(line.at))
        && !scene.is_foot(line)
}

fn describe(
    scene: &Scene<'_>,
    processed: &Processed,
    group: &[usize],
    per_proton: Option<(f64, f64)>,
) -> Unexplained {
    let lines = || group.iter().map(|&k| &scene.lines[k]);
    let (area, variance) = total(lines());
    let centre = lines().map(|l| l.at * l.area).sum::<f64>() / area;
    let (first, last) = (scene.lines[group[0]].at, scene.lines[group[group.len() - 1]].at);
    let range = ShiftRange::new(scene.shift(first - scene.width), scene.shift(last + scene.width));
    Unexplained {
        shift: scene.shift(centre),
        range,
        multiplicity: multiplicity(scene, processed, group),
        relative_protons: per_proton.map(|(value, u)| protons(area, variance.sqrt(), value, u)),
        area,
        note: note(scene.shift(centre), group.len()),
        alkanes: false,
    }
}

/// Protons of a named molecule that exchange, so that no table knows their place.
#[derive(Debug, Clone)]
pub(crate) struct Exchanging {
    /// The molecule.
    pub name: String,
    /// The group, such as OH.
    pub group: String,
    /// Area to expect.
    pub area: f64,
}

/// The exchanging protons of named molecules.
pub(crate) fn exchanging(
    tables: &Tables,
    patterns: &[Pattern],
    named: &[Accepted],
    fitted: &Quantified,
) -> Vec<Exchanging> {
    let of = |(k, accepted): (usize, &Accepted)| {
        let compound = patterns[accepted.pattern].compound_in(tables)?;
        let amount = fitted.amounts.each[k]?.value;
        let group = compound.groups.iter().find(|g| g.exchangeable)?;
        let area = amount * f64::from(group.protons?);
        Some(Exchanging { name: compound.name.clone(), group: group.name.clone(), area })
    };
    named.iter().enumerate().filter_map(of).collect()
}

/// A broad signal of about the right size may be a named molecule's OH or NH.
fn exchange_note(scene: &Scene<'_>, group: &[usize], exchanging: &[Exchanging]) -> Option<String> {
    let lines = || group.iter().map(|&k| &scene.lines[k]);
    let area: f64 = lines().map(|l| l.area).sum();
    let broad = lines().any(|l| l.factor > BROAD);
    let fits = |e: &&Exchanging| area > EXCHANGE_SHARE.0 * e.area && area < EXCHANGE_SHARE.1 * e.area;
    let found = exchanging.iter().filter(|_| broad).find(fits)?;
    Some(format!("broad and about as large as the {} of {}: exchanging protons?", found.group, found.name))
}

/// A signal may be the NMR solvent's own although it was not recognised.
fn solvent_note(scene: &Scene<'_>, patterns: &[Pattern], signal: &Unexplained) -> Option<String> {
    let at = scene.position(signal.shift);
    let meets = |pattern: &&Pattern| {
        pattern.role == Role::Residual
            && solvent_places(scene, std::slice::from_ref(pattern)).iter().any(|(a, b)| *a < at && at < *b)
    };
    patterns.iter().find(meets).map(|pattern| format!("at the place of {}", pattern.name))
}

/// A lone line may be a volatile that shows no other, although too little speaks for it.
fn place_note(patterns: &[Pattern], signal: &Unexplained) -> Option<String> {
    let off = |pattern: &Pattern| {
        let [only] = &pattern.groups[..] else { return None };
        let off = (only.expected.0 - signal.shift.0).abs();
        let alike = only.multiplicity.is_singlet() && signal.multiplicity.is_singlet();
        (alike && off < PLACE_SPREADS * only.spread.0).then_some(off)
    };
    let volatiles = patterns.iter().filter(|p| p.role == Role::Volatile);
    let near = volatiles.filter_map(|p| Some((off(p)?, p)));
    let likeliest = near.min_by(|a, b| b.1.prior.total_cmp(&a.1.prior).then(a.0.total_cmp(&b.0)))?;
    Some(format!("{} would stand near here", likeliest.1.name))
}

fn protons(area: f64, area_u: f64, per_proton: f64, per_proton_u: f64) -> Estimate {
    let value = area / per_proton;
    let u = value * libm::hypot(area_u / area, per_proton_u / per_proton);
    crate::interval::nonnegative(value, u)
}

/// The multiplet of processing that has these lines, when it has no others.
fn multiplicity(scene: &Scene<'_>, processed: &Processed, group: &[usize]) -> Multiplicity {
    let old = processed.spectrum.axis;
    let position = |line: &Line| old.position(line.shift) * scene.hz;
    let holds = |m: &lees_core::Multiplet| {
        m.lines.len() == group.len()
            && m.lines.iter().all(|&l| {
                processed.lines.get(l).is_some_and(|line| {
                    group.iter().any(|&k| (scene.lines[k].at - position(line)).abs() < 0.5 * scene.width)
                })
            })
    };
    processed.multiplets.iter().find(|m| holds(m)).map_or_else(
        || if group.len() == 1 { Multiplicity::singlet() } else { Multiplicity::multiplet() },
        |m| m.multiplicity.clone(),
    )
}

fn note(shift: Ppm, lines: usize) -> Option<String> {
    let alkyl = (0.8..1.4).contains(&shift.0) && lines > 3;
    alkyl.then(|| "alkyl chain: grease, wax or an aliphatic impurity?".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::scene::tests::{line, wet_dye};

    #[test]
    fn lines_that_are_a_multiplet_of_processing_have_its_multiplicity() {
        let processed = wet_dye();
        let scene = Scene::of(&processed, processed.spectrum.axis);
        let with_area = |area: f64| scene.lines.iter().position(|line| line.area == area).expect("a copy");
        let mut seen = Vec::new();
        for multiplet in processed.multiplets.iter().filter(|m| m.lines.len() > 1) {
            let group: Vec<usize> =
                multiplet.lines.iter().map(|&l| with_area(processed.lines[l].area)).collect();
            assert_eq!(multiplicity(&scene, &processed, &group), multiplet.multiplicity);
            seen.push(multiplet.multiplicity.to_string());
        }
        for known in ["t", "q"] {
            assert!(seen.iter().any(|name| name == known), "a {known} of the dye: {seen:?}");
        }
    }

    #[test]
    fn a_hump_may_be_a_signal_and_the_baseline_is_none() {
        let processed = wet_dye();
        let mut scene = Scene::of(&processed, processed.spectrum.axis);
        let hump = |ppm: f64| SceneLine { factor: ppm * scene.field() / scene.width, ..line(900.0, 50.0) };
        let lines = [hump(0.3), hump(1.2), line(1500.0, 50.0)];
        scene.lines = lines.to_vec();
        assert!(is_left(&scene, 0, &[]) && !is_left(&scene, 1, &[]) && is_left(&scene, 2, &[]));
    }
}
