//! What else may stand at a place, and what it costs to say so.

mod occupied;

use lees_core::Product;

pub(crate) use occupied::{Occupied, Room};

use crate::fit::scene::{Scene, SceneLine};
use crate::product::{Described, on_stick};
use crate::settings::Settings;

/// Lines per ppm of impurities that no table knows, where the spectrum is empty (common practice, no source).
const QUIET_DENSITY: f64 = 0.3;
/// ... and weighed against that much of an empty spectrum, in ppm.
const QUIET_REACH: f64 = 1.5;
/// Lines closer than this, in hertz, are one signal.
const SAME_SIGNAL_HZ: f64 = 12.0;
/// The local density of lines is counted this far on both sides, in ppm.
const DENSITY_REACH: f64 = 0.15;
/// Unknown impurities are mostly smaller than this many protons of the product (common practice, no source).
const USUAL_PROTONS: f64 = 0.05;
/// Cost, as a natural logarithm, of another signal at exactly a peak's place where the product's own signals account for
/// the area.
const PRODUCT_COVER: f64 = 0.2;
/// A peak fits the room beside the product when it exceeds it by less than this many standard uncertainties.
const ROOM_SIGMAS: f64 = 2.0;

/// Unforeseen lines of the product are mostly under this share of a foreseen one.
const KIN_SHARE: f64 = 0.07;
/// The same of a named molecule's.
const NAMED_KIN_SHARE: f64 = 0.025;
/// Lines in a signal of unknown structure that hold at least this share of a peak may be it (chosen on simulated samples).
const ALIKE_SHARE: f64 = 0.3;
/// Cost of another signal in a stretch where the product's own signals outweigh a molecule's.
const COVERED_BAND: f64 = 1.0;
/// Uncertainty of an area that a named molecule has taken, relative.
const TAKEN_TOLERANCE: f64 = 0.1;

/// Within this many hertz of a line, one of less than this share of it may be a side band of a spinning tube, a cycling side band of
/// a decoupler or the mains (common practice, no source) ...
const BAND_HZ: f64 = 60.0;
const BAND_SHARE: f64 = 0.02;
/// ... of which so many stand about it (chosen on simulated samples).
const BANDS: f64 = 0.6;

/// So much more log-evidence is asked for without a product: any of its own signals may look like a solvent's.
const NO_PRODUCT: f64 = 2.0;

/// Knowledge that all probes share.
#[derive(Debug, Clone, Default)]
pub(crate) struct Context {
    /// The product's stretches, by growing position.
    pub occupied: Vec<Occupied>,
    /// Area of one product proton, when known.
    pub per_proton: Option<f64>,
    /// What it takes to be named.
    pub least: Least,
    /// Where lines of the NMR solvent stand that were not recognised as such, from and to, in hertz: what is there may be they.
    pub unrecognised: Vec<(f64, f64)>,
    /// Lines of the NMR solvent's multiplets that were recognised, in hertz.
    pub residual: Vec<f64>,
    /// Where HDO may stand beside the water that was found, in hertz.
    pub hdo: Option<(f64, f64)>,
}

/// What it takes for a molecule to be named.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Least {
    /// Log-evidence, prior odds counted.
    pub evidence: f64,
    /// Amount over its noise.
    pub significance: f64,
}

impl Context {
    /// The context of a described product.
    pub(crate) fn of(
        described: Option<(&Described, &Product)>,
        scene: &Scene<'_>,
        settings: &Settings,
    ) -> Self {
        let occupied = described.map_or_else(Vec::new, |(d, product)| d.occupied(scene, product));
        let per_proton = described.and_then(|(d, _)| d.per_proton.as_ref()).map(|p| p.value);
        let stranger = if described.is_some() { 0.0 } else { NO_PRODUCT };
        let least =
            Least { evidence: settings.least_evidence + stranger, significance: settings.least_significance };
        Self { occupied, per_proton, least, unrecognised: Vec::new(), residual: Vec::new(), hdo: None }
    }

