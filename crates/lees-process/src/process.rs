//! The pipeline: measurement in, lines and signals out.

use lees_core::{Hertz, Line, LineKind, Measurement, Multiplet, ShiftAxis, Spectrum};
use ndarray::Array1;

use crate::lines::{FitLine, Found, find, lorentzian_of};
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
    /// Noise, local and coloured.
    pub noise: Noise,
    /// The common line.
    pub shape: LineShape,
    /// All lines, highest shift first.
    pub lines: Vec<Line>,
    /// Signals.
    pub multiplets: Vec<Multiplet>,
    /// What it was.
    pub kind: InputKind,
    /// Sentences for the reader.
    pub warnings: Vec<String>,
}

impl Processed {
    /// Largest baseline removed, in standard deviations of a point.
    #[must_use]
    pub fn baseline_over_sigma(&self) -> f64 {
        self.baseline.iter().fold(0.0f64, |most, b| most.max(b.abs())) / self.noise.typical()
    }
}

/// Processes a measurement.
///
/// # Errors
/// When it has too few points, is constant, or holds values that are no numbers.
pub fn process(
    measurement: &Measurement,
    settings: &Settings,
    _workspace: &mut Workspace,
) -> Result<Processed, ProcessError> {
    let Measurement::Spectrum(spectrum) = measurement else {
        return Err(ProcessError::Constant);
    };
    let kind = if spectrum.imaginary.is_some() { InputKind::Complex } else { InputKind::RealOnly };
    validate(spectrum)?;
    let values = spectrum.real.to_vec();
    let found = find(&values, spectrum.axis.hertz_per_point().0, settings);
    Ok(assemble(spectrum.clone(), found, kind, settings, Vec::new()))
}

fn validate(spectrum: &Spectrum) -> Result<(), ProcessError> {
    let points = spectrum.axis.points();
    if points < FEWEST_POINTS {
        return Err(ProcessError::TooFewPoints { points, least: FEWEST_POINTS });
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
    settings: &Settings,
    warnings: Vec<String>,
) -> Processed {
    let baseline = Array1::from(found.baseline_values);
    spectrum.real -= &baseline;
    let axis = spectrum.axis;
    let lines: Vec<Line> = found.lines.iter().map(|l| to_line(l, &axis, &found.shape)).collect();
    let multiplets = multiplet::group(&lines, axis.field(), found.shape.fwhm(), &settings.multiplet);
    Processed {
        spectrum,
        baseline,
        model: Array1::from(found.model),
        noise: found.noise,
        shape: found.shape,
        lines,
        multiplets,
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
        kind: LineKind::Signal,
        parent: None,
    }
}
