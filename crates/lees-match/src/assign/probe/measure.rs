//! What one peak of a group says of the molecule's amount, at one place.

use std::ops::Range;

use super::peak::{Kernel, Peak};
use super::{MISSING_CAP, PATTERN_TOLERANCE, TAKEN_TOLERANCE};
use crate::assign::context::Context;
use crate::evidence::{Columns, Witness};
use crate::fit::scene::{Scene, SceneLine};
use crate::pattern::{Pattern, PatternGroup};

/// Uncertainty of neighbouring lines that were taken off, relative.
const NEIGHBOUR_TOLERANCE: f64 = 0.05;
/// Neighbours further off than this many widths do not disturb.
const NEIGHBOUR_WIDTHS: f64 = 12.0;
/// A fitted line this near to a peak's sticks, in widths, is the peak ...
const ON_PLACE_WIDTHS: f64 = 0.45;
/// ... or this near in hertz, since couplings are tabulated to a tenth.
const ON_PLACE_HZ: f64 = 0.25;
/// Area that another molecule has taken within this many hertz may belong here in part: lines so near are those of crowded
/// multiplets, whose patterns are rough.
pub(in crate::assign) const BESIDE_HZ: f64 = 3.0;
/// Its share.
const BESIDE_TOLERANCE: f64 = 0.1;
/// A line wider than this many common widths, beyond what unresolved couplings make of it, is not a solvent's.
const WIDEST: f64 = 2.5;
/// Couplings to the ring or across an oxygen widen a methyl group's line by up to this, in hertz (common practice, no source).
const UNRESOLVED_HZ: f64 = 1.2;
/// Area of one carbon-13 satellite over its parent's.
const SATELLITE_SHARE: f64 = 0.0054;
/// What disturbs a peak is looked up only when the peak says more than this many standard uncertainties.
const CURIOUS: f64 = 1.5;

/// A group's protons, alone and with those of the molecule that stand in the same signal of the product.
#[derive(Debug, Clone, Copy)]
pub(in crate::assign) struct Company {
    pub(in crate::assign) protons: f64,
    pub(in crate::assign) together: f64,
    pub(in crate::assign) exchangeable: bool,
}

impl Company {
    /// The most that a peak of the group can weigh when it is missing.
    pub(super) const fn missing_cap(self) -> f64 {
        if self.exchangeable { 0.0 } else { MISSING_CAP }
    }
}

