//! The product: its expected signals, what is found there, and how much of it there is.

mod align;
mod alike;
mod amount;
mod found;
mod halves;
mod region;
mod sticks;

use lees_core::Product;

use align::common_offset;
pub(crate) use align::{offset_by_product, offset_by_product_near};
pub(crate) use alike::moved_alike;
pub(crate) use amount::PerProton;
use amount::{Measured, per_proton};
pub(crate) use region::{Region, area};
use region::{STRAY, strays};
use region::{join_neighbours, move_displaced, regions};
use sticks::sticks;
pub(crate) use sticks::{ProductStick, on_stick};

use crate::assign::context::Occupied;
use crate::assign::quantify::Quantified;
use crate::assign::search::Accepted;
use crate::fit::scene::{Scene, SceneLine};
use crate::pattern::Pattern;

/// A stretch of which another substance has more than this share is covered.
const COVERED_SHARE: f64 = 0.02;
/// Area that cannot be told apart from the product's own is known to this share only.
const INSEPARABLE: f64 = 0.3;

/// So many signals that are displaced alike, within this much, in ppm, say that all may be (chosen on simulated samples).
const SEVERAL: usize = 3;
const ALIKE: f64 = 0.008;

/// Journal lines are seldom off by more than this, in ppm (common practice, no source).
const AXIS: f64 = 0.015;

/// The product in this spectrum.
#[derive(Debug, Clone)]
pub(crate) struct Described {
    /// Stretches by growing position.
    pub regions: Vec<Region>,
    /// How far all of them stand from where they were described, in hertz towards lower shifts.
    off: f64,
    /// Area of others in each stretch, its uncertainty, and the largest contributor's name.
    pub others: Vec<Others>,
    /// Area per proton; `None` when nothing could be measured.
    pub per_proton: Option<PerProton>,
    /// Which regions the chemist wants to quantify on; empty for all.
    wanted: Vec<bool>,
    /// In which of them a line of the NMR solvent stands.
    with_solvent: Vec<bool>,
}

/// What else lies in a stretch.
#[derive(Debug, Clone, Default)]
pub(crate) struct Others {
    /// Area.
    pub area: f64,
    /// Variance of that area.
    pub variance: f64,
    /// Whose it is mostly.
    pub name: Option<String>,
    /// Area of the largest.
    largest: f64,
}

impl Described {
    /// Measures the expected stretches, everything found there taken for product; `solvent` is where lines of the NMR solvent
    /// stand, from and to, in hertz.
    pub(crate) fn of(product: &Product, scene: &Scene<'_>, solvent: &[(f64, f64)]) -> Self {
        let placed = Self::placed(product, scene, solvent, common_offset(scene, product));
        let again = placed.common_displacement(scene).map(|off| Self::placed(product, scene, solvent, off));
        again.filter(|again| again.displaced_count() < placed.displaced_count()).unwrap_or(placed)
    }

    /// The same, all signals first looked for `off` hertz from where they were described.
    pub(crate) fn placed(product: &Product, scene: &Scene<'_>, solvent: &[(f64, f64)], off: f64) -> Self {
        let mut described = Self::of_regions(regions(scene, product, off), product, solvent, off);
        if let Some(scale) = described.per_proton.as_ref().map(|scale| scale.value) {
            let mut regions = join_neighbours(scene, described.regions, scale);
            move_displaced(scene, &mut regions, scale);
            described = Self::of_regions(regions, product, solvent, off);
        }
        described
    }

    /// Where all signals are to be looked for, when several were found displaced alike.
    fn common_displacement(&self, scene: &Scene<'_>) -> Option<f64> {
        let displaced = self.regions.iter().filter(|region| self.is_displaced(region));
        let mut moved: Vec<f64> = displaced.map(|region| region.moved).collect();
        moved.sort_by(f64::total_cmp);
        let (first, last) = (moved.first()?, moved.last()?);
        let alike = last - first < ALIKE * scene.field();
        (alike && moved.len() >= SEVERAL).then(|| moved[moved.len() / 2])
    }

    fn of_regions(regions: Vec<Region>, product: &Product, solvent: &[(f64, f64)], off: f64) -> Self {
        let wanted = regions
            .iter()
            .map(|region| {
                product.quantify.is_empty()
                    || product.quantify.iter().any(|q| q.contains(region.range.centre()))
            })
            .collect();
        let others = vec![Others::default(); regions.len()];
        let meets = |region: &Region| solvent.iter().any(|(from, to)| *from < region.to && region.from < *to);
        let with_solvent = regions.iter().map(meets).collect();
        let mut described = Self { regions, off, others, per_proton: None, wanted, with_solvent };
        described.weigh();
        described
    }

