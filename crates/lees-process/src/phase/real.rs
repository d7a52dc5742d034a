//! The phase of spectra that came without imaginary part.

use lees_core::Spectrum;
use ndarray::Array1;

use super::automatic::{phases, told_by_lines};
use super::left::Least;
use super::{PhaseMethod, PhaseReport, PhaseSettings, Straight, correct, recover_imaginary};
use crate::Workspace;

/// First-order phase searched, degrees: whoever phased the spectrum did not leave a turn.
const PH1_RANGE_DEG: f64 = 60.0;
/// A phase error under this is left alone, degrees: it costs less than correcting it may.
const LEAST_DEG: f64 = 0.3;
/// A phase error under this many standard uncertainties is left alone.
pub(super) const SIGNIFICANT: f64 = 3.0;
/// With no more groups of lines than this a single one that is led astray decides, so that they are fitted jointly, and what they
/// show is taken off at once.
const FEW_GROUPS: usize = 6;
/// Once the lines are found, the dispersion of a phase left must reach this many deviations of noise beside some line:
/// finding them again costs more than what does no harm.
pub(super) const SEEN: f64 = 4.0;
/// Share of the signal that may be left at half the time span for the recovered imaginary part to be used.
const MOST_LEFT: f64 = 0.05;

/// Estimates the phase error left in a spectrum without imaginary part, and takes it off where that is safe.
///
/// The imaginary part is recovered by Hilbert transform and the strong lines are fitted one by one, those of a few groups
/// jointly as in [`super::automatic`]. The error is corrected when it is significant, below the settings' bound, and when
/// the signal has decayed at half of the time span (else the recovered part would be wrong); the spectrum then keeps the
/// recovered imaginary part. Otherwise nothing is changed and a warning names the error.
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
    let (report, real) = Real::start(spectrum, settings, workspace, LEAST_DEG);
    real.conclude(report, spectrum)
}

/// When a phase left is taken off while lines are being found: turning costs little then.
pub(super) const EARLY: Least = Least { significance: SIGNIFICANT, seen: 0.0, degrees: LEAST_DEG };
/// When it is once they are found: what does no harm is left.
pub(super) const LATE: Least = Least { seen: SEEN, ..EARLY };

/// What is known of the phase of a spectrum that came without imaginary part.
pub(super) struct Real {
    /// Whether it is safe, and wanted, to turn it.
    pub(super) may_turn: bool,
    /// The phase that the lines show to be left, not taken off.
    pub(super) left: Option<Straight>,
}

impl Real {
    /// A first estimate, taken off when it is at least so many degrees, or at least [`LEAST_DEG`] where there are few groups of
    /// lines; the spectrum gets the recovered imaginary part.
    pub(super) fn start(
        spectrum: &mut Spectrum,
        settings: &PhaseSettings,
        workspace: &mut Workspace,
        least_degrees: f64,
    ) -> (PhaseReport, Self) {
        let real = spectrum.real.to_vec();
        let recovered = recover_imaginary(&real, workspace);
        let found =
            |sweeps| phases(&real, &recovered.imaginary, settings, PH1_RANGE_DEG.to_radians(), sweeps);
        let mut lines = found(0);
        let few = lines.len() <= FEW_GROUPS;
        if few {
            lines = found(1);
        }
        let least_degrees = if few { LEAST_DEG } else { least_degrees };
        if lines.is_empty() {
            let text = "no imaginary part, and no line strong enough to check the phase by";
            return (PhaseReport::nothing(text), Self { may_turn: false, left: None });
        }
        spectrum.imaginary = Some(Array1::from_vec(recovered.imaginary));
        let narrow =
            PhaseSettings { ph1_range_deg: PH1_RANGE_DEG.min(settings.ph1_range_deg), ..settings.clone() };
        let mut report = told_by_lines(spectrum, lines, &narrow, Vec::new());
        report.method = PhaseMethod::RealShapes;
        let (size, u) = worst_phase(&report);
        let hindrance = hindrance(size, recovered.left_at_half, settings);
        let large = |degrees: f64| size >= degrees && size >= SIGNIFICANT * u;
        report.applied &= large(least_degrees) && hindrance.is_none();
        if report.applied {
            correct(spectrum, report.ph0_deg, report.ph1_deg, report.pivot);
        }
        let may_turn = hindrance.is_none();
        if let Some(why) = hindrance.filter(|_| large(LEAST_DEG)) {
            report.warnings.push(format!("{}{why}", out_of_phase(size)));
        }
        (report, Self { may_turn, left: None })
    }

    /// A spectrum that was not turned goes back to its real part alone; the report tells what was done.
    pub(super) fn conclude(self, mut report: PhaseReport, spectrum: &mut Spectrum) -> PhaseReport {
        if report.applied {
            let size = worst_phase(&report).0;
            report.warnings.push(format!(
                "{}; corrected with an imaginary part recovered by Hilbert transform",
                out_of_phase(size)
            ));
        } else {
            spectrum.imaginary = None;
            if let Some(left) = self.left {
                report.replace(&left, &spectrum.axis);
            }
        }
        report
    }
}

/// The largest phase, and its uncertainty, that the straight line gives at any line used.
fn worst_phase(report: &PhaseReport) -> (f64, f64) {
    let used = report.lines.iter().filter(|line| line.used);
    let common = used.map(|line| (line.phase_deg - line.residual_deg, report.u_ph0_deg));
    common.fold((0.0, report.u_ph0_deg), |worst, (p, u)| if p.abs() > worst.0 { (p.abs(), u) } else { worst })
}

fn out_of_phase(degrees: f64) -> String {
    format!("the spectrum has no imaginary part and is out of phase by up to {degrees:.1} degrees")
}

/// Why a spectrum without imaginary part must not be turned by as much as this.
fn hindrance(degrees: f64, left_at_half: f64, settings: &PhaseSettings) -> Option<&'static str> {
    if !settings.correct_real_only || !settings.correct {
        Some("; left as it is")
    } else if degrees > settings.real_only_most_deg {
        Some(", too much to be a slip of phasing; left as it is")
    } else if left_at_half > MOST_LEFT {
        Some("; its signal has not decayed enough to recover the imaginary part, so it was left")
    } else {
        None
    }
}
