//! Automatic phase of a complex spectrum.

use lees_core::Spectrum;
use num_complex::Complex64;

use super::correct::parts_mut;
use super::group::{Clusters, ODD_SHAPE};
use super::lines::fit_lines_in;
use super::quiet::complex_noise;
use super::straight::{Angle, Straight, straight};
use super::{
    FittedLine, LinePhase, PhaseMethod, PhaseReport, PhaseSettings, check_real, correct, entropy_phase,
};
use crate::Workspace;

/// Deviation of an angle of which nothing is known, degrees (uniform over a turn).
const UNKNOWN_DEG: f64 = 103.9;
/// Lines fitted for each group of lines used.
const LINES_PER_GROUP: usize = 3;
/// Rounds of joint fits over all clusters: a second one gains little, since the phase left is measured again at the lines.
const SWEEPS: usize = 1;
/// Least height over noise of a line that takes part in a group.
const MEMBER_SNR: f64 = 7.0;
/// Turns of first-order phase an onset may be wrong by.
const DELAY_TURNS: f64 = 4.0;

/// Finds the phase of a spectrum from its strongest lines and takes it off. Without imaginary part this is
/// [`check_real`].
///
/// Each of the strongest lines is fitted as a complex Lorentzian, neighbours taken off. Lines of one cluster are then
/// fitted jointly with one phase, real areas and similar widths over a complex parabola, lines added where the
/// residual asks for them; a robust straight line through the clusters' phases gives `ph0` and `ph1` with their
/// covariance. With few lines, or lines close together, `ph1` stays 0 and its uncertainty says so. Without strong lines the least
/// entropy (Chen, Weng, Goh, Garland, J. Magn. Reson. 2002, 158, 164) decides on `ph0`.
///
/// ```
/// use lees_core::{Acquisition, Megahertz, Ppm, ShiftAxis, Spectrum};
/// use lees_process::{Workspace, phase::{PhaseSettings, automatic}};
/// use num_complex::Complex64;
/// let field = Megahertz(400.0);
/// let point = |i: usize| {
///     let phase = 1.0 + 2.0 * i as f64 / 8000.0; // radians: ph0 57.3, ph1 114.6 degrees
///     let lines: Complex64 = [1000.0, 2500.3, 5100.7, 6900.0].iter()
///         .map(|z| 100.0 / Complex64::new(2.0, z - i as f64)).sum();
///     lines * Complex64::from_polar(1.0, phase) + 0.01 * Complex64::from_polar(1.0, 0.37 * (i * i) as f64)
/// };
/// let mut spectrum = Spectrum {
///     axis: ShiftAxis::new(Ppm(10.0), Ppm(0.0), 8000, field).expect("falls"),
///     real: (0..8000).map(|i| point(i).re).collect(),
///     imaginary: Some((0..8000).map(|i| point(i).im).collect()),
///     acquisition: Acquisition::at_field(field),
/// };
/// let report = automatic(&mut spectrum, &PhaseSettings::default(), &mut Workspace::new());
/// assert!((report.ph1_deg - 2f64.to_degrees()).abs() < 0.2);
/// assert!(spectrum.real.iter().all(|&y| y > -0.5));
/// ```
pub fn automatic(
    spectrum: &mut Spectrum,
    settings: &PhaseSettings,
    workspace: &mut Workspace,
) -> PhaseReport {
    if spectrum.imaginary.is_none() {
        return check_real(spectrum, settings, workspace);
    }
    let mut copy = (!settings.correct).then(|| spectrum.clone());
    let target = copy.as_mut().unwrap_or(spectrum);
    let mut report = find_and_correct(target, settings);
    report.applied &= settings.correct;
    report
}

fn find_and_correct(spectrum: &mut Spectrum, settings: &PhaseSettings) -> PhaseReport {
    let mut warnings = Vec::new();
    if turned_left(spectrum) {
        if let Some((_, imaginary)) = parts_mut(spectrum) {
            imaginary.iter_mut().for_each(|y| *y = -*y);
        }
        warnings.push("the imaginary part has the opposite sign to the usual; it was reversed".to_owned());
    }
    let Some((real, imaginary)) = parts_mut(spectrum) else {
        return PhaseReport::nothing("no imaginary part: the phase cannot be corrected directly");
    };
    let lines = phases(real, imaginary, settings, settings.ph1_range(), SWEEPS);
    if lines.is_empty() {
        return by_entropy(spectrum, warnings);
    }
    by_lines(spectrum, lines, settings, warnings)
}