    /// Sentences on signals that stand elsewhere than described.
    pub(crate) fn displaced(&self, scene: &Scene<'_>, product: &Product) -> Vec<String> {
        let moved = self.regions.iter().filter(|region| self.is_displaced(region));
        let sentence = |region: &Region| {
            let expected = found::texts(region, product);
            format!(
                "the product's {expected} is not where it was described; as many protons stand {:+.3} ppm from there and are taken for it: look at the description",
                -region.moved / scene.field()
            )
        };
        let all = (self.off != 0.0).then(|| {
            let ppm = -self.off / scene.field();
            let axis = if ppm.abs() > AXIS { ", unless the shift axis is off by as much" } else { "" };
            format!(
                "the product's signals stand {ppm:+.3} ppm from where they were described, all alike, and are looked for there{axis}"
            )
        });
        all.into_iter().chain(moved.map(sentence)).collect()
    }

    /// Why volatiles may have been looked for in the wrong places when all signals stand elsewhere than described.
    pub(crate) fn doubt(&self, scene: &Scene<'_>) -> Option<String> {
        let ppm = -self.off / scene.field();
        (ppm.abs() > AXIS).then(|| {
            format!(
                "The product's signals all stand {ppm:+.2} ppm from where they were described. If the shift axis is off by as much, volatiles were looked for beside their places: look at the description, the NMR solvent and the shift axis."
            )
        })
    }

    fn displaced_count(&self) -> usize {
        self.regions.iter().filter(|region| self.is_displaced(region)).count()
    }

    /// Whether a region stands elsewhere than all of them.
    fn is_displaced(&self, region: &Region) -> bool {
        region.moved != self.off
    }

    /// Takes off what the named molecules have in each stretch and weighs again.
    pub(crate) fn correct(&mut self, patterns: &[Pattern], named: &[Accepted], fitted: &Quantified) {
        self.others = vec![Others::default(); self.regions.len()];
        for (index, accepted) in named.iter().enumerate() {
            let pattern = &patterns[accepted.pattern];
            let amount = fitted.amounts.each[index];
            for found in &accepted.found.groups {
                let group = &pattern.groups[found.group];
                let (area, u) = match (fitted.member(index, found.group), amount) {
                    (Some(member), _) => (member.area, INSEPARABLE * member.area),
                    (None, Some(n)) => (n.value * group.protons, n.sources.total() * group.protons),
                    (None, None) => continue,
                };
                for (region, others) in self.regions.iter().zip(&mut self.others) {
                    let inside: f64 = group
                        .sticks
                        .iter()
                        .filter(|s| (region.from..=region.to).contains(&(found.at + s.offset)))
                        .map(|s| s.share)
                        .sum();
                    others.add(area * inside, u * inside, &pattern.name);
                }
            }
        }
        self.weigh();
    }

    /// Area per proton from what is the product's own.
    fn weigh(&mut self) {
        let chosen = self.wanted.iter().any(|w| *w);
        let measure = |apart: bool, clean: bool, s: &Self| -> Vec<Measured> {
            (0..s.regions.len())
                .map(|k| {
                    let (region, others) = (&s.regions[k], &s.others[k]);
                    let shared = (clean && s.is_covered(k)) || (apart && s.with_solvent[k]);
                    let fit = !region.exchanging && !shared;
                    Measured {
                        area: region.area - others.area,
                        u: (region.area_u.powi(2) + others.variance + rounding(region).powi(2)).sqrt(),
                        protons: region.protons,
                        eligible: fit && (!chosen || s.wanted[k]),
                    }
                })
                .collect()
        };
        self.per_proton = [(true, true), (false, true), (true, false), (false, false)]
            .into_iter()
            .find_map(|(apart, clean)| per_proton(&measure(apart, clean, self)));
    }

    /// Whether others have a notable share of a stretch.
    pub(crate) fn is_covered(&self, k: usize) -> bool {
        self.others[k].area > COVERED_SHARE * self.regions[k].area
    }

    /// Whether a broad line counts among the product's exchanging protons: it stands at their place or near it.
    pub(crate) fn counts_broad(&self, scene: &Scene<'_>, line: &SceneLine) -> bool {
        self.regions.iter().any(|r| r.exchanging && strays(scene, line, (r.from, r.to)))
    }

    /// Area of the product's exchanging protons that are not found at their own place and may stand in a stretch near it.
    fn stray(&self, scene: &Scene<'_>, region: &Region, per_proton: f64) -> f64 {
        let reach = STRAY * scene.field();
        let lack = |(other, more): (&Region, &Others)| {
            let near = other.exchanging && other.from < region.to + reach && region.from < other.to + reach;
            if near { (per_proton * other.protons - other.area + more.area).max(0.0) } else { 0.0 }
        };
        if region.exchanging { 0.0 } else { self.regions.iter().zip(&self.others).map(lack).sum() }
    }

