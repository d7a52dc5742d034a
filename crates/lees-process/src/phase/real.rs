//! The phase of spectra that came without imaginary part.

use lees_core::Spectrum;
use ndarray::Array1;

use super::automatic::{by_lines, phases};
use super::{PhaseMethod, PhaseReport, PhaseSettings, recover_imaginary};
use crate::Workspace;

/// First-order phase searched, degrees: whoever phased the spectrum did not leave a turn.
const PH1_RANGE_DEG: f64 = 60.0;
/// A phase error under this is left alone, degrees: it costs less than correcting it may.
const LEAST_DEG: f64 = 0.3;
/// A phase error under this many standard uncertainties is left alone.
const SIGNIFICANT: f64 = 3.0;
/// Share of the signal that may be left at half the time span for the recovered imaginary part to be used.
const MOST_LEFT: f64 = 0.05;

/// Estimates the phase error left in a spectrum without imaginary part, and takes it off where that is safe.
///
/// The imaginary part is recovered by Hilbert transform and the strong lines fitted as in
/// [`super::automatic`]. The error is corrected when it is significant, below the settings' bound, and when the
/// signal has decayed at half of the time span (else the recovered part would be wrong); the spectrum then keeps
/// the recovered imaginary part. Otherwise nothing is changed and a warning names the error.
///
/// ```
/// use lees_core::{Acquisition, Megahertz, Ppm, ShiftAxis, Spectrum};
/// use lees_process::{Workspace, phase::{PhaseSettings, check_real}};
/// use num_complex::Complex64;
/// let field = Megahertz(400.0);
/// let point = |i: usize| {
///     let lines: Complex64 = [1000.0, 2500.3, 5100.7, 6900.0].iter()
///         .map(|z| 100.0 / Complex64::new(2.0, z - i as f64)).sum();
///     lines * Complex64::from_polar(1.0, 3f64.to_radians()) // badly phased by 3 degrees
///         + 0.01 * Complex64::from_polar(1.0, 0.37 * (i * i) as f64)
/// };
/// let mut spectrum = Spectrum {
///     axis: ShiftAxis::new(Ppm(10.0), Ppm(0.0), 8192, field).expect("falls"),
///     real: (0..8192).map(|i| point(i).re).collect(),
///     imaginary: None,
///     acquisition: Acquisition::at_field(field),
/// };
/// let report = check_real(&mut spectrum, &PhaseSettings::default(), &mut Workspace::new());
/// assert!(report.applied);
/// assert!((report.ph0_deg - 3.0).abs() < 0.2);
/// ```
pub fn check_real(
    spectrum: &mut Spectrum,
    settings: &PhaseSettings,
    workspace: &mut Workspace,
) -> PhaseReport {
    let real = spectrum.real.to_vec();
    let recovered = recover_imaginary(&real, workspace);
    let lines = phases(&real, &recovered.imaginary, settings, PH1_RANGE_DEG.to_radians());
    if lines.is_empty() {
        return PhaseReport::nothing("no imaginary part, and no line strong enough to check the phase by");
    }
    let mut turned = Spectrum { imaginary: Some(Array1::from_vec(recovered.imaginary)), ..spectrum.clone() };
    let narrow =
        PhaseSettings { ph1_range_deg: PH1_RANGE_DEG.min(settings.ph1_range_deg), ..settings.clone() };
    let mut report = by_lines(&mut turned, lines, &narrow, Vec::new());
    report.method = PhaseMethod::RealShapes;
    let worst = worst_phase(&report);
    report.applied = decide(&mut report, worst, recovered.left_at_half, settings);
    if report.applied {
        *spectrum = turned;
    }
    report
}

/// The largest phase, and its uncertainty, that the straight line gives at any line used.
fn worst_phase(report: &PhaseReport) -> (f64, f64) {
    let used = report.lines.iter().filter(|line| line.used);
    let common = used.map(|line| (line.phase_deg - line.residual_deg, report.u_ph0_deg));
    common.fold((0.0, report.u_ph0_deg), |worst, (p, u)| if p.abs() > worst.0 { (p.abs(), u) } else { worst })
}

fn decide(report: &mut PhaseReport, worst: (f64, f64), left: f64, settings: &PhaseSettings) -> bool {
    let (size, u) = worst;
    if size < LEAST_DEG || size < SIGNIFICANT * u {
        return false;
    }
    let found = format!("the spectrum has no imaginary part and is out of phase by up to {size:.1} degrees");
    let (done, text) = if !settings.correct_real_only || !settings.correct {
        (false, format!("{found}; left as it is"))
    } else if size > settings.real_only_most_deg {
        (false, format!("{found}, too much to be a slip of phasing; left as it is"))
    } else if left > MOST_LEFT {
        (
            false,
            format!(
                "{found}; its signal has not decayed enough to recover the imaginary part, so it was left"
            ),
        )
    } else {
        (true, format!("{found}; corrected with an imaginary part recovered by Hilbert transform"))
    };
    report.warnings.push(text);
    done
}
