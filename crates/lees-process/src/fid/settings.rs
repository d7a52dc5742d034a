//! Settings of the way from FID to spectrum.

use serde::{Deserialize, Serialize};

/// Which window the FID is multiplied with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Apodisation {
    /// None: for lines that have decayed within the recording.
    None,
    /// `exp(-pi LB t)`: adds `LB` to the width of every line and keeps all area ratios.
    #[default]
    Exponential,
    /// Adds a Gaussian of the given width to every line. Changes the heights of narrow and broad lines by
    /// different factors: for display.
    Gaussian,
    /// Exponential with the width of the spectrum's own sharp lines: best signal to noise for detection, lines
    /// twice as wide.
    Matched,
}

/// Default exponential line broadening in hertz: at or below the natural width of sharp lines.
/// Common practice is 0.1 to 0.3 Hz for quantification.
const LINE_BROADENING_HZ: f64 = 0.2;
/// Default width of the Gaussian window's broadening in hertz.
const GAUSSIAN_BROADENING_HZ: f64 = 1.0;
/// Doubling the length carries both receiver channels' information into the real part
/// (Bartholdi and Ernst, J. Magn. Reson. 1973, 11, 9); more only interpolates.
const ZERO_FILL_FACTOR: u32 = 2;
/// Longest spectrum made by zero filling, in points: keeps a check within tens of megabytes.
const MOST_POINTS: usize = 1 << 20;

/// Settings of [`crate::fid::transform`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct FidSettings {
    /// The window.
    pub apodisation: Apodisation,
    /// Width the exponential window adds to every line, in hertz.
    pub line_broadening_hz: f64,
    /// Width the Gaussian window adds to every line, in hertz.
    pub gaussian_broadening_hz: f64,
    /// Raise the exponential broadening when the FID is cut off before the lines have decayed.
    pub hide_truncation: bool,
    /// Zero filling: the spectrum has the power of two at or above this many times the FID's points; 1 or 0 keeps
    /// the FID's own number of points.
    pub zero_fill_factor: u32,
    /// Longest spectrum that zero filling may make, in points.
    pub zero_fill_most_points: usize,
    /// Group delay in points, over whatever the file says; unset: from the file, else estimated.
    pub group_delay_points: Option<f64>,
    /// Subtract a constant offset of the receiver when there is one.
    pub remove_dc: bool,
    /// Weigh the first point so that empty parts of the spectrum lie at zero.
    pub scale_first_point: bool,
}

impl Default for FidSettings {
    fn default() -> Self {
        Self {
            apodisation: Apodisation::default(),
            line_broadening_hz: LINE_BROADENING_HZ,
            gaussian_broadening_hz: GAUSSIAN_BROADENING_HZ,
            hide_truncation: true,
            zero_fill_factor: ZERO_FILL_FACTOR,
            zero_fill_most_points: MOST_POINTS,
            group_delay_points: None,
            remove_dc: true,
            scale_first_point: true,
        }
    }
}
