//! Where in the recording time zero lies.

use num_complex::Complex64;
use serde::{Deserialize, Serialize};

/// Where a group delay comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DelaySource {
    /// The recording starts at once.
    None,
    /// Stated by the file or the settings.
    Given,
    /// From the onset of the signal, made finer with the phases of the lines where there are enough.
    Estimated,
    /// Stated, but the signal starts at once: the points were rotated or cut before.
    AlreadyCorrected,
}

/// A group delay in points.
#[derive(Debug, Clone, PartialEq)]
pub struct Delay {
    /// Points before time zero, possibly fractional.
    pub points: f64,
    /// Where that comes from.
    pub source: DelaySource,
    /// Standard uncertainty in points, when estimated.
    pub u_points: Option<f64>,
    /// How many points at the end belong before the start (a rotated recording).
    pub wrapped: usize,
    /// What to tell the reader.
    pub warning: Option<String>,
}

/// Points compared on either side of a possible onset: a digital filter's step takes two or three.
const EDGE_POINTS: usize = 8;
/// Share of the steepest rise that makes the first large one.
const FIRST_SHARE: f64 = 0.3;
/// Latest onset looked for, in points; group delays met are below 130.
const LATEST_ONSET: usize = 512;
/// Share of the energy after the onset that may lie before it.
const LEAST_CONTRAST: f64 = 0.4;
/// An onset below this many points needs no correction.
const NO_DELAY_BELOW: usize = 3;
/// A stated delay and the onset may differ by this many points.
const ONSET_TOLERANCE: f64 = 4.0;
/// Standard uncertainty of an onset read off the envelope, in points.
const ONSET_U: f64 = 1.0;
/// Points of a rotated build-up looked for at the end when no delay is stated.
const USUAL_BUILD_UP: usize = 80;
/// The last points must hold this many times the mean energy of those before to count as a rotated build-up.
const WRAPPED_RATIO: f64 = 20.0;

/// The index at which the signal sets in: the first large rise of energy from the eight points before to the eight
/// points after (later ones are beats of lines that drift in and out of phase). `None` when there is no clear rise.
///
/// ```
/// use num_complex::Complex64;
/// let mut points = vec![Complex64::new(0.01, 0.0); 1000];
/// points[68..].fill(Complex64::new(1.0, 0.0));
/// assert_eq!(lees_process::fid::onset(&points), Some(68));
/// ```
#[must_use]
pub fn onset(points: &[Complex64]) -> Option<usize> {
    let searched = points.len().min(LATEST_ONSET + EDGE_POINTS);
    let mut running = Vec::with_capacity(searched + 1);
    running.push(0.0);
    for point in &points[..searched] {
        running.push(running[running.len() - 1] + point.norm_sqr());
    }
    let sides = |j: usize| {
        let before = running[j] - running[j.saturating_sub(EDGE_POINTS)];
        let after = running[(j + EDGE_POINTS).min(searched)] - running[j];
        (before, after)
    };
    let rise = |j: usize| sides(j).1 - sides(j).0;
    let ends = 0..searched.saturating_sub(EDGE_POINTS);
    let steepest = ends.clone().map(rise).fold(0.0, f64::max);
    let first = ends.clone().find(|&j| rise(j) > FIRST_SHARE * steepest)?;
    let near = first..(first + EDGE_POINTS).min(ends.end);
    let best = near.max_by(|&a, &b| rise(a).total_cmp(&rise(b)))?;
    let (before, after) = sides(best);
    (after > 0.0 && before < LEAST_CONTRAST * after).then_some(best)
}

