//! The common line of a spectrum.
//!
//! Shimming and apodisation broaden all sharp lines of a spectrum alike, so one profile serves all of them, with
//! a width factor for each. The profile has unit area: a symmetric Voigt core (a natural Lorentzian spread by a
//! Gaussian) plus one Lorentzian shoulder for the lopsidedness that a poor shim leaves. All parts are analytic, so
//! that areas, tails and derivatives are exact.

use lees_core::Hertz;
use serde::{Deserialize, Serialize};

mod core;
mod row;

use self::core::{Core, lorentz, lorentz_integral};

pub use row::Row;

/// The numbers that make a profile.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ShapeParameters {
    /// Full width at half height of the core, in hertz.
    pub width: f64,
    /// Width of the core's Lorentzian over the core's full width, 0 (Gaussian) to 1 (Lorentzian).
    pub lorentz: f64,
    /// Area share of the shoulder, 0 to below 1.
    pub shoulder: f64,
    /// Offset of the shoulder from the core, in core widths (positive towards lower shift).
    pub shoulder_offset: f64,
    /// Full width of the shoulder, in core widths.
    pub shoulder_width: f64,
}

impl ShapeParameters {
    /// A symmetric Voigt of full width `width` hertz, its Lorentzian `lorentz` times as wide.
    ///
    /// ```
    /// let core = lees_process::lineshape::ShapeParameters::symmetric(1.2, 0.7);
    /// assert_eq!((core.width, core.lorentz, core.shoulder), (1.2, 0.7, 0.0), "1.2 Hz wide in all, 0.84 Hz of it Lorentzian");
    /// ```
    #[must_use]
    pub const fn symmetric(width: f64, lorentz: f64) -> Self {
        Self { width, lorentz, shoulder: 0.0, shoulder_offset: 0.0, shoulder_width: 1.0 }
    }
}

/// Value and derivatives of a profile at one offset.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ProfilePoint {
    /// Profile, per hertz (unit area).
    pub value: f64,
    /// Derivative by the offset, per hertz squared.
    pub by_offset: f64,
    /// Derivative by the width factor, per hertz.
    pub by_factor: f64,
}

/// The common line of a spectrum: a profile of unit area.
///
/// Offsets are hertz, positive towards lower shift (growing index). A width factor of 1 is the common line
/// itself, 2 a line twice as wide and half as high.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(from = "ShapeParameters", into = "ShapeParameters")]
pub struct LineShape {
    parameters: ShapeParameters,
    core: Core,
    fwhm: f64,
    peak: f64,
    peak_at: f64,
}

impl PartialEq for LineShape {
    fn eq(&self, other: &Self) -> bool {
        self.parameters == other.parameters
    }
}

impl From<ShapeParameters> for LineShape {
    fn from(parameters: ShapeParameters) -> Self {
        Self::new(parameters)
    }
}

impl From<LineShape> for ShapeParameters {
    fn from(shape: LineShape) -> Self {
        shape.parameters
    }
}