/// Whether the imaginary part has the other sign: a causal signal's phase grows with the index along every line.
fn turned_left(spectrum: &mut Spectrum) -> bool {
    let Some((real, imaginary)) = parts_mut(spectrum) else { return false };
    let points = real.iter().zip(imaginary.iter()).map(|(&re, &im)| Complex64::new(re, im));
    let next = points.clone().skip(1);
    points.zip(next).map(|(a, b)| (a.conj() * b).im).sum::<f64>() < 0.0
}

fn by_lines(
    spectrum: &mut Spectrum,
    lines: Vec<FittedLine>,
    settings: &PhaseSettings,
    warnings: Vec<String>,
) -> PhaseReport {
    let report = told_by_lines(spectrum, lines, settings, warnings);
    if report.applied {
        correct(spectrum, report.ph0_deg, report.ph1_deg, report.pivot);
    }
    report
}

/// What lines tell of the phase, said as if it were taken off.
pub(super) fn told_by_lines(
    spectrum: &Spectrum,
    lines: Vec<FittedLine>,
    settings: &PhaseSettings,
    mut warnings: Vec<String>,
) -> PhaseReport {
    let n = spectrum.real.len();
    let free = slope_is_free(&lines, spectrum, settings);
    let range = if free { settings.ph1_range() } else { 0.0 };
    let Some(line) = straight(&angles(&lines, n), range) else {
        return PhaseReport::nothing("the phases of the lines do not agree on anything");
    };
    if !free {
        warnings.push(format!(
            "{} strong line(s) over a narrow range: the first-order phase is taken as 0",
            lines.len()
        ));
    }
    if line.slope.abs() > std::f64::consts::TAU {
        warnings.push(format!(
            "the first-order phase of {:.0} degrees is more than a turn: is the group delay right?",
            line.slope.to_degrees()
        ));
    }
    PhaseReport {
        ph0_deg: line.at_pivot.to_degrees(),
        ph1_deg: line.slope.to_degrees(),
        pivot: line.pivot * n as f64,
        u_ph0_deg: line.u_at_pivot.to_degrees(),
        u_ph1_deg: if free { line.u_slope.to_degrees() } else { UNKNOWN_DEG },
        method: PhaseMethod::Lines,
        applied: true,
        lines: described(&lines, &line, spectrum),
        warnings,
    }
}

/// The phases of the strongest groups of lines, strongest first. `range` bounds the first-order phase, radians; `sweeps` are
/// the rounds of joint fits.
pub(super) fn phases(
    real: &[f64],
    imaginary: &[f64],
    settings: &PhaseSettings,
    range: f64,
    sweeps: usize,
) -> Vec<FittedLine> {
    let least = MEMBER_SNR.min(settings.least_line_snr);
    let noise = complex_noise(real, imaginary);
    let lines = fit_lines_in(real, imaginary, LINES_PER_GROUP * settings.most_lines, least, noise);
    let mut clusters = Clusters::new(&lines);
    let usable = |clusters: &Clusters| {
        let mut lines = clusters.lines();
        lines.retain(|line| line.snr >= settings.least_line_snr);
        lines.truncate(settings.most_lines);
        lines
    };
    let plain = usable(&clusters);
    let n = real.len();
    for _ in 0..sweeps {
        let found = usable(&clusters);
        let range = if found.len() >= settings.least_lines_for_ph1 { range } else { 0.0 };
        let Some(line) = straight(&angles(&found, n), range) else { return found };
        clusters.refine((real, imaginary), line.slope / n as f64, noise);
        if odd_shapes(&usable(&clusters)) {
            return plain;
        }
    }
    usable(&clusters)
}

/// Whether most joint fits leave far more than noise: then the lines are no Lorentzians, joint fits would invent lines
/// to mend the shape, and the lines one by one say more.
fn odd_shapes(lines: &[FittedLine]) -> bool {
    let odd = lines.iter().filter(|line| line.u_shape > ODD_SHAPE * line.u).count();
    2 * odd > lines.len()
}

fn angles(lines: &[FittedLine], n: usize) -> Vec<Angle> {
    lines
        .iter()
        .map(|line| Angle {
            x: line.pole.position / n as f64,
            angle: line.phase,
            u: line.u,
            u_shape: line.u_shape,
        })
        .collect()
}

