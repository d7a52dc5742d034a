//! What was found and done on the way from FID to spectrum.

use lees_core::complex::modulus;
use serde::{Deserialize, Serialize};

use super::{DcOffset, Delay, DelaySource, Tail};

/// Report of [`super::transform`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TransformReport {
    /// Complex points of the FID.
    pub points_in: usize,
    /// Points of the spectrum.
    pub points_out: usize,
    /// Group delay taken off, in points.
    pub group_delay_points: f64,
    /// Where that number comes from.
    pub delay_source: DelaySource,
    /// Its standard uncertainty in points, when it was estimated.
    pub group_delay_u_points: Option<f64>,
    /// Magnitude of the constant offset taken off, in the FID's units; zero when none was found.
    pub dc_removed: f64,
    /// Factor on the first point after the pulse.
    pub first_point_weight: f64,
    /// Exponential broadening used, in hertz.
    pub line_broadening_hz: f64,
    /// Gaussian broadening used, in hertz.
    pub gaussian_broadening_hz: f64,
    /// Strongest line left at the end of the FID over the noise of one point; about 0.2 when there is none.
    pub end_over_noise: f64,
    /// Standard deviation of one channel's noise in the FID, in its units.
    pub time_noise: f64,
    /// Sum of the squared window, in points. White noise of deviation `time_noise` in each channel becomes
    /// `time_noise sqrt(window_energy)` in a point of the spectrum's real part.
    pub window_energy: f64,
    /// Whether the shift of the carrier had to be assumed.
    pub carrier_assumed: bool,
    /// What a reader should know.
    pub warnings: Vec<String>,
}

impl TransformReport {
    pub(super) fn for_points(points: usize) -> Self {
        Self {
            points_in: points,
            points_out: 0,
            group_delay_points: 0.0,
            delay_source: DelaySource::None,
            group_delay_u_points: None,
            dc_removed: 0.0,
            first_point_weight: 1.0,
            line_broadening_hz: 0.0,
            gaussian_broadening_hz: 0.0,
            end_over_noise: 0.0,
            time_noise: 0.0,
            window_energy: 0.0,
            carrier_assumed: false,
            warnings: Vec::new(),
        }
    }

    pub(super) fn take_delay(&mut self, delay: &Delay) {
        self.group_delay_points = delay.points;
        self.delay_source = delay.source;
        self.group_delay_u_points = delay.u_points;
        self.warnings.extend(delay.warning.clone());
    }

    pub(super) fn take_dc(&mut self, dc: DcOffset) {
        self.dc_removed = modulus(dc.value);
    }

    pub(super) fn take_tail(&mut self, tail: &Tail) {
        self.time_noise = tail.noise;
        self.end_over_noise = if tail.noise > 0.0 { tail.strongest / tail.noise } else { 0.0 };
    }

    pub(super) fn warn_truncated(&mut self, asked: f64, used: f64) {
        self.warnings.push(format!(
            "the FID is cut off while a line still has {:.1} times the noise; line broadening raised from \
             {asked:.2} to {used:.2} Hz to keep its side lobes down",
            self.end_over_noise
        ));
    }
}
