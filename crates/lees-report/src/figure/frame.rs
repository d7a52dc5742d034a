//! From shift and intensity to the sheet.

use lees_core::{Ppm, ShiftRange};
use plotters::coord::CoordTranslate;
use plotters::coord::cartesian::Cartesian2d;
use plotters::coord::types::RangedCoordf64;

/// How far a trace may fall below zero on the sheet, in units: a little noise shows, the numbers stay free.
pub(super) const BELOW: f64 = 120.0;

/// The rectangle in which a trace is drawn; shift falls to the right.
pub(super) struct Frame {
    coordinates: Cartesian2d<RangedCoordf64, RangedCoordf64>,
    pub(super) range: ShiftRange,
    pub(super) left: f64,
    pub(super) right: f64,
    /// Height of the intensity `full` on the sheet.
    pub(super) top: f64,
    /// Height of intensity zero.
    pub(super) base: f64,
    pub(super) full: f64,
    /// How far the trace may fall below zero on the sheet, in units.
    below: f64,
}

impl Frame {
    pub(super) fn new(range: ShiftRange, full: f64, left: f64, right: f64, top: f64, base: f64) -> Self {
        let coordinates = Cartesian2d::<RangedCoordf64, RangedCoordf64>::new(
            range.high.0..range.low.0,
            0.0..full,
            (left.round() as i32..right.round() as i32, base.round() as i32..top.round() as i32),
        );
        Self { coordinates, range, left, right, top, base, full, below: BELOW }
    }

    /// The same with room for noise below zero, in units.
    pub(super) const fn with_room(self, below: f64) -> Self {
        Self { below, ..self }
    }

    /// Where a shift stands on the sheet.
    pub(super) fn x(&self, shift: f64) -> f64 {
        f64::from(self.coordinates.translate(&(shift, 0.0)).0)
    }

    /// Where an intensity stands, clipped to the frame and its room below zero.
    pub(super) fn y(&self, intensity: f64) -> f64 {
        let clipped = intensity.clamp(-self.full * self.below / (self.base - self.top), self.full);
        f64::from(self.coordinates.translate(&(self.range.high.0, clipped)).1)
    }

    /// The part of a range inside the frame, as sheet coordinates from left to right.
    pub(super) fn span(&self, range: ShiftRange) -> (f64, f64) {
        let high = Ppm(range.high.0.min(self.range.high.0));
        let low = Ppm(range.low.0.max(self.range.low.0));
        (self.x(high.0), self.x(low.0))
    }
}