fn slope_is_free(lines: &[FittedLine], spectrum: &Spectrum, settings: &PhaseSettings) -> bool {
    let places = || lines.iter().map(|line| line.pole.position);
    let span = places().fold(f64::NEG_INFINITY, f64::max) - places().fold(f64::INFINITY, f64::min);
    lines.len() >= settings.least_lines_for_ph1
        && span * spectrum.axis.step().abs().0 >= settings.least_span_ppm
}

fn described(lines: &[FittedLine], straight: &Straight, spectrum: &Spectrum) -> Vec<LinePhase> {
    let each = lines.iter().zip(&straight.residuals).zip(&straight.used);
    each.map(|((line, &residual), &used)| {
        let place = line.pole.position;
        LinePhase {
            shift: spectrum.axis.shift_at(place),
            phase_deg: line.phase.to_degrees(),
            u_deg: libm::hypot(line.u, line.u_shape).to_degrees(),
            residual_deg: residual.to_degrees(),
            snr: line.snr,
            used,
        }
    })
    .collect()
}

fn by_entropy(spectrum: &mut Spectrum, mut warnings: Vec<String>) -> PhaseReport {
    let n = spectrum.real.len();
    let Some((real, imaginary)) = parts_mut(spectrum) else {
        return PhaseReport::nothing("no imaginary part: the phase cannot be corrected directly");
    };
    let found = entropy_phase(real, imaginary);
    let pivot = n as f64 / 2.0;
    correct(spectrum, found.ph0_deg, found.ph1_deg, pivot);
    warnings.push(
        "no line is strong enough for a phase of its own; the phase is a guess by least entropy".into(),
    );
    PhaseReport {
        ph0_deg: found.ph0_deg,
        ph1_deg: found.ph1_deg,
        pivot,
        u_ph0_deg: found.u_ph0_deg,
        u_ph1_deg: UNKNOWN_DEG,
        method: PhaseMethod::Entropy,
        applied: true,
        lines: Vec::new(),
        warnings,
    }
}

/// The group delay left in a spectrum, in points, with its standard uncertainty, from the slope of the phases of
/// its lines; `None` with fewer than three strong lines. Delay and true first-order phase cannot be told apart.
///
/// ```
/// use lees_core::{Acquisition, Megahertz, Ppm, ShiftAxis, Spectrum};
/// use num_complex::Complex64;
/// let field = Megahertz(400.0);
/// let point = |i: usize| {
///     let ramp = -2.0 * std::f64::consts::PI * 1.3 * (4000.0 - i as f64) / 8000.0; // 1.3 points late
///     let lines: Complex64 = [1000.0, 2500.3, 5100.7, 6900.0].iter()
///         .map(|z| 100.0 / Complex64::new(2.0, z - i as f64)).sum();
///     lines * Complex64::from_polar(1.0, ramp) + 0.01 * Complex64::from_polar(1.0, 0.37 * (i * i) as f64)
/// };
/// let spectrum = Spectrum {
///     axis: ShiftAxis::new(Ppm(10.0), Ppm(0.0), 8000, field).expect("falls"),
///     real: (0..8000).map(|i| point(i).re).collect(),
///     imaginary: Some((0..8000).map(|i| point(i).im).collect()),
///     acquisition: Acquisition::at_field(field),
/// };
/// let (delay, u) = lees_process::phase::delay_left(&spectrum).expect("four lines");
/// assert!((delay - 1.3).abs() < 0.01 && u < 0.01);
/// ```
#[must_use]
pub fn delay_left(spectrum: &Spectrum) -> Option<(f64, f64)> {
    let real = spectrum.real.as_slice()?;
    let imaginary = spectrum.imaginary.as_ref()?.as_slice()?;
    let settings = PhaseSettings::default();
    let lines = phases(real, imaginary, &settings, DELAY_TURNS * std::f64::consts::TAU, 0);
    if !slope_is_free(&lines, spectrum, &settings) {
        return None;
    }
    let found = straight(&angles(&lines, real.len()), DELAY_TURNS * std::f64::consts::TAU)?;
    // A delay of one point falls by a turn per spectrum in frequency, and so grows by a turn with the index.
    Some((found.slope / std::f64::consts::TAU, found.u_slope / std::f64::consts::TAU))
}
