//! From FID to spectrum: group delay, constant offset, first point, window, zero filling, transform.

mod assemble;
mod dc;
mod delay;
mod report;
mod settings;
mod truncation;
mod window;

use lees_core::{Fid, Spectrum};

use crate::{ProcessError, Workspace};

pub use assemble::{ASSUMED_CARRIER, spectrum_length};
pub use dc::{DcOffset, dc_offset};
pub use delay::{Delay, DelaySource, find_delay, onset};
pub use report::TransformReport;
pub use settings::{Apodisation, FidSettings};
pub use truncation::{Tail, broadening_that_hides, tail};
pub use window::{FirstPoint, Window, first_point, matched_width};

/// Fewest complex points that make a spectrum.
pub const LEAST_POINTS: usize = 64;

/// A spectrum made from an FID, and how.
#[derive(Debug, Clone, PartialEq)]
pub struct Transformed {
    /// The spectrum, with imaginary part, not yet phased; intensities are those of the unscaled transform.
    pub spectrum: Spectrum,
    /// What was found and done on the way.
    pub report: TransformReport,
}

/// Transforms an FID of any length from [`LEAST_POINTS`] up. The spectrum still has to be phased.
///
/// # Errors
/// When points are too few, not finite, all zero, or the dwell time is no positive number.
///
/// ```
/// use lees_core::{Acquisition, Fid, Megahertz, Ppm, Seconds};
/// use lees_process::{Workspace, fid::{FidSettings, transform}};
/// use num_complex::Complex64;
/// let dwell = 1.0 / 6000.0;
/// let turn = 2.0 * std::f64::consts::PI * 800.0; // 800 Hz above the carrier: 2 ppm at 400 MHz
/// let points = (0..8192).map(|j| {
///     let t = j as f64 * dwell;
///     Complex64::from_polar((-3.0 * t).exp(), turn * t)
/// }).collect();
/// let fid = Fid {
///     points,
///     dwell: Seconds(dwell),
///     carrier: Some(Ppm(5.0)),
///     group_delay: None,
///     acquisition: Acquisition::at_field(Megahertz(400.0)),
/// };
/// let done = transform(&fid, &FidSettings::default(), &mut Workspace::new()).expect("sound data");
/// let tallest = done.spectrum.axis.nearest(Ppm(7.0));
/// assert!(done.spectrum.real.iter().all(|&y| y <= done.spectrum.real[tallest]));
/// ```
pub fn transform(
    fid: &Fid,
    settings: &FidSettings,
    workspace: &mut Workspace,
) -> Result<Transformed, ProcessError> {
    check(fid)?;
    let mut report = TransformReport::for_points(fid.points.len());
    let points = fid.points.as_standard_layout();
    let samples: &[_] = points.as_slice().unwrap_or_default();
    let delay = find_delay(samples, settings.group_delay_points.or(fid.group_delay));
    report.take_delay(&delay);
    let rotated;
    let samples = if delay.wrapped == 0 {
        samples
    } else {
        rotated = delay::unwrap(samples, delay.wrapped);
        &rotated
    };
    let dc = if settings.remove_dc { dc_offset(samples) } else { DcOffset::default() };
    report.take_dc(dc);
    let window = choose_window(fid, samples, &delay, dc, settings, &mut report, workspace)?;
    let mut spectrum = assemble::assemble(fid, samples, &window, settings, &mut report, workspace)?;
    if delay.source == DelaySource::Estimated {
        assemble::refine_delay(&mut spectrum, &mut report);
    }
    Ok(Transformed { spectrum, report })
}

fn check(fid: &Fid) -> Result<(), ProcessError> {
    let points = fid.points.len();
    if points < LEAST_POINTS {
        return Err(ProcessError::TooFewPoints { points, least: LEAST_POINTS });
    }
    if let Some((index, point)) = fid.points.iter().enumerate().find(|(_, point)| !point.is_finite()) {
        let (part, value) = if point.re.is_finite() { ("imaginary", point.im) } else { ("real", point.re) };
        return Err(ProcessError::NotFinite { index, part, value });
    }
    let first = fid.points[0];
    if fid.points.iter().all(|&point| point == first) {
        return Err(ProcessError::Constant);
    }
    let dwell = fid.dwell.value();
    let field = fid.acquisition.field.value();
    for (name, value) in [("dwell time in seconds", dwell), ("observe frequency in megahertz", field)] {
        if !(value.is_finite() && value > 0.0) {
            let allowed = "it must be a positive number";
            return Err(ProcessError::Acquisition { name, value: value.to_string(), allowed });
        }
    }
    Ok(())
}

/// The window to multiply with, broadened where the FID is cut off.
fn choose_window(
    fid: &Fid,
    samples: &[num_complex::Complex64],
    delay: &Delay,
    dc: DcOffset,
    settings: &FidSettings,
    report: &mut TransformReport,
    workspace: &mut Workspace,
) -> Result<Window, ProcessError> {
    let first = if settings.scale_first_point && delay.wrapped == 0 {
        first_point(samples, delay.points)
    } else {
        FirstPoint { index: 0, weight: 1.0 }
    };
    report.first_point_weight = first.weight;
    let mut window = Window {
        exponential_hz: 0.0,
        gaussian_hz: 0.0,
        delay: delay.points,
        dwell: fid.dwell.value(),
        first,
        dc: dc.value,
    };
    match settings.apodisation {
        Apodisation::None => {}
        Apodisation::Exponential => window.exponential_hz = settings.line_broadening_hz.max(0.0),
        Apodisation::Gaussian => window.gaussian_hz = settings.gaussian_broadening_hz.max(0.0),
        Apodisation::Matched => {
            let plain = assemble::assemble(fid, samples, &window, settings, &mut report.clone(), workspace)?;
            window.exponential_hz = matched_width(&plain).map_or(settings.line_broadening_hz, |w| w.value());
        }
    }
    let ending = tail(samples, dc.value, workspace);
    report.take_tail(&ending);
    if settings.hide_truncation {
        let recorded = fid.acquisition_time().value();
        let needed = broadening_that_hides(&ending, &window, recorded);
        if needed > window.exponential_hz {
            report.warn_truncated(window.exponential_hz, needed);
            window.exponential_hz = needed;
        }
    }
    report.line_broadening_hz = window.exponential_hz;
    report.gaussian_broadening_hz = window.gaussian_hz;
    Ok(window)
}
