//! The pipeline: measurement in, lines and signals out.

use lees_core::{Hertz, Line, LineKind, Measurement, Multiplet, Profile, ShiftAxis, Spectrum};
use ndarray::Array1;

use crate::artefact::{self, Scene};
use crate::fid::transform;
use crate::lines::{FitLine, Found, WidthKind, find, find_upright, lorentzian_of};
use crate::phase::{PhaseReport, Phasing};
use crate::{LineShape, Noise, ProcessError, Settings, Workspace, multiplet};

/// Fewest points of a spectrum.
const FEWEST_POINTS: usize = 256;

/// What the measurement was.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum InputKind {
    /// A free induction decay, transformed here.
    Fid,
    /// A spectrum with an imaginary part.
    Complex,
    /// A spectrum with a real part only.
    RealOnly,
}

/// A processed spectrum.
#[derive(Debug, Clone)]
pub struct Processed {
    /// Phased, baseline removed, not yet referenced.
    pub spectrum: Spectrum,
    /// What was removed.
    pub baseline: Array1<f64>,
    /// The sum of all fitted lines.
    pub model: Array1<f64>,
    /// What that sum may be wrong by at every point beside noise, a standard uncertainty: where lines have no common shape, and
    /// beside tall ones.
    pub allowance: Array1<f64>,
    /// Noise, local and coloured.
    pub noise: Noise,
    /// The common line.
    pub shape: LineShape,
    /// All lines, highest shift first.
    pub lines: Vec<Line>,
    /// Signals.
    pub multiplets: Vec<Multiplet>,
    /// The phase found and taken off.
    pub phase: PhaseReport,
    /// What it was.
    pub kind: InputKind,
    /// Sentences for the reader.
    pub warnings: Vec<String>,
}

impl Processed {
    /// Largest baseline removed, in standard deviations of a point.
    ///
    /// ```
    /// use lees_process::{Settings, Workspace, process};
    /// use lees_spin::simulate::{Recipe, simulate};
    /// let made = simulate(&Recipe::wet_dye()).expect("a sound recipe");
    /// let measured = lees_core::Measurement::Spectrum(made.spectrum);
    /// let done = process(&measured, &Settings::default(), &mut Workspace::new())?;
    /// assert!(done.baseline_over_sigma() < 3.0, "the recipe has no rolling baseline");
    /// # Ok::<(), lees_process::ProcessError>(())
    /// ```
    #[must_use]
    pub fn baseline_over_sigma(&self) -> f64 {
        self.baseline.iter().fold(0.0f64, |most, b| most.max(b.abs())) / self.noise.typical()
    }
}

/// Processes a measurement: transform (of an FID), phase, baseline, lines, artefacts, signals.
///
/// # Errors
/// When it has too few points, is constant, or holds values that are no numbers.
///
/// ```
/// use lees_core::Measurement;
/// use lees_process::{Settings, Workspace, process};
/// use lees_spin::simulate::{Recipe, simulate};
/// let made = simulate(&Recipe::wet_dye()).expect("a sound recipe");
/// let mut workspace = Workspace::new(); // kept for the next spectrum
/// let done = process(&Measurement::Fid(made.fid), &Settings::default(), &mut workspace)?;
/// let near = |shift: f64| done.lines.iter().any(|line| (line.shift.0 - shift).abs() < 0.002);
/// assert!(near(5.30), "dichloromethane, one line");
/// assert!(near(8.79), "H-4 of the dye");
/// # Ok::<(), lees_process::ProcessError>(())
/// ```
pub fn process(
    measurement: &Measurement,
    settings: &Settings,
    workspace: &mut Workspace,
) -> Result<Processed, ProcessError> {
    let mut warnings = Vec::new();
    let (mut spectrum, kind) = match measurement {
        Measurement::Fid(fid) => {
            let done = transform(fid, &settings.fid, workspace)?;
            warnings.extend(done.report.warnings);
            (done.spectrum, InputKind::Fid)
        }
        Measurement::Spectrum(spectrum) => {
            validate(spectrum)?;
            let complex = spectrum.imaginary.is_some();
            (spectrum.clone(), if complex { InputKind::Complex } else { InputKind::RealOnly })
        }
    };
    validate(&spectrum)?;
    let mut phasing = Phasing::start(&mut spectrum, &settings.phase, workspace);
    let values = spectrum.real.to_vec();
    let step = spectrum.axis.hertz_per_point().0;
    let mut found = find_upright(&values, step, settings, |found| {
        phasing.early(&mut spectrum, found).then(|| spectrum.real.to_vec())
    });
    for turn in 0..MOST_TURNS {
        if !phasing.late(&mut spectrum, &found, turn > 0) {
            break;
        }
        found = find(&spectrum.real.to_vec(), step, settings);
    }
    let phase = phasing.conclude(&mut spectrum);
    warnings.extend(phase.warnings.iter().cloned());
    Ok(assemble(spectrum, found, kind, phase, settings, warnings))
}

