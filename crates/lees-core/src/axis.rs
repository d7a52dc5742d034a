//! The shift axis of a spectrum.

use serde::{Deserialize, Serialize};

use crate::{Hertz, Megahertz, Ppm};

/// An evenly spaced shift axis that falls with the index, as spectra are drawn.
///
/// Invariants, kept by [`ShiftAxis::new`]: `step` is negative and finite, `field` positive.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ShiftAxis {
    first: Ppm,
    step: Ppm,
    points: usize,
    field: Megahertz,
}

impl ShiftAxis {
    /// An axis of `points` shifts from `first` (high) down to `last` (low).
    ///
    /// Returns `None` unless `first > last`, at least two points are given and the field is positive and
    /// everything is finite.
    ///
    /// ```
    /// use lees_core::{Megahertz, Ppm, ShiftAxis};
    /// let axis = ShiftAxis::new(Ppm(12.0), Ppm(-2.0), 15, Megahertz(400.0)).expect("falls");
    /// assert_eq!(axis.shift(2), Ppm(10.0));
    /// assert_eq!(axis.nearest(Ppm(9.9)), 2);
    /// ```
    #[must_use]
    pub fn new(first: Ppm, last: Ppm, points: usize, field: Megahertz) -> Option<Self> {
        let step = Ppm((last.0 - first.0) / (points.checked_sub(1)? as f64));
        let sound =
            first.0.is_finite() && step.0.is_finite() && step.0 < 0.0 && field.0.is_finite() && field.0 > 0.0;
        sound.then_some(Self { first, step, points, field })
    }

    /// The shift of the first (leftmost) point.
    ///
    /// ```
    /// # use lees_core::{Hertz, Megahertz, Ppm, ShiftAxis};
    /// let axis = ShiftAxis::new(Ppm(12.0), Ppm(-2.0), 15, Megahertz(400.0)).expect("falls");
    /// assert_eq!(axis.first(), Ppm(12.0));
    /// ```
    #[must_use]
    pub const fn first(&self) -> Ppm {
        self.first
    }

    /// The shift of the last (rightmost) point.
    ///
    /// ```
    /// # use lees_core::{Hertz, Megahertz, Ppm, ShiftAxis};
    /// let axis = ShiftAxis::new(Ppm(12.0), Ppm(-2.0), 15, Megahertz(400.0)).expect("falls");
    /// assert_eq!(axis.last(), Ppm(-2.0));
    /// ```
    #[must_use]
    pub fn last(&self) -> Ppm {
        self.shift(self.points - 1)
    }

    /// The (negative) shift difference from one point to the next.
    ///
    /// ```
    /// # use lees_core::{Hertz, Megahertz, Ppm, ShiftAxis};
    /// let axis = ShiftAxis::new(Ppm(12.0), Ppm(-2.0), 15, Megahertz(400.0)).expect("falls");
    /// assert_eq!(axis.step(), Ppm(-1.0));
    /// ```
    #[must_use]
    pub const fn step(&self) -> Ppm {
        self.step
    }

    /// How many points the axis has.
    ///
    /// ```
    /// # use lees_core::{Hertz, Megahertz, Ppm, ShiftAxis};
    /// let axis = ShiftAxis::new(Ppm(12.0), Ppm(-2.0), 15, Megahertz(400.0)).expect("falls");
    /// assert_eq!(axis.points(), 15);
    /// ```
    #[must_use]
    pub const fn points(&self) -> usize {
        self.points
    }

    /// The spectrometer's proton frequency.
    ///
    /// ```
    /// # use lees_core::{Hertz, Megahertz, Ppm, ShiftAxis};
    /// let axis = ShiftAxis::new(Ppm(12.0), Ppm(-2.0), 15, Megahertz(400.0)).expect("falls");
    /// assert_eq!(axis.field(), Megahertz(400.0));
    /// ```
    #[must_use]
    pub const fn field(&self) -> Megahertz {
        self.field
    }

    /// The (positive) distance of two neighbouring points in hertz.
    ///
    /// ```
    /// # use lees_core::{Hertz, Megahertz, Ppm, ShiftAxis};
    /// let axis = ShiftAxis::new(Ppm(12.0), Ppm(-2.0), 15, Megahertz(400.0)).expect("falls");
    /// assert_eq!(axis.hertz_per_point(), Hertz(400.0));
    /// ```
    #[must_use]
    pub fn hertz_per_point(&self) -> Hertz {
        Hertz(-self.step.0 * self.field.0)
    }