pub(super) fn company(
    scene: &Scene<'_>,
    pattern: &Pattern,
    group: &PatternGroup,
    context: &Context,
) -> Company {
    let at = scene.position(group.expected);
    let beside = |other: &&PatternGroup| {
        let slack = super::furthest(scene, group) + super::furthest(scene, other);
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
pub(in crate::assign) fn witness(
    scene: &Scene<'_>,
    group: Company,
    peak: &Peak,
    at: f64,
    context: &Context,
) -> Option<Witness> {
    let centre = peak.centre(scene, at);
    let unseen = *peak.kernel(scene).unseen(scene, centre, 1).1.first()?;
    let on = on_place(scene);
    let mut own = Own::default();
    let near = |reach: f64| scene.lines_within(at + peak.from - reach, at + peak.to + reach);
    own.beside = scene.lines[near(on.max(BESIDE_HZ))].iter().map(|line| line.taken).sum();
    let widest = widest(scene, peak);
    near(on).for_each(|index| own.add(&scene.lines, index, widest));
    let measured = Measured { peak, kernel: peak.kernel(scene), group };
    let (amount, u2) = measured.plain(scene, centre as usize, unseen, Some(&own));
    let Disturbed { u2, cover } = match is_much(amount, u2) {
        true => measured.disturbed(scene, at, (amount, u2), Some(&own), context),
        false => Disturbed { u2, cover: f64::INFINITY },
    };
    Some(Witness { amount, u: u2.sqrt(), cover, missing_cap: group.missing_cap() })
}

/// Standard uncertainty of the amount that a peak says at a place within the spectrum, by noise and what stands beside it, but for
/// lines of named molecules and without the pattern's tolerance, since nothing stands there.
pub(in crate::assign) fn undisturbed(scene: &Scene<'_>, peak: &Peak, at: f64) -> f64 {
    let kernel = peak.kernel(scene);
    let noise = kernel.noise_at(scene, peak.centre(scene, at) as usize);
    let open = |line: &SceneLine| line.taken < 0.5 * line.area;
    let beside = neighbours(scene, at + peak.from, at + peak.to, open);
    libm::hypot(noise, NEIGHBOUR_TOLERANCE * beside / kernel.height)
}

/// Area that stands at a place.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Own {
    pub(super) left: f64,
    pub(super) taken: f64,
    /// Taken area so near that a multiplet of unresolved lines may have left some of it here.
    beside: f64,
    /// Area of what processing takes for satellites and artefacts: signals may be among it.
    doubtful: f64,
    /// The largest of the lines.
    pub(super) largest: Option<usize>,
}

impl Own {
    fn add(&mut self, lines: &[SceneLine], index: usize, widest: f64) {
        let line = &lines[index];
        if !line.is_signal() {
            self.doubtful += line.area.abs();
        } else if line.factor < widest {
            self.left += line.left;
            self.taken += line.taken;
            self.beside -= line.taken;
            if line.left > self.largest.map_or(0.0, |largest| lines[largest].left) {
                self.largest = Some(index);
            }
        }
    }
}

/// The widest line, in common widths, that may be a peak: its sticks may have been fitted as one, and small couplings are in no
/// table.
fn widest(scene: &Scene<'_>, peak: &Peak) -> f64 {
    WIDEST + (peak.to - peak.from + UNRESOLVED_HZ) / scene.width
}

/// Places in a row, in hertz from the first point.
#[derive(Debug, Clone, Copy)]
pub(super) struct Row {
    pub(super) expected: f64,
    pub(super) step: f64,
    /// Places on either side of the expected one.
    pub(super) beside: usize,
}

impl Row {
    pub(super) const fn len(&self) -> usize {
        2 * self.beside + 1
    }

    pub(super) fn at(&self, place: usize) -> f64 {
        self.expected + (place as f64 - self.beside as f64) * self.step
    }

    /// The places between two positions.
    fn within(&self, from: f64, to: f64) -> Range<usize> {
        let index = |x: f64| (x - self.expected) / self.step + self.beside as f64;
        let (first, end) =
            (index(from).ceil().max(0.0) as usize, (index(to).floor() + 1.0).max(0.0) as usize);
        first.min(self.len())..end.clamp(first.min(self.len()), self.len())
    }
}

/// The places of a row worth looking at, by number, and how many places each stands for: all where a line stands in the place of
/// some peak, every other one elsewhere.
pub(super) fn spots(scene: &Scene<'_>, peaks: &[Peak], row: Row) -> Vec<(usize, f64)> {
    let on = on_place(scene);
    let (first, last) = (row.at(0), row.at(row.len() - 1));
    let mut met = vec![false; row.len()];
    for peak in peaks {
        for line in &scene.lines[scene.lines_within(first + peak.from - on, last + peak.to + on)] {
            met[row.within(line.at - peak.to - on, line.at - peak.from + on)].fill(true);
        }
    }
    let mut spots = Vec::with_capacity(row.len());
    let mut is_even = row.beside.is_multiple_of(2);
    for (place, met) in met.into_iter().enumerate() {
        if met || is_even {
            spots.push((place, if met { 1.0 } else { 2.0 }));
        }
        is_even = !is_even;
    }
    spots
}

/// What a peak says at some of the places of a row, and what stands there.
pub(super) struct Seen {
    /// The first of them that does not reach beyond the spectrum's ends.
    pub(super) first: usize,
    /// What is said from there on as far as the spectrum reaches.
    pub(super) said: Columns,
    /// What stands there, by number from the first, where anything does.
    pub(super) met: Vec<(usize, Own)>,
}

/// What a peak says at some of the places of a row.
pub(super) fn along(
    scene: &Scene<'_>,
    group: Company,
    peak: &Peak,
    row: Row,
    spots: &[(usize, f64)],
    context: &Context,
) -> Seen {
    let owns = Owns::of(scene, peak, row);
    let measured = Measured { peak, kernel: peak.kernel(scene), group };
    let centre = peak.centre(scene, row.at(0));
    let (inside, unseen) = measured.kernel.unseen(scene, centre, row.len());
    let first = spots.partition_point(|spot| spot.0 < inside.start);
    let spots = &spots[first..spots.partition_point(|spot| spot.0 < inside.end).max(first)];
    let mut said = Columns::new(spots.len(), group.missing_cap());
    let mut met = Vec::new();
    for (spot, &(number, _)) in spots.iter().enumerate() {
        let own = owns.at(number);
        let centre = (centre + (number * scene.stride) as i64) as usize;
        let (amount, u2) = measured.plain(scene, centre, unseen[number - inside.start], own);
        let Disturbed { u2, cover } = match is_much(amount, u2) {
            true => measured.disturbed(scene, row.at(number), (amount, u2), own, context),
            false => Disturbed { u2, cover: f64::INFINITY },
        };
        said.push(amount, u2.sqrt(), cover);
        if let Some(own) = own {
            met.push((spot, *own));
        }
    }
    Seen { first, said, met }
}

/// What stands at the places of a row.
struct Owns {
    /// By place, one more than the number of what stands there; zero where nothing does.
    numbers: Vec<u32>,
    owns: Vec<Own>,
}

impl Owns {
    fn of(scene: &Scene<'_>, peak: &Peak, row: Row) -> Self {
        let on = on_place(scene);
        let (first, last) = (row.at(0), row.at(row.len() - 1));
        let beside = on.max(BESIDE_HZ);
        let widest = widest(scene, peak);
        let mut all = Self { numbers: vec![0; row.len()], owns: Vec::new() };
        for index in scene.lines_within(first + peak.from - beside, last + peak.to + beside) {
            let SceneLine { at, taken, .. } = scene.lines[index];
            if taken > 0.0 {
                let near = row.within(at - peak.to - beside, at - peak.from + beside);
                all.each(near, |own| own.beside += taken);
            }
            let there = row.within(at - peak.to - on, at - peak.from + on);
            all.each(there, |own| own.add(&scene.lines, index, widest));
        }
        all
    }

    fn each(&mut self, places: Range<usize>, mut change: impl FnMut(&mut Own)) {
        for number in &mut self.numbers[places] {
            if *number == 0 {
                self.owns.push(Own::default());
                *number = self.owns.len() as u32;
            }
            change(&mut self.owns[*number as usize - 1]);
        }
    }

    fn at(&self, place: usize) -> Option<&Own> {
        match self.numbers[place] {
            0 => None,
            number => self.owns.get(number as usize - 1),
        }
    }
}

/// A peak of a group, as drawn.
#[derive(Clone, Copy)]
struct Measured<'a> {
    peak: &'a Peak,
    kernel: &'a Kernel,
    group: Company,
}

