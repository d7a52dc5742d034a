//! Lines that are no signals of their own: satellites, side bands, side lobes, spikes.

mod satellites;
mod sidebands;
mod sidelobes;

use lees_core::{Line, LineKind, ShiftAxis};
use serde::{Deserialize, Serialize};

use crate::lineshape::Row;
use crate::{LineShape, Noise};

pub use satellites::CARBON_SHARE;
use satellites::label_satellites;
use sidebands::label_sidebands;
use sidelobes::label_sidelobes;

/// Settings of the search for artefacts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct ArtefactSettings {
    /// Whether 13C satellites are looked for.
    pub satellites: bool,
    /// Smallest one-bond carbon coupling, hertz.
    pub least_coupling_hz: f64,
    /// Largest one-bond carbon coupling, hertz.
    pub most_coupling_hz: f64,
    /// Relative tolerance of a satellite's area.
    pub area_tolerance: f64,
    /// Largest shift of a satellite pair's middle to lower shift, parts per million.
    pub isotope_shift_ppm: f64,
    /// Whether spinning side bands are looked for.
    pub sidebands: bool,
    /// Slowest spinning, hertz.
    pub least_spin_hz: f64,
    /// Fastest spinning, hertz.
    pub most_spin_hz: f64,
    /// A line narrower than this share of the common width is a spike.
    pub spike_factor: f64,
}

impl Default for ArtefactSettings {
    fn default() -> Self {
        Self {
            satellites: true,
            least_coupling_hz: 115.0,
            most_coupling_hz: 215.0,
            area_tolerance: 0.25,
            isotope_shift_ppm: 0.006,
            sidebands: true,
            least_spin_hz: 5.0,
            most_spin_hz: 60.0,
            spike_factor: 0.5,
        }
    }
}

/// What the search needs to know beside the lines.
#[derive(Debug, Clone)]
pub struct Scene<'a> {
    /// The shift axis.
    pub axis: ShiftAxis,
    /// The common line.
    pub shape: LineShape,
    /// The noise.
    pub noise: &'a Noise,
    /// Spectrum less baseline and lines.
    pub residual: Vec<f64>,
    /// Sum of all lines.
    pub model: &'a [f64],
    /// Length of the recording, seconds.
    pub acquisition_time: Option<f64>,
}

impl Scene<'_> {
    /// Position of a line, hertz from the first point.
    #[must_use]
    pub(crate) fn position(&self, line: &Line) -> f64 {
        self.axis.position(line.shift) * self.axis.hertz_per_point().0
    }

    /// The nearest index to a position, clamped.
    #[must_use]
    pub(crate) fn index(&self, position: f64) -> usize {
        let index = (position / self.axis.hertz_per_point().0).round().max(0.0) as usize;
        index.min(self.residual.len().saturating_sub(1))
    }

    /// Area of a common line at `position` that the residual would take, and its standard uncertainty. `None` too
    /// near the spectrum's ends.
    #[must_use]
    pub(crate) fn probe(&self, position: f64) -> Option<(f64, f64)> {
        let step = self.axis.hertz_per_point().0;
        let half = (3.0 * self.shape.fwhm().0 / step).ceil() as usize;
        let middle = self.index(position);
        let range = middle.checked_sub(half)?..middle + half + 1;
        let window = self.residual.get(range.clone())?;
        let mut kernel = vec![0.0; range.len()];
        self.shape.add_row(Row::about(position, range.start as f64 * step, step), 1.0, 1.0, &mut kernel);
        let norm: f64 = kernel.iter().map(|k| k * k).sum();
        let area = window.iter().zip(&kernel).map(|(v, k)| v * k).sum::<f64>() / norm;
        let u = self.noise.sigma(middle) * self.noise.kernel_variance(&kernel).max(0.0).sqrt() / norm;
        Some((area, u))
    }
}