impl LineShape {
    /// The profile of given parameters; shares are clamped to their ranges.
    ///
    /// ```
    /// use lees_core::Hertz;
    /// use lees_process::lineshape::{LineShape, ShapeParameters};
    /// let line = LineShape::new(ShapeParameters::symmetric(1.0, 1.0));
    /// let top = line.value(Hertz(0.0), 1.0);
    /// assert!((top - 2.0 / std::f64::consts::PI).abs() < 1e-12);
    /// assert!((line.value(Hertz(0.5), 1.0) - top / 2.0).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn new(parameters: ShapeParameters) -> Self {
        let parameters = ShapeParameters {
            width: parameters.width.max(f64::MIN_POSITIVE),
            lorentz: parameters.lorentz.clamp(0.0, 1.0),
            shoulder: parameters.shoulder.clamp(0.0, 0.9),
            shoulder_offset: parameters.shoulder_offset,
            shoulder_width: parameters.shoulder_width.max(0.05),
        };
        let mut shape =
            Self { parameters, core: Core::of(&parameters), fwhm: parameters.width, peak: 0.0, peak_at: 0.0 };
        shape.measure();
        shape
    }

    /// A symmetric Voigt line.
    ///
    /// ```
    /// use lees_core::Hertz;
    /// use lees_process::LineShape;
    /// // Gaussian and Lorentzian of one width and area: their heights are 0.939 and 0.637 over the width.
    /// let (gauss, lorentz) = (LineShape::voigt(Hertz(1.0), 0.0), LineShape::voigt(Hertz(1.0), 1.0));
    /// assert!((gauss.height(1.0) - 0.939).abs() < 1e-3 && (lorentz.height(1.0) - 0.637).abs() < 1e-3);
    /// ```
    #[must_use]
    pub fn voigt(fwhm: Hertz, lorentz: f64) -> Self {
        Self::new(ShapeParameters::symmetric(fwhm.0, lorentz))
    }

    /// The parameters.
    ///
    /// ```
    /// let line = lees_process::LineShape::voigt(lees_core::Hertz(1.2), 0.7);
    /// assert_eq!((line.parameters().width, line.parameters().lorentz), (1.2, 0.7));
    /// ```
    #[must_use]
    pub const fn parameters(&self) -> ShapeParameters {
        self.parameters
    }

    /// Full width at half height of the whole profile at width factor 1.
    ///
    /// ```
    /// use lees_process::lineshape::{LineShape, ShapeParameters};
    /// let core = LineShape::voigt(lees_core::Hertz(1.0), 1.0).parameters();
    /// let lopsided = LineShape::new(ShapeParameters { shoulder: 0.3, shoulder_offset: 0.4, ..core });
    /// assert!(lopsided.fwhm().0 > 1.0, "a shoulder widens the whole");
    /// ```
    #[must_use]
    pub const fn fwhm(&self) -> Hertz {
        Hertz(self.fwhm)
    }

    /// Height of a line of unit area, per hertz.
    ///
    /// ```
    /// let line = lees_process::LineShape::voigt(lees_core::Hertz(1.0), 1.0);
    /// assert!((line.height(1.0) - 2.0 / std::f64::consts::PI).abs() < 1e-12, "a Lorentzian of 1 Hz and unit area");
    /// assert!((line.height(2.0) - line.height(1.0) / 2.0).abs() < 1e-12, "twice as wide, half as high");
    /// ```
    #[must_use]
    pub fn height(&self, factor: f64) -> f64 {
        self.peak / factor
    }

    /// Where the maximum lies from the fitted position, at width factor 1.
    ///
    /// ```
    /// use lees_process::lineshape::{LineShape, ShapeParameters};
    /// let even = LineShape::voigt(lees_core::Hertz(1.0), 1.0);
    /// assert_eq!(even.peak_offset().0, 0.0);
    /// let lopsided = LineShape::new(ShapeParameters { shoulder: 0.3, shoulder_offset: 0.4, ..even.parameters() });
    /// assert!(lopsided.peak_offset().0 > 0.0, "drawn towards the shoulder, here to lower shift");
    /// ```
    #[must_use]
    pub const fn peak_offset(&self) -> Hertz {
        Hertz(self.peak_at)
    }

    /// The profile at an offset from the line's position, per hertz, for a width factor.
    ///
    /// ```
    /// use lees_core::Hertz;
    /// let line = lees_process::LineShape::voigt(Hertz(1.2), 0.4);
    /// let (top, half) = (line.value(Hertz(0.0), 1.0), line.value(Hertz(0.6), 1.0));
    /// assert!((half / top - 0.5).abs() < 1e-3, "half the height at half the width");
    /// ```
    #[must_use]
    pub fn value(&self, offset: Hertz, factor: f64) -> f64 {
        self.profile(offset.0 / factor).0 / factor
    }

    /// The dispersion that goes with the profile (its Hilbert transform), per hertz: what a small phase error adds,
    /// times the angle in radians.
    ///
    /// ```
    /// use lees_core::Hertz;
    /// use lees_process::LineShape;
    /// let line = LineShape::voigt(Hertz(1.0), 1.0);
    /// let at_half_height = line.dispersion(Hertz(0.5), 1.0);
    /// assert!((at_half_height - line.value(Hertz(0.0), 1.0) / 2.0).abs() < 1e-9);
    /// ```
    #[must_use]
    pub fn dispersion(&self, offset: Hertz, factor: f64) -> f64 {
        let p = &self.parameters;
        let x = offset.0 / factor;
        let core = (1.0 - p.shoulder) * self.core.dispersion(x);
        let gs = p.width / 2.0 * p.shoulder_width;
        let shoulder = if p.shoulder > 0.0 {
            p.shoulder * Core::Lorentz(gs).dispersion(x - p.shoulder_offset * p.width)
        } else {
            0.0
        };
        (core + shoulder) / factor
    }

    /// The profile with its derivatives by offset and width factor.
    ///
    /// ```
    /// use lees_core::Hertz;
    /// use lees_process::LineShape;
    /// let line = LineShape::voigt(Hertz(1.2), 0.7);
    /// let at = line.point(Hertz(0.4), 1.1);
    /// let step = 1e-6;
    /// let numeric = (line.value(Hertz(0.4 + step), 1.1) - line.value(Hertz(0.4 - step), 1.1)) / (2.0 * step);
    /// assert!((at.by_offset - numeric).abs() < 1e-7);
    /// ```
    #[must_use]
    pub fn point(&self, offset: Hertz, factor: f64) -> ProfilePoint {
        let x = offset.0 / factor;
        let (value, slope) = self.profile(x);
        let value = value / factor;
        let by_offset = slope / (factor * factor);
        ProfilePoint { value, by_offset, by_factor: -(value + offset.0 * by_offset) / factor }
    }

    /// The share of the area within `half_window` hertz on both sides of the position.
    ///
    /// ```
    /// use lees_core::Hertz;
    /// use lees_process::LineShape;
    /// let line = LineShape::voigt(Hertz(1.0), 1.0);
    /// let kept = line.retained(Hertz(32.0), 1.0); // 64 half widths: (2 / pi) atan 64
    /// assert!((kept - 0.990_05).abs() < 1e-4);
    /// ```
    #[must_use]
    pub fn retained(&self, half_window: Hertz, factor: f64) -> f64 {
        self.integral(half_window, factor) - self.integral(-half_window, factor)
    }

    /// The share of the area up to an offset (the cumulative profile).
    #[must_use]
    pub(crate) fn integral(&self, offset: Hertz, factor: f64) -> f64 {
        let p = &self.parameters;
        let core = self.core.integral(offset.0 / factor);
        if p.shoulder == 0.0 {
            return core;
        }
        let v = (offset.0 / factor - p.shoulder_offset * p.width) / (p.width / 2.0 * p.shoulder_width);
        (1.0 - p.shoulder) * core + p.shoulder * lorentz_integral(v)
    }

    /// Value and slope of the unit-factor profile.
    fn profile(&self, x: f64) -> (f64, f64) {
        let p = &self.parameters;
        let (value, slope) = self.core.at(x);
        let (mut value, mut slope) = ((1.0 - p.shoulder) * value, (1.0 - p.shoulder) * slope);
        if p.shoulder > 0.0 {
            let gs = p.width / 2.0 * p.shoulder_width;
            let (l, dl) = lorentz((x - p.shoulder_offset * p.width) / gs);
            value += p.shoulder / gs * l;
            slope += p.shoulder / (gs * gs) * dl;
        }
        (value, slope)
    }

    /// Finds maximum and full width.
    fn measure(&mut self) {
        let w = self.parameters.width;
        if self.parameters.shoulder == 0.0 {
            self.peak = self.profile(0.0).0;
            self.fwhm = if matches!(self.core, Core::Lorentz(_)) { w } else { 2.0 * self.half_point(1.0) };
            return;
        }
        let mut at = 0.0;
        for _ in 0..20 {
            let step = 1e-4 * w;
            let (_, below) = self.profile(at - step);
            let (_, above) = self.profile(at + step);
            let (_, here) = self.profile(at);
            let curvature = (above - below) / (2.0 * step);
            if curvature >= 0.0 {
                break;
            }
            at -= (here / curvature).clamp(-0.1 * w, 0.1 * w);
        }
        self.peak_at = at;
        self.peak = self.profile(at).0;
        self.fwhm = self.half_point(1.0) + self.half_point(-1.0);
    }

    /// Distance from the maximum to half height on one side, by bisection.
    fn half_point(&self, side: f64) -> f64 {
        let (mut near, mut far) = (0.0, self.parameters.width * 4.0);
        for _ in 0..60 {
            let middle = (near + far) / 2.0;
            if self.profile(self.peak_at + side * middle).0 > self.peak / 2.0 {
                near = middle;
            } else {
                far = middle;
            }
        }
        (near + far) / 2.0
    }
}