/// What disturbs a peak, counted: the square of its uncertainty, and what another signal at its place costs.
struct Disturbed {
    u2: f64,
    cover: f64,
}

impl Measured<'_> {
    /// The amount by what stands at a peak's place and by what the fitted lines do not hold there, `unseen`, and the square of its
    /// standard uncertainty, nothing beside it counted.
    #[inline]
    fn plain(&self, scene: &Scene<'_>, centre: usize, unseen: f64, own: Option<&Own>) -> (f64, f64) {
        let noise = self.kernel.noise_at(scene, centre);
        let protons = self.peak.protons;
        let (amount, uncertain) = own.map_or((unseen, 0.0), |own| {
            let beside = BESIDE_TOLERANCE * own.beside.max(0.0);
            let taken = TAKEN_TOLERANCE * own.taken;
            let uncertain = taken * taken + beside * beside + own.doubtful * own.doubtful;
            (own.left / protons + unseen, uncertain / (protons * protons))
        });
        (amount, noise * noise + (PATTERN_TOLERANCE * amount).powi(2) + uncertain)
    }

    /// What disturbs it when the group's centre stands at `at`.
    fn disturbed(
        &self,
        scene: &Scene<'_>,
        at: f64,
        (amount, u2): (f64, f64),
        own: Option<&Own>,
        context: &Context,
    ) -> Disturbed {
        let Self { peak, kernel, group } = *self;
        let disturbed =
            NEIGHBOUR_TOLERANCE * neighbours(scene, at + peak.from, at + peak.to, |_| true) / kernel.height;
        let position = at + (peak.from + peak.to) / 2.0;
        let satellites = SATELLITE_SHARE * scene.satellite_parents(position) / peak.protons;
        let mut cover = f64::INFINITY;
        if amount > 0.0 {
            let place = own.and_then(|own| own.largest).map_or(position, |index| scene.lines[index].at);
            cover = context.cover(scene, place, amount * group.protons, amount * group.together);
        }
        Disturbed { u2: u2 + (disturbed * disturbed + satellites * satellites), cover }
    }
}

