//! Line fits: separable least squares in windows, tails of all other lines counted.

mod broad;
mod cluster;
mod divide;
mod feet;
mod find;
mod linear;
mod prior;
mod render;
mod shape;
mod shoulder;
mod solve;

use lees_core::Hertz;
use serde::{Deserialize, Serialize};

pub use cluster::Cluster;
pub(crate) use cluster::clusters;
pub(crate) use find::find_upright;
pub use find::{Found, find};
pub use render::{FarField, render};
pub use solve::{Fit, Window};

use crate::LineShape;

/// A Lorentzian as wide as the common line, for lines with a width of their own.
#[must_use]
pub(crate) fn lorentzian_of(common: &LineShape) -> LineShape {
    LineShape::voigt(Hertz(common.fwhm().0), 1.0)
}

/// Settings of the line fits.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct LineSettings {
    /// Half width of the fit window around each line, in line widths.
    pub window_widths: f64,
    /// A priori spread of the width factor of a sharp line (natural logarithm).
    pub width_spread: f64,
    /// Narrowest line allowed, as a factor of the common width.
    pub narrowest: f64,
    /// Widest sharp line, as a factor of the common width.
    pub widest: f64,
    /// Lines wider than this are fitted together with the baseline, hertz.
    pub broad_hz: f64,
    /// Widest line; what is wider counts as baseline, hertz.
    pub widest_hz: f64,
    /// A line must lower chi-square by this much to stay.
    pub least_gain: f64,
}

impl Default for LineSettings {
    fn default() -> Self {
        Self {
            window_widths: 12.0,
            width_spread: 0.25,
            narrowest: 0.4,
            widest: 4.0,
            broad_hz: 12.0,
            widest_hz: 250.0,
            least_gain: 25.0,
        }
    }
}

/// A line in a fit. Positions are hertz to the right of the spectrum's first point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FitLine {
    /// Position, hertz from the first point.
    pub position: f64,
    /// Its standard uncertainty.
    pub position_u: f64,
    /// Area, intensity times hertz.
    pub area: f64,
    /// Its standard uncertainty.
    pub area_u: f64,
    /// Width factor.
    pub factor: f64,
    /// Its standard uncertainty; 0 when held.
    pub factor_u: f64,
    /// Whose width it has.
    pub width: WidthKind,
}

/// Whose width a line has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WidthKind {
    /// About the spectrum's common width: the width factor is drawn towards 1.
    Common,
    /// Its own (exchange, relaxation), a few times the common one; Lorentzian.
    Own,
    /// Its own, so wide that it is fitted together with the baseline; Lorentzian.
    Broad,
    /// Its own, as wide, but so far above any baseline that it is fitted beside the sharp ones; Lorentzian.
    Tall,
}

impl FitLine {
    /// The profile of this line's kind: the common one, or a Lorentzian of the same full width.
    #[must_use]
    pub(crate) fn shape<'a>(&self, common: &'a LineShape, lorentzian: &'a LineShape) -> &'a LineShape {
        if self.width == WidthKind::Common { common } else { lorentzian }
    }

    /// A line still to be fitted.
    ///
    /// ```
    /// let line = lees_process::lines::FitLine::new(120.5, 3.0e4, 1.0);
    /// assert_eq!(line.position, 120.5);
    /// assert!(line.area_u.is_infinite(), "nothing is known of its uncertainty yet");
    /// ```
    #[must_use]
    pub const fn new(position: f64, area: f64, factor: f64) -> Self {
        Self {
            position,
            position_u: f64::INFINITY,
            area,
            area_u: f64::INFINITY,
            factor,
            factor_u: 0.0,
            width: WidthKind::Common,
        }
    }
}
