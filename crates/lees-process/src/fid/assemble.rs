//! The transform itself, and the spectrum's axis.

use lees_core::{Fid, Ppm, ShiftAxis, Spectrum};
use ndarray::Array1;
use num_complex::Complex64;

use super::{FidSettings, TransformReport, Window};
use crate::phase::{self, turn};
use crate::{ProcessError, Workspace};

/// Shift put at the carrier when the file does not give it, until a reference signal is found.
/// The middle of a usual proton window (common practice, no source).
pub const ASSUMED_CARRIER: Ppm = Ppm(5.0);

/// Number of points of the spectrum of an FID of `points` points.
///
/// ```
/// use lees_process::fid::{FidSettings, spectrum_length};
/// assert_eq!(spectrum_length(30_000, &FidSettings::default()), 65_536);
/// let as_is = FidSettings { zero_fill_factor: 1, ..FidSettings::default() };
/// assert_eq!(spectrum_length(30_000, &as_is), 30_000);
/// ```
#[must_use]
pub fn spectrum_length(points: usize, settings: &FidSettings) -> usize {
    if settings.zero_fill_factor < 2 {
        return points;
    }
    let wanted = points.saturating_mul(settings.zero_fill_factor as usize).next_power_of_two();
    let mut length = wanted;
    while length > settings.zero_fill_most_points && length / 2 >= points {
        length /= 2;
    }
    length
}

/// Windows, zero-fills and transforms; then falling frequency, and the delay taken off as a phase ramp.
pub(super) fn assemble(
    fid: &Fid,
    samples: &[Complex64],
    window: &Window,
    settings: &FidSettings,
    report: &mut TransformReport,
    workspace: &mut Workspace,
) -> Result<Spectrum, ProcessError> {
    let n = spectrum_length(samples.len(), settings);
    let mut buffer = workspace.lend(n);
    report.window_energy = window.apply(samples, &mut buffer);
    report.points_out = n;
    workspace.forward(&mut buffer);
    let half = n / 2;
    let mut real = vec![0.0; n];
    let mut imaginary = vec![0.0; n];
    // Index i holds frequency bin half - i: first the upper half downwards, then the negative bins.
    let falling = buffer[..=half].iter().rev().chain(buffer[half + 1..].iter().rev());
    let parts = real.iter_mut().zip(imaginary.iter_mut());
    for (point, (re, im)) in falling.zip(parts) {
        (*re, *im) = (point.re, point.im);
    }
    workspace.give_back(buffer);
    let (at_centre, per_point) = ramp(window.delay, n);
    turn(&mut real, &mut imaginary, at_centre, per_point);
    Ok(Spectrum {
        axis: axis(fid, n, report)?,
        real: Array1::from_vec(real),
        imaginary: Some(Array1::from_vec(imaginary)),
        acquisition: fid.acquisition.clone(),
    })
}

/// Start and step, in radians, of the phase ramp that takes off a delay.
fn ramp(delay: f64, n: usize) -> (f64, f64) {
    let per_point = -2.0 * std::f64::consts::PI * delay / n as f64;
    (-per_point * (n / 2) as f64, per_point)
}

fn axis(fid: &Fid, n: usize, report: &mut TransformReport) -> Result<ShiftAxis, ProcessError> {
    let field = fid.acquisition.field;
    let carrier = fid.carrier.unwrap_or_else(|| {
        report.carrier_assumed = true;
        report.warnings.push(format!(
            "the file does not give the shift of the carrier; {ASSUMED_CARRIER} is assumed until a reference \
             signal is found"
        ));
        ASSUMED_CARRIER
    });
    let step = fid.spectral_width().to_ppm(field).value() / n as f64;
    let first = Ppm(carrier.value() + step * (n / 2) as f64);
    let last = Ppm(first.value() - step * (n - 1) as f64);
    ShiftAxis::new(first, last, n, field).ok_or_else(|| ProcessError::Acquisition {
        name: "shift axis",
        value: format!("{first} to {last}"),
        allowed: "dwell time, observe frequency and carrier must give finite shifts that differ",
    })
}

/// Makes an estimated delay finer: the phases of the lines lie on a straight line whose slope is what is left.
pub(super) fn refine_delay(spectrum: &mut Spectrum, report: &mut TransformReport) {
    let Some((points, u)) = phase::delay_left(spectrum) else {
        report.warnings.push("too few strong lines to make the estimated group delay finer".to_owned());
        return;
    };
    let n = spectrum.real.len();
    let (at_centre, per_point) = ramp(points, n);
    if let (Some(real), Some(imaginary)) =
        (spectrum.real.as_slice_mut(), spectrum.imaginary.as_mut().and_then(|part| part.as_slice_mut()))
    {
        turn(real, imaginary, at_centre, per_point);
    }
    report.group_delay_points += points;
    report.group_delay_u_points = Some(u);
}