/// How often the phase left is taken off and the lines are found anew: where lines have no common shape, each time
/// shows more of it.
const MOST_TURNS: usize = 3;

/// Hertz from one point to the next: far beyond any proton spectrum on either side, near enough that no sum over
/// points or widths runs away.
const PLAUSIBLE_STEP: std::ops::RangeInclusive<f64> = 1e-6..=1e4;

fn validate(spectrum: &Spectrum) -> Result<(), ProcessError> {
    let points = spectrum.axis.points();
    if points < FEWEST_POINTS {
        return Err(ProcessError::TooFewPoints { points, least: FEWEST_POINTS });
    }
    let step = spectrum.axis.hertz_per_point();
    if !PLAUSIBLE_STEP.contains(&step.0) {
        let allowed = "from 0.000001 to 10000 Hz";
        return Err(ProcessError::Acquisition {
            name: "distance of two points",
            value: step.to_string(),
            allowed,
        });
    }
    check(&spectrum.real, "real", points)?;
    if let Some(imaginary) = &spectrum.imaginary {
        check(imaginary, "imaginary", points)?;
    }
    let first = spectrum.real[0];
    if spectrum.real.iter().all(|v| *v == first) {
        return Err(ProcessError::Constant);
    }
    Ok(())
}

fn check(values: &Array1<f64>, part: &'static str, expected: usize) -> Result<(), ProcessError> {
    if values.len() != expected {
        return Err(ProcessError::Length { part, got: values.len(), expected });
    }
    match values.iter().position(|v| !v.is_finite()) {
        Some(index) => Err(ProcessError::NotFinite { index, part, value: values[index] }),
        None => Ok(()),
    }
}

fn assemble(
    mut spectrum: Spectrum,
    found: Found,
    kind: InputKind,
    phase: PhaseReport,
    settings: &Settings,
    warnings: Vec<String>,
) -> Processed {
    let allowance = Array1::from(found.allowance(spectrum.axis.hertz_per_point().0));
    let baseline = Array1::from(found.baseline_values);
    spectrum.real -= &baseline;
    let axis = spectrum.axis;
    let mut lines: Vec<Line> = found.lines.iter().map(|l| to_line(l, &axis, &found.shape)).collect();
    let scene = Scene {
        axis,
        shape: found.shape.clone(),
        noise: &found.noise,
        residual: spectrum.real.iter().zip(&found.model).map(|(v, m)| v - m).collect(),
        model: &found.model,
        acquisition_time: spectrum.acquisition.acquisition_time.map(|t| t.0),
    };
    artefact::label(&mut lines, &scene, &settings.artefact);
    let multiplets = multiplet::group(&lines, axis.field(), found.shape.fwhm(), &settings.multiplet);
    Processed {
        spectrum,
        baseline,
        model: Array1::from(found.model),
        allowance,
        noise: found.noise,
        shape: found.shape,
        lines,
        multiplets,
        phase,
        kind,
        warnings,
    }
}

fn to_line(line: &FitLine, axis: &ShiftAxis, shape: &LineShape) -> Line {
    let step = axis.hertz_per_point().0;
    let lorentzian = lorentzian_of(shape);
    let profile = line.shape(shape, &lorentzian);
    let top = line.position + profile.peak_offset().0 * line.factor;
    Line {
        shift: axis.shift_at(top / step),
        shift_u: Hertz(line.position_u).to_ppm(axis.field()),
        width: Hertz(shape.fwhm().0 * line.factor),
        height: line.area * profile.height(line.factor),
        area: line.area,
        area_u: line.area_u,
        profile: if line.width == WidthKind::Common { Profile::Common } else { Profile::Lorentzian },
        kind: LineKind::Signal,
        parent: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use lees_core::{Acquisition, Megahertz, Ppm, ShiftAxis};

    #[test]
    fn an_axis_beyond_any_spectrum_is_refused() {
        for (field, refused) in [(1e-308, true), (1e12, true), (400.0, false)] {
            let field = Megahertz(field);
            let axis = ShiftAxis::new(Ppm(12.0), Ppm(-2.0), FEWEST_POINTS, field).unwrap();
            let real = (0..FEWEST_POINTS).map(|i| i as f64).collect();
            let spectrum =
                Spectrum { axis, real, imaginary: None, acquisition: Acquisition::at_field(field) };
            assert_eq!(validate(&spectrum).is_err(), refused, "{field}");
        }
    }
}
