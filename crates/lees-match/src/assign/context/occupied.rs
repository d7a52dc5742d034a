//! Stretches in which the product has signals, and what may hide in them.

use super::ROOM_SIGMAS;
use crate::fit::scene::Scene;
use crate::product::{ProductStick, on_stick};

/// A signal of the product is too large beyond so many standard uncertainties and this share of it.
const TOO_LARGE_SIGMAS: f64 = 3.0;
const TOO_LARGE: f64 = 0.1;
/// A line's foot reaches this many widths and holds this share of it that the common line may miss.
const FOOT_WIDTHS: f64 = 4.0;
const FOOT_SHARE: f64 = 0.02;
/// Share of a cut signal that may lie on the wrong side of the cut.
const CUT_TOLERANCE: f64 = 0.1;
/// The same where it is not known where in the signal its lines are: some three bunches fall on either side by chance.
const UNKNOWN_TOLERANCE: f64 = 0.6;

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
    /// The product's own area by its protons.
    pub expected: f64,
    /// The product's own lines in the stretch, when they are known one by one.
    pub sticks: Option<Vec<ProductStick>>,
}

/// What may hide in a signal of the product.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Room {
    /// The signal's ends, in hertz from the first point.
    pub from: f64,
    pub to: f64,
    /// Area found there beyond the product's own, never under zero.
    pub area: f64,
    /// Its standard uncertainty.
    pub u: f64,
}

impl Occupied {
    /// Whether it holds clearly more than the product's protons.
    pub(super) fn is_too_large(&self) -> bool {
        self.room > (TOO_LARGE_SIGMAS * self.room_u).max(TOO_LARGE * self.expected)
    }

    /// Area beyond the product's own at a position, and its standard uncertainty; `None` where the product has no line.
    pub(super) fn room_at(&self, scene: &Scene<'_>, position: f64) -> Option<(f64, f64)> {
        let Some(sticks) = &self.sticks else { return Some((self.room, self.room_u)) };
        let within = |reach: f64| sticks.iter().filter(move |s| (s.at - position).abs() < reach);
        let reach = on_stick(scene);
        let near: f64 = within(reach + FOOT_WIDTHS * scene.width).map(|s| s.area).sum();
        (near > 0.0).then(|| {
            let there = |at: f64| (at - position).abs() < reach;
            // a stick just out of reach whose line is within it still accounts for that line
            let has_line_there =
                |at: f64| scene.signals_within(at - reach, at + reach).any(|line| there(line.at));
            let sticks: Vec<&ProductStick> =
                within(2.0 * reach).filter(|s| there(s.at) || has_line_there(s.at)).collect();
            let of_any = |at: f64| there(at) || sticks.iter().any(|s| (s.at - at).abs() < reach);
            let lines = scene.signals_within(position - 3.0 * reach, position + 3.0 * reach);
            let found: f64 = lines.filter(|line| of_any(line.at)).map(|line| line.left).sum();
            let own: f64 = sticks.iter().map(|s| s.area).sum();
            let u = sticks.iter().map(|s| s.u * s.u).sum::<f64>().sqrt();
            (found - own, libm::hypot(u, FOOT_SHARE * near))
        })
    }

    /// What may hide at a position, by [`Self::room_at`]; anywhere in it where it is too large, since nobody knows where that is.
    pub(super) fn hiding_at(&self, scene: &Scene<'_>, position: f64) -> Option<(f64, f64)> {
        let (room, u) = self.room_at(scene, position)?;
        let is_anywhere = self.is_too_large() && self.room > room;
        Some(may_hide(if is_anywhere { (self.room, self.room_u) } else { (room, u) }))
    }

    /// What may hide in the whole of it.
    pub(super) fn whole_room(&self) -> Room {
        let (area, u) = may_hide((self.room, self.room_u));
        Room { from: self.from, to: self.to, area, u }
    }

    /// The product's own area between two positions and its variance.
    pub(super) fn own_area(&self, from: f64, to: f64) -> (f64, f64) {
        let own: f64 = match &self.sticks {
            Some(sticks) => sticks.iter().filter(|s| from <= s.at && s.at <= to).map(|s| s.area).sum(),
            None => self.expected * overlap((self.from, self.to), (from, to)),
        };
        let share = own / self.expected.max(f64::MIN_POSITIVE);
        // of a signal that is cut, some of the part inside may belong outside; where in it its lines are may not even be known
        let known = if self.sticks.is_some() { CUT_TOLERANCE } else { UNKNOWN_TOLERANCE };
        let cut = known * self.expected * (share * (1.0 - share)).max(0.0).sqrt();
        (own, (self.room_u * share).powi(2) + cut * cut)
    }
}

/// What may hide in a room: where the product itself falls short, so much else may be there.
fn may_hide((room, u): (f64, f64)) -> (f64, f64) {
    (room.max(0.0), if room < -ROOM_SIGMAS * u { libm::hypot(u, room) } else { u })
}

/// Share of a stretch that lies within another.
fn overlap(whole: (f64, f64), part: (f64, f64)) -> f64 {
    let common = whole.1.min(part.1) - whole.0.max(part.0);
    (common / (whole.1 - whole.0).max(f64::MIN_POSITIVE)).clamp(0.0, 1.0)
}
