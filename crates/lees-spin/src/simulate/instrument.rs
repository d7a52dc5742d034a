//! The spectrometer and how it was set.

use serde::{Deserialize, Serialize};

use super::RecipeError;

/// Spectrometer and acquisition settings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Instrument {
    /// Proton frequency in MHz.
    pub field_mhz: f64,
    /// Label of the NMR solvent.
    pub solvent: String,
    /// Spectral width in hertz.
    pub spectral_width_hz: f64,
    /// Shift at the carrier in ppm.
    pub carrier_ppm: f64,
    /// Complex points recorded.
    pub fid_points: usize,
    /// Scans, for the record only.
    pub scans: Option<u32>,
    /// From the end of one recording to the next pulse, in seconds.
    pub relaxation_delay_s: Option<f64>,
    /// Flip angle in degrees.
    pub pulse_angle_deg: Option<f64>,
    /// Sample temperature in kelvin, for the record only.
    pub temperature_k: Option<f64>,
    /// Digital filter's group delay in points, possibly fractional; none when absent.
    pub group_delay: Option<f64>,
}

impl Default for Instrument {
    /// A common routine setting: 400 MHz, 20 ppm, 32k complex points (4.1 s), no digital filter.
    fn default() -> Self {
        Self {
            field_mhz: 400.13,
            solvent: "CDCl3".to_owned(),
            spectral_width_hz: 8000.0,
            carrier_ppm: 5.5,
            fid_points: 32_768,
            scans: None,
            relaxation_delay_s: None,
            pulse_angle_deg: None,
            temperature_k: None,
            group_delay: None,
        }
    }
}

/// Most complex points of a recording: enough for any proton spectrum, small enough for memory.
const MOST_POINTS: usize = 1 << 22;

impl Instrument {
    /// Time between complex points in seconds.
    ///
    /// ```
    /// # use lees_spin::simulate::Instrument;
    /// let instrument = Instrument { spectral_width_hz: 8000.0, fid_points: 32_000, ..Instrument::default() };
    /// assert_eq!(instrument.dwell(), 0.000125);
    /// ```
    #[must_use]
    pub fn dwell(&self) -> f64 {
        1.0 / self.spectral_width_hz
    }

    /// Length of the recording in seconds.
    ///
    /// ```
    /// # use lees_spin::simulate::Instrument;
    /// let instrument = Instrument { spectral_width_hz: 8000.0, fid_points: 32_000, ..Instrument::default() };
    /// assert_eq!(instrument.acquisition_time(), 4.0);
    /// ```
    #[must_use]
    pub fn acquisition_time(&self) -> f64 {
        self.fid_points as f64 * self.dwell()
    }

    /// Frequency of a shift relative to the carrier, in hertz.
    pub(crate) fn offset(&self, ppm: f64) -> f64 {
        (ppm - self.carrier_ppm) * self.field_mhz
    }

    /// Share of the equilibrium signal left in the steady state, relative to a fully relaxed pulse of the same angle:
    /// (1 - E) / (1 - E cos a) with E = exp(-TR/T1) (Ernst & Anderson, Rev. Sci. Instrum. 1966, 37, 93, from
    /// memory). One when flip angle, delay or T1 is not given.
    ///
    /// ```
    /// # use lees_spin::simulate::Instrument;
    /// let instrument = Instrument {
    ///     spectral_width_hz: 8000.0,
    ///     fid_points: 32_000,
    ///     relaxation_delay_s: Some(1.0),
    ///     pulse_angle_deg: Some(90.0),
    ///     ..Instrument::default()
    /// };
    /// // Five seconds of recovery at T1 = 5 s after a right-angle pulse leave 1 - 1/e.
    /// assert!((instrument.saturation(Some(5.0)) - 0.632).abs() < 0.001);
    /// assert_eq!(instrument.saturation(None), 1.0);
    /// ```
    #[must_use]
    pub fn saturation(&self, t1: Option<f64>) -> f64 {
        let (Some(delay), Some(angle), Some(t1)) = (self.relaxation_delay_s, self.pulse_angle_deg, t1) else {
            return 1.0;
        };
        let left = libm::exp(-(delay + self.acquisition_time()) / t1);
        (1.0 - left) / (1.0 - left * libm::cos(angle.to_radians()))
    }

    pub(crate) fn check(&self) -> Result<(), RecipeError> {
        let positive = |name, value: f64| {
            if value.is_finite() && value > 0.0 {
                Ok(())
            } else {
                Err(RecipeError::Setting { name, value, allowed: "more than 0" })
            }
        };
        positive("instrument.field_mhz", self.field_mhz)?;
        positive("instrument.spectral_width_hz", self.spectral_width_hz)?;
        if !(16..=MOST_POINTS).contains(&self.fid_points) {
            let value = self.fid_points as f64;
            return Err(RecipeError::Setting {
                name: "instrument.fid_points",
                value,
                allowed: "16 to 4194304",
            });
        }
        match self.group_delay {
            Some(value) if !(value >= 1.0 && value < self.fid_points as f64 / 4.0) => {
                Err(RecipeError::Setting {
                    name: "instrument.group_delay",
                    value,
                    allowed: "1 to a quarter of fid_points",
                })
            }
            _ => Ok(()),
        }
    }
}