    /// The shift at an index, which may lie outside the axis.
    ///
    /// ```
    /// # use lees_core::{Hertz, Megahertz, Ppm, ShiftAxis};
    /// let axis = ShiftAxis::new(Ppm(12.0), Ppm(-2.0), 15, Megahertz(400.0)).expect("falls");
    /// assert_eq!(axis.shift(3), Ppm(9.0));
    /// ```
    #[must_use]
    pub fn shift(&self, index: usize) -> Ppm {
        self.shift_at(index as f64)
    }

    /// The shift at a fractional index.
    ///
    /// ```
    /// # use lees_core::{Hertz, Megahertz, Ppm, ShiftAxis};
    /// let axis = ShiftAxis::new(Ppm(12.0), Ppm(-2.0), 15, Megahertz(400.0)).expect("falls");
    /// assert_eq!(axis.shift_at(2.5), Ppm(9.5));
    /// ```
    #[must_use]
    pub fn shift_at(&self, index: f64) -> Ppm {
        Ppm(self.first.0 + self.step.0 * index)
    }

    /// The fractional index of a shift; below zero or beyond the end when the shift lies outside.
    ///
    /// ```
    /// # use lees_core::{Hertz, Megahertz, Ppm, ShiftAxis};
    /// let axis = ShiftAxis::new(Ppm(12.0), Ppm(-2.0), 15, Megahertz(400.0)).expect("falls");
    /// assert_eq!(axis.position(Ppm(9.5)), 2.5);
    /// assert_eq!(axis.position(Ppm(13.0)), -1.0);
    /// ```
    #[must_use]
    pub fn position(&self, shift: Ppm) -> f64 {
        (shift.0 - self.first.0) / self.step.0
    }

    /// The index of the point nearest to a shift, clamped to the axis.
    ///
    /// ```
    /// # use lees_core::{Hertz, Megahertz, Ppm, ShiftAxis};
    /// let axis = ShiftAxis::new(Ppm(12.0), Ppm(-2.0), 15, Megahertz(400.0)).expect("falls");
    /// assert_eq!((axis.nearest(Ppm(9.4)), axis.nearest(Ppm(20.0))), (3, 0));
    /// ```
    #[must_use]
    pub fn nearest(&self, shift: Ppm) -> usize {
        let position = self.position(shift).round().max(0.0);
        (position as usize).min(self.points - 1)
    }

    /// Whether the shift lies on the axis.
    ///
    /// ```
    /// # use lees_core::{Hertz, Megahertz, Ppm, ShiftAxis};
    /// let axis = ShiftAxis::new(Ppm(12.0), Ppm(-2.0), 15, Megahertz(400.0)).expect("falls");
    /// assert!(axis.contains(Ppm(7.26)) && !axis.contains(Ppm(-3.0)));
    /// ```
    #[must_use]
    pub fn contains(&self, shift: Ppm) -> bool {
        shift.0 <= self.first.0 && shift.0 >= self.last().0
    }

    /// The half-open index range of all points between two shifts, in either order.
    ///
    /// ```
    /// # use lees_core::{Hertz, Megahertz, Ppm, ShiftAxis};
    /// let axis = ShiftAxis::new(Ppm(12.0), Ppm(-2.0), 15, Megahertz(400.0)).expect("falls");
    /// assert_eq!(axis.index_range(Ppm(8.0), Ppm(10.0)), 2..5);
    /// ```
    #[must_use]
    pub fn index_range(&self, a: Ppm, b: Ppm) -> std::ops::Range<usize> {
        let (high, low) = if a.0 > b.0 { (a, b) } else { (b, a) };
        let start = self.position(high).ceil().max(0.0) as usize;
        let end = (self.position(low).floor() + 1.0).max(0.0) as usize;
        start.min(self.points)..end.clamp(start.min(self.points), self.points)
    }

    /// The same axis with every shift moved by `offset`.
    ///
    /// ```
    /// # use lees_core::{Hertz, Megahertz, Ppm, ShiftAxis};
    /// let axis = ShiftAxis::new(Ppm(12.0), Ppm(-2.0), 15, Megahertz(400.0)).expect("falls");
    /// assert_eq!(axis.moved(Ppm(0.5)).first(), Ppm(12.5));
    /// ```
    #[must_use]
    pub fn moved(&self, offset: Ppm) -> Self {
        Self { first: self.first + offset, ..*self }
    }
}