/// Decides on the group delay from what is stated and from the recording itself.
///
/// ```
/// use num_complex::Complex64;
/// use lees_process::fid::{DelaySource, find_delay};
/// let mut points = vec![Complex64::new(0.01, 0.0); 1000];
/// points[68..].fill(Complex64::new(1.0, 0.0));
/// assert_eq!(find_delay(&points, Some(67.98)).source, DelaySource::Given);
/// assert_eq!(find_delay(&points, None).points, 68.0);
/// assert_eq!(find_delay(&points[68..], Some(67.98)).source, DelaySource::AlreadyCorrected);
/// ```
#[must_use]
pub fn find_delay(points: &[Complex64], stated: Option<f64>) -> Delay {
    let stated = stated.filter(|d| d.is_finite() && d.abs() < points.len() as f64 / 2.0);
    let found = onset(points);
    let plain = |points, source| Delay { points, source, u_points: None, wrapped: 0, warning: None };
    match (stated, found) {
        (Some(d), Some(at)) if (d - at as f64).abs() <= ONSET_TOLERANCE => plain(d, DelaySource::Given),
        (Some(d), Some(at)) if at < NO_DELAY_BELOW => already_corrected(points, d),
        (Some(d), Some(at)) => Delay {
            u_points: Some(ONSET_U),
            warning: Some(format!(
                "the stated group delay of {d:.2} points does not fit the signal, which starts at point {at}; \
                 the delay was estimated from the data"
            )),
            ..plain(at as f64, DelaySource::Estimated)
        },
        (Some(d), None) => plain(d, DelaySource::Given),
        (None, Some(at)) if at >= NO_DELAY_BELOW => Delay {
            u_points: Some(ONSET_U),
            warning: Some(format!(
                "no group delay is stated; it was estimated from the data (the signal starts at point {at})"
            )),
            ..plain(at as f64, DelaySource::Estimated)
        },
        (None, _) => {
            Delay { wrapped: wrapped_points(points, USUAL_BUILD_UP), ..plain(0.0, DelaySource::None) }
                .rotated()
        }
    }
}

fn already_corrected(points: &[Complex64], stated: f64) -> Delay {
    Delay {
        points: 0.0,
        source: DelaySource::AlreadyCorrected,
        u_points: None,
        wrapped: wrapped_points(points, stated.max(0.0) as usize),
        warning: Some(format!(
            "a group delay of {stated:.2} points is stated, but the signal starts at once: taken as corrected \
             before"
        )),
    }
    .rotated()
}

impl Delay {
    /// Time zero lies behind the points brought back to the front.
    fn rotated(self) -> Self {
        Self { points: self.wrapped as f64, ..self }
    }
}

/// How many points at the end are a build-up that was rotated there; zero when there is none.
fn wrapped_points(points: &[Complex64], length: usize) -> usize {
    let n = points.len();
    if length == 0 || n < 8 * length {
        return 0;
    }
    let mean = |part: &[Complex64]| part.iter().map(Complex64::norm_sqr).sum::<f64>() / part.len() as f64;
    let end = mean(&points[n - length.min(4)..]);
    let before = mean(&points[n - 4 * length..n - length]);
    if end > WRAPPED_RATIO * before { length } else { 0 }
}

/// The recording with its last `wrapped` points brought back to the front.
pub(super) fn unwrap(points: &[Complex64], wrapped: usize) -> Vec<Complex64> {
    let (start, end) = points.split_at(points.len() - wrapped);
    [end, start].concat()
}

#[cfg(test)]
mod tests {
    use lees_core::complex::polar;

    use super::*;

    fn decay(length: usize) -> Vec<Complex64> {
        (0..length).map(|j| polar(libm::exp(-(j as f64) / 300.0), 0.3 * j as f64)).collect()
    }

    #[test]
    fn a_recording_that_starts_at_once_has_no_delay() {
        assert_eq!(find_delay(&decay(2000), None).points, 0.0);
        assert_eq!(find_delay(&decay(2000), None).source, DelaySource::None);
    }

    #[test]
    fn a_wrong_statement_is_named_and_replaced() {
        let mut points = vec![Complex64::new(0.001, 0.0); 60];
        points.extend(decay(2000));
        let delay = find_delay(&points, Some(20.0));
        assert_eq!((delay.points, delay.source), (60.0, DelaySource::Estimated));
        assert!(delay.warning.expect("warns").contains("20.00"));
    }

    #[test]
    fn a_rotated_build_up_is_brought_back() {
        let mut points = vec![Complex64::new(0.001, 0.0); 40];
        points.extend((0..28).map(|j| Complex64::new(f64::from(j) / 28.0, 0.0)));
        points.extend(decay(4000));
        points.rotate_left(68);
        let delay = find_delay(&points, Some(68.3));
        assert_eq!((delay.points, delay.wrapped), (68.0, 68));
        assert_eq!(unwrap(&points, 68)[68], points[0]);
    }
}
