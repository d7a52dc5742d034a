//! A profile at places in a row: what is drawn is drawn over points evenly spaced.

use lees_core::Hertz;

use super::core::{Core, LORENTZ_HEIGHT};
use super::{LineShape, ProfilePoint};

/// Evenly spaced places, as offsets from a line's position.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    /// Offset of the first place, in hertz.
    pub first: Hertz,
    /// Hertz from one place to the next, positive.
    pub step: Hertz,
}

impl Row {
    /// Points `step` hertz apart, the first of them `first` hertz from the spectrum's first point, about a line's position.
    ///
    /// ```
    /// use lees_process::lineshape::Row;
    /// let row = Row::about(120.0, 100.0, 0.5);
    /// assert_eq!((row.first.0, row.step.0), (-20.0, 0.5));
    /// ```
    #[must_use]
    pub fn about(position: f64, first: f64, step: f64) -> Self {
        Self { first: Hertz(first - position), step: Hertz(step) }
    }
}

impl LineShape {
    /// Adds `area` times the profile to points in a row; as [`LineShape::value`] for each of them, but faster.
    ///
    /// ```
    /// use lees_core::Hertz;
    /// use lees_process::{LineShape, lineshape::Row};
    /// let line = LineShape::voigt(Hertz(1.0), 0.7);
    /// let mut points = vec![1.0; 8];
    /// line.add_row(Row { first: Hertz(-0.3), step: Hertz(0.1) }, 1.2, 5.0, &mut points);
    /// assert!((points[3] - 1.0 - 5.0 * line.value(Hertz(0.0), 1.2)).abs() < 1e-9);
    /// ```
    pub fn add_row(&self, row: Row, factor: f64, area: f64, points: &mut [f64]) {
        let scale = area / factor;
        if let (Core::Voigt(voigt), true) = (&self.core, self.parameters.shoulder == 0.0) {
            return voigt.add(row.first.0 / factor, row.step.0 / factor, scale, points);
        }
        self.each(row, factor, points.len(), |i, (value, _)| points[i] += scale * value);
    }

    /// Hands out the profile with its derivatives at `count` places in a row, as [`LineShape::point`] gives them, each with its
    /// number; in no fixed order.
    ///
    /// ```
    /// use lees_core::Hertz;
    /// use lees_process::{LineShape, lineshape::Row};
    /// let line = LineShape::voigt(Hertz(1.0), 0.7);
    /// let row = Row { first: Hertz(-0.5), step: Hertz(0.25) };
    /// line.each_point(row, 1.0, 5, |i, point| {
    ///     let alone = line.point(Hertz(-0.5 + 0.25 * i as f64), 1.0);
    ///     assert!((point.value - alone.value).abs() < 1e-9 && (point.by_factor - alone.by_factor).abs() < 1e-9);
    /// });
    /// ```
    #[inline]
    pub fn each_point(&self, row: Row, factor: f64, count: usize, mut take: impl FnMut(usize, ProfilePoint)) {
        let per_factor = factor.recip();
        self.each(row, factor, count, |i, (value, slope)| {
            let (value, by_offset) = (value * per_factor, slope * per_factor * per_factor);
            let offset = row.first.0 + i as f64 * row.step.0;
            take(i, ProfilePoint { value, by_offset, by_factor: -(value + offset * by_offset) * per_factor });
        });
    }

    /// Value and slope of the unit-factor profile at each place.
    #[inline]
    fn each(&self, row: Row, factor: f64, count: usize, mut take: impl FnMut(usize, (f64, f64))) {
        let (first, step) = (row.first.0 / factor, row.step.0 / factor);
        let plain = self.parameters.shoulder == 0.0;
        match &self.core {
            Core::Voigt(voigt) if plain => voigt.each(first, step, count, take),
            Core::Lorentz(g) if plain => {
                let per_half_width = g.recip();
                let (height, bend) = (LORENTZ_HEIGHT * per_half_width, -2.0 * per_half_width);
                for i in 0..count {
                    let u = (first + i as f64 * step) * per_half_width;
                    let q = (1.0 + u * u).recip();
                    take(i, (height * q, bend * u * q * height * q));
                }
            }
            _ => (0..count).for_each(|i| take(i, self.profile(first + i as f64 * step))),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lineshape::ShapeParameters;

    #[test]
    fn a_row_is_its_points_one_by_one_whatever_the_shape() {
        let core = ShapeParameters::symmetric(1.1, 0.6);
        let lopsided = ShapeParameters { shoulder: 0.2, shoulder_offset: 0.4, ..core };
        for parameters in [
            core,
            lopsided,
            ShapeParameters { lorentz: 1.0, ..core },
            ShapeParameters { lorentz: 0.0, ..core },
        ] {
            let shape = LineShape::new(parameters);
            let row = Row { first: Hertz(-30.0), step: Hertz(0.13) };
            let mut drawn = vec![0.0; 500];
            shape.add_row(row, 1.7, 3.0, &mut drawn);
            shape.each_point(row, 1.7, 500, |i, point| {
                let alone = shape.point(Hertz(-30.0 + 0.13 * i as f64), 1.7);
                assert!((3.0 * alone.value - drawn[i]).abs() < 1e-9, "{parameters:?} {i}");
                assert!((alone.value - point.value).abs() < 1e-9, "{parameters:?} {i}");
                assert!((alone.by_offset - point.by_offset).abs() < 1e-9, "{parameters:?} {i}");
                assert!((alone.by_factor - point.by_factor).abs() < 1e-9, "{parameters:?} {i}");
            });
        }
    }
}