/// Whether an amount says enough, by the square of its standard uncertainty, for what disturbs it to be looked up.
fn is_much(amount: f64, u2: f64) -> bool {
    amount * amount > CURIOUS * CURIOUS * u2
}

/// Whether a peak says enough for what disturbs it to be looked up.
pub(super) fn is_curious(witness: &Witness) -> bool {
    witness.amount > CURIOUS * witness.u
}

/// A line this near to a peak's sticks is the peak, in hertz.
pub(in crate::assign) fn on_place(scene: &Scene<'_>) -> f64 {
    (ON_PLACE_WIDTHS * scene.width).max(ON_PLACE_HZ)
}

/// Height that neighbouring lines of a kind give at a peak's place.
fn neighbours(scene: &Scene<'_>, from: f64, to: f64, kind: impl Fn(&SceneLine) -> bool) -> f64 {
    let on = on_place(scene);
    let near = NEIGHBOUR_WIDTHS * scene.width;
    scene.lines[scene.lines_within(from - near, to + near)]
        .iter()
        .map(|line| (line, (from - line.at).max(line.at - to)))
        .filter(|(line, off)| *off > on && kind(line))
        .map(|(line, off)| scene.value(line, line.at + off))
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assign::probe::peaks;
    use crate::fit::scene::tests::{line, wet_dye};
    use crate::pattern::tests::group;

    /// At 2 ppm carbon-13 satellites stand 59 to 71 Hz from their line: here one may be the upper line of a doublet, 20 Hz off
    /// its centre.
    #[test]
    fn a_peak_where_satellites_of_a_strong_line_stand_is_uncertain_by_them() {
        let processed = wet_dye();
        let mut scene = Scene::of(&processed, processed.spectrum.axis);
        let parent = line(scene.position(lees_core::Ppm(2.0)), 1000.0);
        let at = parent.at + 45.0;
        let own = line(at + 20.0, 5.0);
        let doublet = group(1.9, 1.0, &[(-20.0, 0.5), (20.0, 0.5)]);
        let peak = peaks(&scene, &doublet)[1].clone();
        let company = Company { protons: 1.0, together: 1.0, exchangeable: false };
        scene.open.fill(0.0);
        let mut u = |lines: Vec<SceneLine>| {
            scene.lines = lines;
            witness(&scene, company, &peak, at, &Context::default()).expect("within the spectrum").u
        };
        let (without, with) = (u(vec![own.clone()]), u(vec![parent.clone(), own.clone()]));
        let by_satellites = SATELLITE_SHARE * parent.area / peak.protons;
        assert!(with >= libm::hypot(without, 0.99 * by_satellites), "{with} and {without}");
    }

    /// Where the fitted lines may be wrong by as much as a line's height, its amount is no better known than that.
    #[test]
    fn an_amount_beside_tall_lines_is_uncertain_by_what_their_model_may_be_wrong_by() {
        let processed = wet_dye();
        let mut scene = Scene::of(&processed, processed.spectrum.axis);
        scene.lines.clear();
        scene.open.fill(0.0);
        let singlet = group(4.6, 2.0, &[(0.0, 1.0)]);
        let (peak, at) = (peaks(&scene, &singlet)[0].clone(), scene.position(singlet.expected));
        let company = Company { protons: 2.0, together: 2.0, exchangeable: false };
        let height = peak.kernel(&scene).height;
        let wrong = vec![100.0 * height; scene.points()];
        let u =
            |scene: &Scene<'_>| witness(scene, company, &peak, at, &Context::default()).expect("inside").u;
        let without = u(&scene);
        scene.allowance = &wrong;
        assert!((u(&scene) / libm::hypot(without, 100.0) - 1.0).abs() < 1e-3, "{} and {without}", u(&scene));
    }
}