    /// What it costs to explain a peak of `area` at a position by something else.
    ///
    /// Outside the product's stretches it is minus the logarithm of the chance that an unknown line stands within one
    /// line width of the place: the more lines stand about, the likelier.
    ///
    /// `together` is the area of all the molecule's groups in the same signal of the product: they share its room.
    pub(crate) fn cover(&self, scene: &Scene<'_>, position: f64, area: f64, together: f64) -> f64 {
        let shared = if self.about(position).all(|s| s.sticks.is_some()) { area } else { together };
        if !self.has_room(scene, position, shared) {
            return PRODUCT_COVER;
        }
        let about = 2.0 * DENSITY_REACH;
        let others = QUIET_DENSITY * QUIET_REACH + self.strangers(scene, position);
        let density = others / (QUIET_REACH + about)
            + self.kin(scene, position, area)
            + self.own(scene, position, area)
            + beside_tall(scene, position, area);
        let large = self.per_proton.map_or(1.0, |one| 1.0 + area.max(0.0) / (USUAL_PROTONS * one));
        libm::log((density / large * scene.width / scene.field()).min(1.0).recip()).max(PRODUCT_COVER)
    }

    /// The same for a whole stretch: the chance that an unknown signal stands anywhere in it.
    pub(crate) fn cover_within(&self, scene: &Scene<'_>, from: f64, to: f64, area: f64) -> f64 {
        let middle = (from + to) / 2.0;
        let density = QUIET_DENSITY + self.strangers(scene, middle) / (2.0 * DENSITY_REACH + QUIET_REACH);
        let large = self.per_proton.map_or(1.0, |one| 1.0 + area.max(0.0) / (USUAL_PROTONS * one));
        let own = self.product_area(from, to).0;
        if own > area.max(0.0) {
            return PRODUCT_COVER.max(COVERED_BAND);
        }
        libm::log((density / large * (to - from) / scene.field()).min(1.0).recip()).max(PRODUCT_COVER)
    }

    /// The product's own area in a line, where its lines are known one by one.
    pub(crate) fn stick_area(&self, scene: &Scene<'_>, position: f64) -> f64 {
        let reach = on_stick(scene);
        let known = self.about(position).filter_map(|s| s.sticks.as_deref()).flatten();
        known.filter(|s| (s.at - position).abs() < reach).map(|s| s.area).sum()
    }

    /// Whether a line at a position is the product's, or may be: on one of its known lines, or where they are not known.
    pub(crate) fn is_products(&self, scene: &Scene<'_>, position: f64) -> bool {
        let reach = on_stick(scene);
        self.about(position).any(|stretch| match &stretch.sticks {
            Some(sticks) => sticks.iter().any(|s| (s.at - position).abs() < reach),
            None => true,
        })
    }

    /// What is left of lines that are not the product's own, and its variance: within a signal of the product no more than that has
    /// beyond its protons, since lines that were not foreseen are the product's there.
    pub(crate) fn fitting(&self, lines: &[&SceneLine]) -> (f64, f64) {
        let (mut area, mut variance) = (0.0, 0.0);
        let mut within = vec![0.0; self.occupied.len()];
        for line in lines {
            match self.occupied.iter().position(|s| s.from <= line.at && line.at <= s.to) {
                Some(stretch) => within[stretch] += line.left.max(0.0),
                None => {
                    area += line.left.max(0.0);
                    variance += line.area_u * line.area_u;
                }
            }
        }
        for (stretch, left) in self.occupied.iter().zip(within).filter(|(_, left)| *left > 0.0) {
            area += left.min(stretch.room.max(0.0));
            variance += left.min(stretch.room_u).powi(2);
        }
        (area, variance)
    }

    /// Whether a position lies in a signal of the product whose lines are not known one by one.
    pub(crate) fn is_in_unknown(&self, position: f64) -> bool {
        self.about(position).any(|stretch| stretch.sticks.is_none())
    }

