//! The normal law, and intervals for amounts that cannot be negative.

use lees_core::check::Estimate;

/// Two-sided 95 % point of the normal law.
pub const Z95: f64 = 1.959_963_984_540_054;

/// Probability of a standard normal value below `z`.
///
/// ```
/// assert!((lees_match::interval::normal_cdf(1.959964) - 0.975).abs() < 1e-7);
/// ```
#[must_use]
pub fn normal_cdf(z: f64) -> f64 {
    0.5 * libm::erfc(-z / std::f64::consts::SQRT_2)
}

/// Steps of a bisection; each halves the interval.
const HALVINGS: usize = 60;

/// The zero of a rising function between `low` and `high`.
pub(crate) fn bisect(mut low: f64, mut high: f64, rising: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if rising(middle) < 0.0 { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// Lower end, in units of u, of the unified 95 % interval for a measured `x >= 0` of a quantity that is not negative.
///
/// G. J. Feldman, R. D. Cousins, Phys. Rev. D 1998, 57, 3873: values are accepted in the order of the likelihood
/// ratio against the best allowed value, so that the interval covers 95 % for every true value, 0 included.
fn unified_low(x: f64) -> f64 {
    // accepted region of a true value m: from x1 to x = m + d, both with one likelihood ratio
    let surplus = |m: f64| {
        let d = x - m;
        let x1 = if d <= m { m - d } else { (m * m - d * d) / (2.0 * m.max(1e-12)) };
        0.95 - (normal_cdf(d) - normal_cdf(x1 - m))
    };
    if normal_cdf(x) <= 0.95 { 0.0 } else { bisect(0.0, x, surplus) }
}

/// The estimate of a non-negative amount measured as `y` (which may be below zero) with standard uncertainty `u`.
///
/// The 95 % interval is that of Feldman and Cousins with the measured value held at zero from below: for `y` from
/// 2.5 u on it is `y +- 1.96 u`, near zero it starts at zero. It covers 95 to 97.5 % for every true value (see the tests).
///
/// ```
/// use lees_match::interval::nonnegative;
/// let absent = nonnegative(-0.3, 1.0);
/// assert_eq!((absent.value, absent.low), (0.0, 0.0));
/// assert!((absent.high - 1.96).abs() < 0.01);
/// ```
#[must_use]
pub fn nonnegative(y: f64, u: f64) -> Estimate {
    nonnegative_with(y, u, Z95)
}

/// The same with another two-sided 95 % factor, for uncertainties that are not normal (see
/// [`crate::uncertainty::coverage_factor`]).
#[must_use]
pub(crate) fn nonnegative_with(y: f64, u: f64, factor: f64) -> Estimate {
    let value = y.max(0.0);
    if u <= 0.0 || !u.is_finite() {
        return Estimate { value, low: value, high: value, u: u.max(0.0) };
    }
    let scale = u * factor / Z95;
    let low = unified_low(value / scale) * scale;
    Estimate { value, low, high: value + factor * u, u }
}

/// Probability that a non-negative amount, measured as `y` with uncertainty `u`, is at most `limit`: the
/// conformance probability of JCGM 106:2012 with a flat prior on amounts from zero.
///
/// ```
/// use lees_match::interval::conformance;
/// assert!((conformance(0.5, 0.1, 0.5) - 0.5).abs() < 1e-6);
/// assert!(conformance(0.0, 0.1, 0.5) > 0.999);
/// ```
#[must_use]
pub fn conformance(y: f64, u: f64, limit: f64) -> f64 {
    if u <= 0.0 || !u.is_finite() {
        return if y <= limit { 1.0 } else { 0.0 };
    }
    // upper tails, which keep their digits where the lower ones are near 1
    let all = normal_cdf(y / u);
    let over = normal_cdf((y - limit) / u);
    if all <= 0.0 { 1.0 } else { (1.0 - over / all).clamp(0.0, 1.0) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, Normal};

    /// Feldman and Cousins 1998, table X, 95 % (from memory): x0 = 0: 0 to 1.96; 1: 0 to 2.96; 2: 0.35 to 3.96;
    /// 3: 1.14 to 4.96.
    #[test]
    fn ends_agree_with_the_published_table() {
        for (x, low, high) in [(0.0, 0.0, 1.96), (1.0, 0.0, 2.96), (2.0, 0.35, 3.96), (3.0, 1.14, 4.96)] {
            let estimate = nonnegative(x, 1.0);
            assert_abs_diff_eq!(estimate.low, low, epsilon = 0.01);
            assert_abs_diff_eq!(estimate.high, high, epsilon = 0.01);
        }
    }

    #[test]
    fn far_from_zero_it_is_symmetric() {
        let estimate = nonnegative(12.0, 2.0);
        assert_abs_diff_eq!(estimate.low, 12.0 - Z95 * 2.0, epsilon = 1e-6);
        assert_abs_diff_eq!(estimate.high, 12.0 + Z95 * 2.0, epsilon = 1e-9);
    }

    /// Coverage by simulation, 20 000 draws for each true value: its standard error is 0.15 %.
    #[test]
    fn intervals_near_zero_cover() {
        let mut rng = ChaCha8Rng::seed_from_u64(11);
        let noise = Normal::new(0.0, 1.0).expect("a normal law");
        for truth in [0.0, 0.3, 0.7, 1.0, 1.5, 1.9, 2.1, 2.5, 3.0, 4.0, 8.0] {
            let draws = 20_000;
            let covered = (0..draws)
                .filter(|_| {
                    let estimate = nonnegative(truth + noise.sample(&mut rng), 1.0);
                    estimate.low <= truth && truth <= estimate.high
                })
                .count();
            let share = covered as f64 / f64::from(draws);
            assert!((0.945..0.979).contains(&share), "{truth}: {share}");
        }
    }

    /// Conformance at zero against direct integration of the truncated law (trapezoids).
    #[test]
    fn conformance_is_the_truncated_probability() {
        for (y, u, limit) in [(0.1, 0.2, 0.3), (-0.4, 0.3, 0.2), (1.0, 0.3, 0.9)] {
            let density = |x: f64| libm::exp(-0.5 * ((x - y) / u).powi(2));
            let integral = |to: f64| {
                let n = 20_000;
                let h = to / f64::from(n);
                (0..=n)
                    .map(|i| density(f64::from(i) * h) * if i == 0 || i == n { 0.5 } else { 1.0 })
                    .sum::<f64>()
                    * h
            };
            let expected = integral(limit) / integral(10.0);
            assert_abs_diff_eq!(conformance(y, u, limit), expected, epsilon = 1e-6);
        }
    }
}
