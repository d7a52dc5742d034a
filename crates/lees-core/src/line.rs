//! Lines and multiplets found in a spectrum.

use serde::{Deserialize, Serialize};

use crate::{Hertz, Multiplicity, Ppm, ShiftRange};

/// What a line is, as far as the spectrum alone tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LineKind {
    /// A signal.
    Signal,
    /// One of a pair of 13C satellites.
    CarbonSatellite,
    /// A satellite pair whose spacing no carbon coupling has (29Si, Sn, Pt, 14N ...).
    OtherSatellite,
    /// A side band at a multiple of the spinning rate.
    SpinningSideband,
    /// A side lobe of a truncated strong line.
    Truncation,
    /// A single-point spike or carrier glitch, narrower than any signal.
    Spike,
}

/// The form of a fitted line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Profile {
    /// The spectrum's common line, narrower or wider.
    #[default]
    Common,
    /// A Lorentzian: relaxation or exchange makes it wider than the common line.
    Lorentzian,
}

/// One fitted line of the spectrum.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Line {
    /// Position of the maximum.
    pub shift: Ppm,
    /// Standard uncertainty of the position.
    pub shift_u: Ppm,
    /// Full width at half height.
    pub width: Hertz,
    /// Height over the baseline, in the spectrum's intensity units.
    pub height: f64,
    /// Area, intensity times hertz, tails to infinity counted.
    pub area: f64,
    /// Standard uncertainty of the area: coloured noise and overlap.
    pub area_u: f64,
    /// Its form.
    #[serde(default)]
    pub profile: Profile,
    /// What it is.
    pub kind: LineKind,
    /// Index (in the same list) of the line it comes from, for satellites, side bands and side lobes.
    pub parent: Option<usize>,
}

/// Lines that belong to one signal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Multiplet {
    /// The centre of gravity.
    pub shift: Ppm,
    /// From the leftmost to the rightmost line, widened by a line width.
    pub range: ShiftRange,
    /// The pattern.
    pub multiplicity: Multiplicity,
    /// Coupling constants, largest first, with standard uncertainties.
    pub couplings: Vec<(Hertz, Hertz)>,
    /// Area of all lines, intensity times hertz.
    pub area: f64,
    /// Standard uncertainty of that area.
    pub area_u: f64,
    /// Indices of its lines.
    pub lines: Vec<usize>,
}