    /// The product's own area between two positions and its standard uncertainty.
    pub(crate) fn product_area(&self, from: f64, to: f64) -> (f64, f64) {
        let (mut area, mut variance) = (0.0, 0.0);
        for stretch in self.occupied.iter().filter(|s| s.from < to && from < s.to) {
            let (own, own_variance) = stretch.own_area(from, to);
            area += own;
            variance += own_variance;
        }
        (area, variance.sqrt())
    }

    /// Signals about a position, but not at it, that neither the product nor a named molecule answers for.
    fn strangers(&self, scene: &Scene<'_>, position: f64) -> f64 {
        let reach = DENSITY_REACH * scene.field();
        let (mut count, mut last) = (0.0, f64::NEG_INFINITY);
        for line in &scene.lines[scene.lines_within(position - reach, position + reach)] {
            let open = line.is_signal() && line.left > 0.5 * line.area;
            if !open || self.occupied.iter().any(|s| s.from <= line.at && line.at <= s.to) {
                continue;
            }
            let away = (line.at - position).abs() > SAME_SIGNAL_HZ;
            if away && line.at - last > SAME_SIGNAL_HZ {
                count += 1.0;
            }
            last = line.at;
        }
        count
    }

    /// Whether a signal of `area` fits at a position beside the product's own: within the product's stretches there must
    /// be clearly more area than the product accounts for.
    ///
    /// Where the product's lines are known one by one, only those at the position take room; but nothing fits that would
    /// leave the whole stretch with less than the product's protons: its lines stand elsewhere than thought, then.
    pub(crate) fn has_room(&self, scene: &Scene<'_>, position: f64, area: f64) -> bool {
        self.about(position).all(|stretch| {
            let fits = |(room, u): (f64, f64)| {
                let slack = ROOM_SIGMAS * u;
                room > slack && area < room + slack
            };
            let leaves_the_product = area < stretch.room + ROOM_SIGMAS * stretch.room_u;
            leaves_the_product
                && !self.may_hold_the_solvent(stretch)
                && stretch.room_at(scene, position).is_none_or(fits)
        })
    }

    /// Whether a line of the NMR solvent that was not recognised may stand in a stretch: what is beyond the product is it, then.
    fn may_hold_the_solvent(&self, stretch: &Occupied) -> bool {
        self.unrecognised.iter().any(|(from, to)| *from < stretch.to && stretch.from < *to)
    }

    /// Whether a position lies in a signal of the product that holds more than its protons and what is named there.
    pub(crate) fn is_too_large(&self, position: f64) -> bool {
        self.about(position).any(Occupied::is_too_large)
    }

    /// Whether two positions may lie in one signal of the product, give or take `slack`.
    pub(crate) fn same_signal(&self, a: f64, b: f64, slack: f64) -> bool {
        let near = |s: &Occupied, x: f64| s.from - slack <= x && x <= s.to + slack;
        self.occupied.iter().any(|s| near(s, a) && near(s, b))
    }

    /// Stretches that contain a position.
    fn about(&self, position: f64) -> impl Iterator<Item = &Occupied> {
        self.occupied.iter().filter(move |s| s.from <= position && position <= s.to)
    }

    /// Density of unforeseen lines of the product and of named molecules about their own, per ppm: small couplings, second
    /// order, rotamers.
    ///
    /// Such lines are mostly fainter than [`KIN_SHARE`] of a foreseen one.
    fn kin(&self, scene: &Scene<'_>, position: f64, area: f64) -> f64 {
        let reach = DENSITY_REACH * scene.field();
        let near = |stretch: &Occupied| -> f64 {
            let sticks = stretch.sticks.as_deref().unwrap_or_default();
            let about = sticks.iter().filter(|s| (s.at - position).abs() < reach);
            about.map(|s| (KIN_SHARE * s.area / area.max(f64::MIN_POSITIVE)).min(1.0)).sum()
        };
        let taken = scene.lines[scene.lines_within(position - reach, position + reach)].iter();
        let named: f64 =
            taken.map(|l| (NAMED_KIN_SHARE * l.taken / area.max(f64::MIN_POSITIVE)).min(1.0)).sum();
        (self.about(position).map(near).sum::<f64>() + named) / (2.0 * DENSITY_REACH)
    }

