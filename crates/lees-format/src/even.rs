//! Listed abscissae that should be evenly spaced.

use crate::error::{ErrorKind, FormatError};

/// Largest tolerated distance of an abscissa from its even place, in steps. Printed abscissae are rounded; a
/// tenth of a step moves no line by more than a tenth of a point.
const TOLERANCE: f64 = 0.1;

/// Number of steps an abscissa may be off when it is printed with few digits.
const COARSEST: f64 = 0.6;

/// Checks that abscissae are evenly spaced, within the rounding of their printed digits.
///
/// # Errors
/// Names the first that is not.
pub(crate) fn check(x: &[f64]) -> Result<(), FormatError> {
    let (Some(first), Some(last)) = (x.first(), x.last()) else {
        return Ok(());
    };
    let step = (last - first) / (x.len() as f64 - 1.0).max(1.0);
    if step == 0.0 || !step.is_finite() {
        let read = "abscissae that do not move";
        return Err(FormatError::new(ErrorKind::Damaged, read, "evenly spaced abscissae"));
    }
    let allowed = (TOLERANCE * step.abs()).max(rounding(x).min(COARSEST * step.abs()));
    let stray = x.iter().enumerate().find(|(i, value)| (*value - (first + step * *i as f64)).abs() > allowed);
    match stray {
        None => Ok(()),
        Some((at, value)) => {
            let expected = first + step * at as f64;
            let read = format!("abscissa {} is {value} where even spacing has {expected:.6}", at + 1);
            Err(FormatError::new(
                ErrorKind::Damaged,
                read,
                "evenly spaced abscissae, or resampling asked for (--resample)",
            ))
        }
    }
}

/// A unit of the last printed digit: the smallest power of ten of which all (of the first) values are multiples.
fn rounding(x: &[f64]) -> f64 {
    const LOOKED_AT: usize = 200;
    for decimals in 0..12 {
        let scale = 10_f64.powi(decimals);
        let whole = |value: &f64| {
            ((value * scale).round() - value * scale).abs() < 1e-6 * (value * scale).abs().max(1.0)
        };
        if x.iter().take(LOOKED_AT).all(whole) {
            return 1.0 / scale;
        }
    }
    0.0
}

/// Ordinates at evenly spaced abscissae between the first and the last, by linear interpolation.
///
/// `x` must rise or fall throughout; the ends keep their values.
pub(crate) fn resample(x: &[f64], y: &[f64]) -> Vec<f64> {
    let last = x.len() - 1;
    let step = (x[last] - x[0]) / last as f64;
    let mut left = 0;
    let value = |i: usize| {
        let target = x[0] + step * i as f64;
        while left + 1 < last && (x[left + 1] - target) * step.signum() < 0.0 {
            left += 1;
        }
        let part = ((target - x[left]) / (x[left + 1] - x[left])).clamp(0.0, 1.0);
        y[left] + (y[left + 1] - y[left]) * part
    };
    (0..=last).map(value).collect()
}

/// Whether values rise throughout or fall throughout.
pub(crate) fn is_monotonic(x: &[f64]) -> bool {
    x.windows(2).all(|w| w[0] < w[1]) || x.windows(2).all(|w| w[0] > w[1])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rounded_abscissae_pass_and_uneven_ones_do_not() {
        let exact: Vec<f64> = (0..1000).map(|i| 12.0 - 0.001_7 * f64::from(i)).collect();
        let rounded: Vec<f64> = exact.iter().map(|x| (x * 1000.0).round() / 1000.0).collect();
        assert!(check(&exact).is_ok());
        assert!(check(&rounded).is_ok());
        let mut broken = exact.clone();
        broken[500] += 0.001_7;
        assert!(check(&broken).unwrap_err().to_string().contains("abscissa 501"));
        assert!(check(&[1.0, 1.0]).is_err());
    }

    #[test]
    fn resampling_a_straight_line_keeps_it() {
        let x = [0.0, 1.0, 3.0, 4.0];
        let y = [0.0, 10.0, 30.0, 40.0];
        let even = resample(&x, &y);
        for (i, value) in even.iter().enumerate() {
            assert!((value - 40.0 * i as f64 / 3.0).abs() < 1e-12);
        }
    }
}
