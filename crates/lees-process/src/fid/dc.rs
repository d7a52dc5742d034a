//! The receiver's constant offset.

use lees_core::complex::modulus;
use num_complex::Complex64;

/// A constant offset of both channels.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct DcOffset {
    /// The offset, zero when there is none to be seen.
    pub value: Complex64,
    /// Standard uncertainty of each channel's offset.
    pub u: f64,
}

/// Offsets under this many standard uncertainties are noise.
const SIGNIFICANT: f64 = 4.0;

/// The offset of the last eighth, when it stands out of the noise and the eighth before it has the same: a slow
/// line at the carrier would differ, since it decays.
///
/// ```
/// use num_complex::Complex64;
/// let points: Vec<_> = (0..4096).map(|j| {
///     Complex64::from_polar((-f64::from(j) / 200.0).exp(), 0.7 * f64::from(j)) + Complex64::new(0.2, -0.1)
/// }).collect();
/// let dc = lees_process::fid::dc_offset(&points);
/// assert!((dc.value - Complex64::new(0.2, -0.1)).norm() < 1e-6);
/// ```
#[must_use]
pub fn dc_offset(points: &[Complex64]) -> DcOffset {
    let eighth = points.len() / 8;
    if eighth == 0 {
        return DcOffset::default();
    }
    let last = &points[points.len() - eighth..];
    let before = &points[points.len() - 2 * eighth..points.len() - eighth];
    let (value, u) = mean(last);
    let (earlier, earlier_u) = mean(before);
    let stands_out = modulus(value) > SIGNIFICANT * u;
    let agrees = modulus(value - earlier) <= SIGNIFICANT * libm::hypot(u, earlier_u);
    if stands_out && agrees { DcOffset { value, u } } else { DcOffset { value: Complex64::ZERO, u } }
}

/// The mean and each channel's standard uncertainty of it.
fn mean(points: &[Complex64]) -> (Complex64, f64) {
    let n = points.len() as f64;
    let mean = points.iter().sum::<Complex64>() / n;
    let spread = points.iter().map(|point| (point - mean).norm_sqr()).sum::<f64>() / (2.0 * n);
    (mean, (spread / n).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_decaying_line_at_the_carrier_is_no_offset() {
        let points: Vec<_> =
            (0..4096).map(|j| Complex64::new(libm::exp(-f64::from(j) / 2000.0), 0.0)).collect();
        assert_eq!(dc_offset(&points).value, Complex64::ZERO);
    }

    #[test]
    fn a_single_point_has_no_offset() {
        assert_eq!(dc_offset(&[Complex64::new(1.0, 1.0)]).value, Complex64::ZERO);
    }
}