    /// Density of lines, per ppm, in the product's signals about a position whose structure is not known: any of them may be the
    /// product's own, and one as large stands at the place by chance.
    fn own(&self, scene: &Scene<'_>, position: f64, area: f64) -> f64 {
        let of_stretch = |stretch: &Occupied| {
            let large = |line: &&SceneLine| line.left > ALIKE_SHARE * area;
            let lines = scene.signals_within(stretch.from, stretch.to).filter(large).count();
            lines as f64 * scene.field() / (stretch.to - stretch.from)
        };
        self.about(position).filter(|stretch| stretch.sticks.is_none()).map(of_stretch).sum()
    }

    /// Notes that a named molecule has taken an area at a position.
    pub(crate) fn take(&mut self, position: f64, area: f64) {
        for stretch in self.occupied.iter_mut().filter(|s| s.from <= position && position <= s.to) {
            stretch.room -= area;
            stretch.room_u = libm::hypot(stretch.room_u, TAKEN_TOLERANCE * area);
        }
    }

    /// Area found beyond the product's own at a position among its signals, never under zero, and its standard uncertainty;
    /// `None` where the product has no line.
    pub(crate) fn excess(&self, scene: &Scene<'_>, position: f64) -> Option<(f64, f64)> {
        self.about(position)
            .filter_map(|stretch| stretch.hiding_at(scene, position))
            .max_by(|a, b| (a.0 + a.1).total_cmp(&(b.0 + b.1)))
    }

    /// What hides in a signal of the product about a position that is clearly too large.
    pub(crate) fn hidden(&self, position: f64) -> Option<Room> {
        self.about(position).find(|stretch| stretch.is_too_large()).map(Occupied::whole_room)
    }

    /// Each signal of the product and what may hide in it.
    pub(crate) fn rooms(&self) -> impl Iterator<Item = Room> {
        self.occupied.iter().map(Occupied::whole_room)
    }
}

