//! Free induction decays as values.

use ndarray::Array1;
use num_complex::Complex64;

use crate::{Acquisition, Hertz, Ppm, Seconds};

/// A complex free induction decay, simultaneously sampled.
///
/// Sign convention: a line at a shift above the carrier turns in the positive sense, `exp(+i 2 pi nu t)` with
/// `nu > 0`, so that after a forward transform and centring, falling frequency is falling shift. Readers
/// conjugate data stored the other way round.
#[derive(Debug, Clone, PartialEq)]
pub struct Fid {
    /// The points, in time order, arbitrary units.
    pub points: Array1<Complex64>,
    /// Time between neighbouring complex points.
    pub dwell: Seconds,
    /// Shift at the carrier (zero frequency); `None` when the file does not say.
    pub carrier: Option<Ppm>,
    /// Digital filter's group delay in points, possibly fractional; `None` when not stated.
    pub group_delay: Option<f64>,
    /// How it was taken.
    pub acquisition: Acquisition,
}

impl Fid {
    /// Spectral width, the inverse of the dwell time.
    ///
    /// ```
    /// # use lees_core::{Acquisition, Fid, Hertz, Megahertz, Seconds};
    /// let fid = Fid {
    ///     points: vec![num_complex::Complex64::ONE; 4000].into(),
    ///     dwell: Seconds(0.00025),
    ///     carrier: None,
    ///     group_delay: None,
    ///     acquisition: Acquisition::at_field(Megahertz(400.0)),
    /// };
    /// assert_eq!(fid.spectral_width(), Hertz(4000.0));
    /// ```
    #[must_use]
    pub fn spectral_width(&self) -> Hertz {
        Hertz(1.0 / self.dwell.value())
    }

    /// Length of the recording.
    ///
    /// ```
    /// # use lees_core::{Acquisition, Fid, Hertz, Megahertz, Seconds};
    /// let fid = Fid {
    ///     points: vec![num_complex::Complex64::ONE; 4000].into(),
    ///     dwell: Seconds(0.00025),
    ///     carrier: None,
    ///     group_delay: None,
    ///     acquisition: Acquisition::at_field(Megahertz(400.0)),
    /// };
    /// assert_eq!(fid.acquisition_time(), Seconds(1.0));
    /// ```
    #[must_use]
    pub fn acquisition_time(&self) -> Seconds {
        Seconds(self.dwell.value() * self.points.len() as f64)
    }
}
