//! What else may stand at a place, and what it costs to say so.

use crate::fit::scene::Scene;
use crate::product::Described;

/// A stretch in which the product has signals, in hertz from the first point.
#[derive(Debug, Clone)]
pub(crate) struct Occupied {
    /// Lower end of the stretch in position (higher shift).
    pub from: f64,
    /// Upper end.
    pub to: f64,
    /// Area found there beyond what the product's protons account for.
    pub room: f64,
    /// Its standard uncertainty.
    pub room_u: f64,
}

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

/// Uncertainty of an area that a named molecule has taken, relative.
const TAKEN_TOLERANCE: f64 = 0.1;

/// Knowledge that all probes share.
#[derive(Debug, Clone, Default)]
pub(crate) struct Context {
    /// The product's stretches, by growing position.
    pub occupied: Vec<Occupied>,
    /// Area of one product proton, when known.
    pub per_proton: Option<f64>,
}

impl Context {
    /// The context of a described product.
    pub(crate) fn of(described: Option<&Described>) -> Self {
        let occupied = described.map_or_else(Vec::new, Described::occupied);
        let per_proton = described.and_then(|d| d.per_proton.as_ref()).map(|p| p.value);
        Self { occupied, per_proton }
    }

    /// What it costs to explain a peak of `area` at a position by something else.
    ///
    /// Outside the product's stretches it is minus the logarithm of the chance that an unknown line stands within one
    /// line width of the place: the more lines stand about, the likelier.
    pub(crate) fn cover(&self, scene: &Scene<'_>, position: f64, area: f64) -> f64 {
        if !self.has_room(position, area) {
            return PRODUCT_COVER;
        }
        let about = 2.0 * DENSITY_REACH;
        let density = (QUIET_DENSITY * QUIET_REACH + self.strangers(scene, position)) / (QUIET_REACH + about);
        let large = self.per_proton.map_or(1.0, |one| 1.0 + area.max(0.0) / (USUAL_PROTONS * one));
        (density / large * scene.width / scene.field()).min(1.0).recip().ln().max(PRODUCT_COVER)
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
    pub(crate) fn has_room(&self, position: f64, area: f64) -> bool {
        let within = |s: &&Occupied| s.from <= position && position <= s.to;
        self.occupied.iter().filter(within).all(|stretch| {
            let slack = ROOM_SIGMAS * stretch.room_u;
            stretch.room > slack && area < stretch.room + slack
        })
    }

    /// Notes that a named molecule has taken an area at a position.
    pub(crate) fn take(&mut self, position: f64, area: f64) {
        for stretch in self.occupied.iter_mut().filter(|s| s.from <= position && position <= s.to) {
            stretch.room -= area;
            stretch.room_u = stretch.room_u.hypot(TAKEN_TOLERANCE * area);
        }
    }

    /// Area that could hide at a position among the product's signals.
    pub(crate) fn hidden(&self, position: f64) -> f64 {
        self.occupied
            .iter()
            .filter(|stretch| stretch.from <= position && position <= stretch.to)
            .map(|stretch| stretch.room.max(0.0) + ROOM_SIGMAS * stretch.room_u)
            .fold(0.0, f64::max)
    }
}