/// Density of artefacts per ppm where a far taller line is near.
fn beside_tall(scene: &Scene<'_>, position: f64, area: f64) -> f64 {
    let near = scene.lines_within(position - BAND_HZ, position + BAND_HZ);
    let is_tall =
        |line: &SceneLine| area < BAND_SHARE * line.area && (line.at - position).abs() > SAME_SIGNAL_HZ;
    if scene.lines[near].iter().any(is_tall) { BANDS * scene.field() / (2.0 * BAND_HZ) } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::scene::SceneLine;
    use crate::fit::scene::tests::{line, wet_dye};
    use crate::product::ProductStick;

    #[test]
    fn artefacts_stand_beside_far_taller_lines_alone() {
        let processed = wet_dye();
        let mut scene = Scene::of(&processed, processed.spectrum.axis);
        scene.lines = vec![line(1000.0, 1000.0)];
        let density = BANDS * scene.field() / (2.0 * BAND_HZ);
        for (position, area, expected) in [
            (1030.0, 5.0, density),
            (970.0, 5.0, density),
            (1030.0, 30.0, 0.0),
            (1100.0, 5.0, 0.0),
            (1005.0, 5.0, 0.0),
        ] {
            assert_eq!(beside_tall(&scene, position, area), expected, "{area} at {position} Hz");
        }
    }

    #[test]
    fn the_larger_a_line_the_fewer_of_its_kind_come_with_a_line_of_the_product() {
        let processed = wet_dye();
        let mut scene = Scene::of(&processed, processed.spectrum.axis);
        scene.lines = Vec::new();
        let stick = ProductStick { at: 500.0, area: 100.0, u: 1.0 };
        let stretch = Occupied {
            from: 490.0,
            to: 510.0,
            room: 0.0,
            room_u: 1.0,
            expected: stick.area,
            sticks: Some(vec![stick]),
        };
        let context = Context { occupied: vec![stretch], ..Context::default() };
        let one_in_the_reach = 1.0 / (2.0 * DENSITY_REACH);
        let density = |area: f64| context.kin(&scene, 505.0, area) / one_in_the_reach;
        // up to that share of the product's line one is as good as certain, twice as large are half as many
        assert!((density(0.5 * KIN_SHARE * stick.area) - 1.0).abs() < 1e-12);
        assert!((density(KIN_SHARE * stick.area) - 1.0).abs() < 1e-12);
        assert!((density(2.0 * KIN_SHARE * stick.area) - 0.5).abs() < 1e-12);
        assert!((density(10.0 * KIN_SHARE * stick.area) - 0.1).abs() < 1e-12);
        scene.lines = vec![SceneLine { taken: 100.0, ..line(505.0, 100.0) }];
        let named = Context::default().kin(&scene, 500.0, 4.0 * NAMED_KIN_SHARE * 100.0) / one_in_the_reach;
        assert!((named - 0.25).abs() < 1e-12, "{named}");
    }

    fn of_unknown_structure(from: f64, to: f64) -> Context {
        let stretch = Occupied { from, to, room: 50.0, room_u: 1.0, expected: 100.0, sticks: None };
        Context { occupied: vec![stretch], ..Context::default() }
    }

    /// 30 and 15 units in a signal with room for 50, 70 in one with none to speak of, 5 in the open.
    #[test]
    fn unforeseen_lines_among_the_products_are_its_own_beyond_the_room_it_leaves() {
        let mut context = of_unknown_structure(490.0, 510.0);
        context.occupied.push(Occupied { from: 600.0, to: 620.0, room: 0.5, ..context.occupied[0].clone() });
        let lines =
            [(495.0, 30.0), (505.0, 15.0), (610.0, 70.0), (700.0, 5.0)].map(|(at, area)| line(at, area));
        let open: Vec<&SceneLine> = lines.iter().collect();
        let (area, variance) = context.fitting(&open);
        assert!((area - 30.0 - 15.0 - 0.5 - 5.0).abs() < 1e-9, "{area}");
        assert!((variance - 1.0 - 1.0 - lines[3].area_u.powi(2)).abs() < 1e-9, "{variance}");
    }

    /// Four lines in 20 Hz, three of them over three tenths of 40 units.
    #[test]
    fn in_a_signal_of_unknown_structure_the_lines_that_are_as_large_count() {
        let processed = wet_dye();
        let mut scene = Scene::of(&processed, processed.spectrum.axis);
        scene.lines = [(492.0, 30.0), (497.0, 90.0), (503.0, 5.0), (508.0, 13.0), (530.0, 60.0)]
            .map(|(at, area)| line(at, area))
            .to_vec();
        let context = of_unknown_structure(490.0, 510.0);
        assert!((context.own(&scene, 500.0, 40.0) - 3.0 * scene.field() / 20.0).abs() < 1e-9);
        assert_eq!(context.own(&scene, 530.0, 40.0), 0.0, "beside the product");
    }

    #[test]
    fn beside_an_unrecognised_line_of_the_solvent_nothing_else_has_room() {
        let processed = wet_dye();
        let scene = Scene::of(&processed, processed.spectrum.axis);
        let mut context = of_unknown_structure(490.0, 510.0);
        assert!(context.has_room(&scene, 500.0, 40.0));
        context.unrecognised = vec![(511.0, 515.0)];
        assert!(context.has_room(&scene, 500.0, 40.0), "it stands beside the stretch");
        context.unrecognised = vec![(508.0, 515.0)];
        assert!(!context.has_room(&scene, 500.0, 40.0));
    }

    /// Half of a stretch of unknown structure holds half of its area, give or take 0.6 of that half.
    #[test]
    fn of_a_part_of_a_signal_of_unknown_structure_the_area_is_hardly_known() {
        let (area, u) = of_unknown_structure(490.0, 510.0).product_area(480.0, 500.0);
        assert!((area - 50.0).abs() < 1e-9);
        assert!((u - libm::hypot(0.5f64, 0.6 * 50.0)).abs() < 1e-9, "{u}");
    }
}
