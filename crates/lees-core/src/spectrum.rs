//! Spectra as values.

use ndarray::Array1;

use crate::{Acquisition, Fid, ShiftAxis};

/// A one-dimensional spectrum on an even shift axis, first point at the highest shift.
#[derive(Debug, Clone, PartialEq)]
pub struct Spectrum {
    /// The shift of every point.
    pub axis: ShiftAxis,
    /// Real part in the file's arbitrary units; `axis.points()` long.
    pub real: Array1<f64>,
    /// Imaginary part when the file has one; as long as `real`.
    pub imaginary: Option<Array1<f64>>,
    /// How it was taken.
    pub acquisition: Acquisition,
}

/// What one block of a file measured.
#[derive(Debug, Clone, PartialEq)]
pub enum Measurement {
    /// A processed spectrum.
    Spectrum(Spectrum),
    /// A free induction decay still to be transformed.
    Fid(Fid),
}

impl Measurement {
    /// How it was taken.
    ///
    /// ```
    /// # use lees_core::{Acquisition, Measurement, Megahertz, Ppm, ShiftAxis, Spectrum};
    /// let spectrum = Spectrum {
    ///     axis: ShiftAxis::new(Ppm(12.0), Ppm(-2.0), 3, Megahertz(400.0)).expect("falls"),
    ///     real: vec![0.0, 1.0, 0.0].into(),
    ///     imaginary: None,
    ///     acquisition: Acquisition::at_field(Megahertz(400.0)),
    /// };
    /// assert_eq!(Measurement::Spectrum(spectrum).acquisition().field, Megahertz(400.0));
    /// ```
    #[must_use]
    pub fn acquisition(&self) -> &Acquisition {
        match self {
            Self::Spectrum(spectrum) => &spectrum.acquisition,
            Self::Fid(fid) => &fid.acquisition,
        }
    }

    /// Number of (complex) points.
    ///
    /// ```
    /// # use lees_core::{Acquisition, Measurement, Megahertz, Ppm, ShiftAxis, Spectrum};
    /// let spectrum = Spectrum {
    ///     axis: ShiftAxis::new(Ppm(12.0), Ppm(-2.0), 3, Megahertz(400.0)).expect("falls"),
    ///     real: vec![0.0, 1.0, 0.0].into(),
    ///     imaginary: None,
    ///     acquisition: Acquisition::at_field(Megahertz(400.0)),
    /// };
    /// assert_eq!(Measurement::Spectrum(spectrum).points(), 3);
    /// ```
    #[must_use]
    pub fn points(&self) -> usize {
        match self {
            Self::Spectrum(spectrum) => spectrum.real.len(),
            Self::Fid(fid) => fid.points.len(),
        }
    }
}
