//! Line fits: separable least squares in windows, tails of all other lines counted.

mod cluster;
mod find;
mod render;
mod shape;
mod solve;

use serde::{Deserialize, Serialize};

pub use cluster::{Cluster, clusters};
pub use find::{Found, find};
pub use render::{FarField, render};
pub use shape::{first_width, fit_shape};
pub use solve::{Fit, Window, fit_cluster};

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
    /// Widest broad line, hertz.
    pub widest_hz: f64,
    /// A line must lower chi-square by this much to stay.
    pub least_gain: f64,
}

impl Default for LineSettings {
    fn default() -> Self {
        Self { window_widths: 12.0, width_spread: 0.25, narrowest: 0.5, widest: 4.0, widest_hz: 60.0, least_gain: 25.0 }
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
    /// Whether the width is the line's own (exchange, polymer) and not the spectrum's.
    pub broad: bool,
}

impl FitLine {
    /// A line still to be fitted.
    #[must_use]
    pub const fn new(position: f64, area: f64, factor: f64) -> Self {
        Self { position, position_u: f64::INFINITY, area, area_u: f64::INFINITY, factor, factor_u: 0.0, broad: false }
    }
}