/// Standard errors of area from which a line's width is well enough known to call it a spike.
const SURE: f64 = 15.0;
/// A line of three points' width stands 31 % of its height out of its neighbours' mean, a spike almost all ...
const LONE_SHARE: f64 = 0.6;
/// ... and by more than this many sigma.
const LONE_SIGMA: f64 = 8.0;
/// Points of a common line's width from which a lone point can be told.
const LEAST_POINTS: f64 = 3.0;

/// Labels all artefacts among `lines` (sorted by falling shift) and names their parents.
///
/// ```
/// use lees_core::{Hertz, Line, LineKind, Megahertz, Ppm, Profile, ShiftAxis};
/// use lees_process::{LineShape, Noise, artefact::{ArtefactSettings, Scene, label}};
/// let axis = ShiftAxis::new(Ppm(10.0), Ppm(0.0), 8000, Megahertz(400.0)).expect("falls");
/// let (noise, nothing) = (Noise::white(1.0, 8000), vec![0.0; 8000]);
/// let shape = LineShape::voigt(Hertz(1.5), 1.0);
/// let scene = Scene { axis, shape: shape.clone(), noise: &noise, residual: nothing.clone(), model: &nothing, acquisition_time: None };
/// let line = |shift, area| Line {
///     shift: Ppm(shift), shift_u: Ppm(1e-5), width: Hertz(1.5),
///     height: area * shape.height(1.0), area, area_u: 2.0, profile: Profile::Common, kind: LineKind::Signal, parent: None,
/// };
/// // A CH at 6.00 ppm with 1J(CH) = 160 Hz: 0.2 ppm to either side, 0.535 % of its area each, half of 1.07 % carbon-13.
/// let mut lines = [line(6.2, 535.0), line(6.0, 100_000.0), line(5.8, 535.0)];
/// label(&mut lines, &scene, &ArtefactSettings::default());
/// assert_eq!(lines[0].kind, LineKind::CarbonSatellite);
/// assert_eq!((lines[1].kind, lines[2].parent), (LineKind::Signal, Some(1)));
/// ```
pub fn label(lines: &mut [Line], scene: &Scene<'_>, settings: &ArtefactSettings) {
    label_spikes(lines, scene, settings);
    label_sidelobes(lines, scene);
    if settings.satellites {
        label_satellites(lines, scene, settings);
    }
    if settings.sidebands {
        label_sidebands(lines, scene, settings);
    }
}

/// A line much narrower than the common line is no signal; nor is a single point standing out of its neighbours;
/// at the very centre of the spectrum a slightly narrower line is the receiver's offset.
fn label_spikes(lines: &mut [Line], scene: &Scene<'_>, settings: &ArtefactSettings) {
    let common = scene.shape.fwhm().0;
    let centre = scene.residual.len() as f64 / 2.0;
    for line in lines.iter_mut().filter(|l| l.kind == LineKind::Signal) {
        let factor = line.width.0 / common;
        let central = (scene.axis.position(line.shift) - centre).abs() < 2.0;
        let sure = line.area > SURE * line.area_u;
        let narrow = sure && (factor < settings.spike_factor || (central && factor < 0.8));
        if narrow || lone_point(scene, line) {
            line.kind = LineKind::Spike;
        }
    }
}

/// Whether the line is one point high above both neighbours, though the common line is several points wide.
fn lone_point(scene: &Scene<'_>, line: &Line) -> bool {
    let value = |i: usize| scene.residual[i] + scene.model[i];
    let middle = scene.axis.nearest(line.shift);
    let wide = scene.shape.fwhm().0 > LEAST_POINTS * scene.axis.hertz_per_point().0;
    let inside = |i: &usize| *i > 0 && *i + 1 < scene.residual.len();
    wide && (middle.saturating_sub(1)..=middle + 1).filter(inside).any(|i| {
        let out = value(i) - (value(i - 1) + value(i + 1)) / 2.0;
        out > LONE_SHARE * value(i) && out > LONE_SIGMA * scene.noise.sigma(i)
    })
}
