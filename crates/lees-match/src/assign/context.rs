//! What else may stand at a place, and what it costs to say so.

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

/// Cost, as a natural logarithm, of another signal at exactly the place and strength of a peak outside the product's
/// own stretches: half a line a ppm of unknown impurities, within 0.03 ppm.
const COVER: f64 = 4.2;
/// The same where the product's own signals account for the area.
const PRODUCT_COVER: f64 = 0.2;
/// A peak fits the room beside the product when it exceeds it by less than this many standard uncertainties.
const ROOM_SIGMAS: f64 = 2.0;

/// Knowledge that all probes share.
#[derive(Debug, Clone, Default)]
pub(crate) struct Context {
    /// The product's stretches, by growing position.
    pub occupied: Vec<Occupied>,
    /// Cost of coverage elsewhere; lower in a crowded spectrum without product.
    pub cover: Option<f64>,
}

impl Context {
    /// The context of a described product.
    pub(crate) fn of(described: Option<&Described>) -> Self {
        let occupied = described.map_or_else(Vec::new, Described::occupied);
        Self { occupied, cover: None }
    }

    /// What it costs to explain a peak of `area` at a position by something else.
    pub(crate) fn cover(&self, position: f64, area: f64) -> f64 {
        if self.has_room(position, area) { self.cover.unwrap_or(COVER) } else { PRODUCT_COVER }
    }

    /// Whether a signal of `area` fits at a position beside the product's own.
    pub(crate) fn has_room(&self, position: f64, area: f64) -> bool {
        !self.occupied.iter().any(|stretch| {
            stretch.from <= position
                && position <= stretch.to
                && area > stretch.room + ROOM_SIGMAS * stretch.room_u
        })
    }

    /// Area that could hide at a position among the product's signals.
    pub(crate) fn hidden(&self, position: f64) -> f64 {
        self.occupied
            .iter()
            .filter(|stretch| stretch.from <= position && position <= stretch.to)
            .map(|stretch| stretch.room.max(0.0) + stretch.room_u)
            .fold(0.0, f64::max)
    }
}