    /// The stretches and the room they leave beside what is known to lie there.
    pub(crate) fn occupied(&self, scene: &Scene<'_>, product: &Product) -> Vec<Occupied> {
        let Some(per_proton) = &self.per_proton else {
            return Vec::new();
        };
        self.regions
            .iter()
            .zip(&self.others)
            .map(|(region, others)| {
                let expected = per_proton.value * region.protons;
                let tolerance = per_proton.spread * expected;
                // all of it or none, either as likely: half, give or take half
                let stray = self.stray(scene, region, per_proton.value) / 2.0;
                let variance = region.area_u.powi(2) + others.variance + tolerance.powi(2) + stray.powi(2);
                Occupied {
                    from: region.from,
                    to: region.to,
                    expected,
                    room: region.area - others.area - expected - stray,
                    room_u: variance.sqrt(),
                    sticks: sticks(scene, region, product, per_proton.value),
                }
            })
            .collect()
    }
}

/// Standard uncertainty of a region's area since its protons are printed to a tenth where they are not whole, as of rotamers
/// (half a tenth, rectangular).
fn rounding(region: &Region) -> f64 {
    let whole = (region.protons - region.protons.round()).abs() < 1e-6;
    if whole { 0.0 } else { 0.05 / 3f64.sqrt() * region.area / region.protons }
}

impl Others {
    fn add(&mut self, area: f64, u: f64, name: &str) {
        self.area += area;
        self.variance += u * u;
        if area > self.largest {
            self.largest = area;
            self.name = Some(name.to_owned());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::scene::tests::wet_dye;
    use lees_core::{ExpectedSignal, LimitSet};

    fn described(scene: &Scene<'_>, solvent: &[(f64, f64)]) -> (Described, Product) {
        let line = "8.55 (s, 1H), 7.43 (d, J = 8.9 Hz, 1H), 6.66 (dd, J = 8.9, 2.4 Hz, 1H), 3.46 (q, J = 7.1 Hz, 4H), 9.1 (br s, 1H)";
        let signals: Vec<ExpectedSignal> = lees_format::journal::parse(line).expect("a journal line");
        let product = Product {
            name: "dye".to_owned(),
            formula: None,
            molar_mass: 300.38,
            signals,
            nmr_solvent: None,
            quantify: Vec::new(),
            limits: LimitSet::default(),
        };
        (Described::of(&product, scene, solvent), product)
    }

    #[test]
    fn three_signals_displaced_alike_say_where_all_may_be_and_two_or_unlike_ones_do_not() {
        let processed = wet_dye();
        let scene = Scene::of(&processed, processed.spectrum.axis);
        let found = |moved: &[f64]| {
            let (mut described, _) = described(&scene, &[]);
            described.off = 0.0;
            described.regions.iter_mut().for_each(|region| region.moved = 0.0);
            described.regions.iter_mut().zip(moved).for_each(|(region, moved)| region.moved = *moved);
            described.common_displacement(&scene)
        };
        assert_eq!(found(&[5.0, 5.5, 6.0]), Some(5.5));
        assert_eq!(found(&[5.0, 5.5]), None);
        assert_eq!(found(&[5.0, 5.5, 5.0 + 1.1 * ALIKE * scene.field()]), None);
    }

    #[test]
    fn a_signal_in_which_a_line_of_the_solvent_stands_sets_no_scale_while_another_can() {
        let processed = wet_dye();
        let scene = Scene::of(&processed, processed.spectrum.axis);
        let used = |solvent: &[(f64, f64)]| {
            let (described, _) = described(&scene, solvent);
            let first = described.regions.iter().position(|r| r.signals == [3]).expect("the quartet");
            described.per_proton.as_ref().expect("a scale").used[first]
        };
        let at = scene.position(lees_core::Ppm(3.46));
        assert!(used(&[]) && used(&[(at + 400.0, at + 410.0)]));
        assert!(!used(&[(at - 1.0, at + 1.0)]));
    }

    /// The exchanging proton at 9.1 ppm is nowhere: half of it may stand under a signal within 0.3 ppm, none further off.
    #[test]
    fn exchanging_protons_that_are_not_found_may_stand_in_signals_near_them() {
        let processed = wet_dye();
        let scene = Scene::of(&processed, processed.spectrum.axis);
        let (described, _) = described(&scene, &[]);
        let scale = described.per_proton.as_ref().expect("a scale").value;
        let own = described.regions.iter().find(|region| region.exchanging).expect("the exchanging proton");
        let lack = (scale - own.area).max(0.0);
        assert!(lack > 0.9 * scale, "nothing stands there");
        let mut near = described.regions[1].clone();
        near.exchanging = false;
        (near.from, near.to) = (own.to + 0.2 * scene.field(), own.to + 0.25 * scene.field());
        assert!((described.stray(&scene, &near, scale) - lack).abs() < 1e-9);
        (near.from, near.to) = (own.to + 0.4 * scene.field(), own.to + 0.5 * scene.field());
        assert_eq!(described.stray(&scene, &near, scale), 0.0);
    }
}
