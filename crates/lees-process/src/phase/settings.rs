//! Settings of phase correction.

use serde::{Deserialize, Serialize};

/// Strongest lines used: more cost time and add little.
const MOST_LINES: usize = 30;
/// Weakest line used, height over noise: below it a line says less than 5 degrees.
const LEAST_LINE_SNR: f64 = 10.0;
/// First-order phase searched on either side of zero, degrees over the whole spectrum; half a turn is what delays
/// of pulse and receiver leave, the rest is margin.
const PH1_RANGE_DEG: f64 = 540.0;
/// Fewer lines than this leave the first-order phase at zero.
const LEAST_LINES_FOR_PH1: usize = 3;
/// Lines that span less than this leave the first-order phase at zero, in ppm.
const LEAST_SPAN_PPM: f64 = 1.0;
/// Largest phase error corrected in a spectrum without imaginary part, degrees: beyond it the spectrum was meant
/// otherwise, or never phased.
const REAL_MOST_DEG: f64 = 20.0;

/// Settings of [`crate::phase::automatic`] and [`crate::phase::check_real`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct PhaseSettings {
    /// Correct the phase; off: only measured and reported.
    pub correct: bool,
    /// Most lines to fit, strongest first.
    pub most_lines: usize,
    /// Least height over noise of a line that is used.
    pub least_line_snr: f64,
    /// Range of the first-order phase on either side of zero, degrees over the whole spectrum; no more than
    /// 7200 are looked at.
    pub ph1_range_deg: f64,
    /// Fewest lines for a first-order phase.
    pub least_lines_for_ph1: usize,
    /// Smallest span of the lines for a first-order phase, in ppm.
    pub least_span_ppm: f64,
    /// Correct the phase of spectra without imaginary part, where that is safe.
    pub correct_real_only: bool,
    /// Largest error corrected in a spectrum without imaginary part, in degrees.
    pub real_only_most_deg: f64,
}

/// The widest range of the first-order phase that is looked at, in degrees: twenty points late.
const MOST_PH1_RANGE_DEG: f64 = 7200.0;

impl PhaseSettings {
    /// The range of the first-order phase in radians.
    pub(super) fn ph1_range(&self) -> f64 {
        self.ph1_range_deg.min(MOST_PH1_RANGE_DEG).to_radians()
    }
}

impl Default for PhaseSettings {
    fn default() -> Self {
        Self {
            correct: true,
            most_lines: MOST_LINES,
            least_line_snr: LEAST_LINE_SNR,
            ph1_range_deg: PH1_RANGE_DEG,
            least_lines_for_ph1: LEAST_LINES_FOR_PH1,
            least_span_ppm: LEAST_SPAN_PPM,
            correct_real_only: true,
            real_only_most_deg: REAL_MOST_DEG,
        }
    }
}
