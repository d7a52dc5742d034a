//! How alike the noise of neighbouring points is.

use lees_fourier::Plans;
use num_complex::Complex64;

/// Lags summed at once.
const LAGS: usize = 8;

/// Covariance by lag of points, or of sums of points, for unit variance of a point; what lies beyond the last lag is zero.
#[derive(Debug, Clone, PartialEq)]
pub struct Correlation(Vec<f64>);

impl Correlation {
    pub(super) fn white() -> Self {
        Self(vec![1.0])
    }

    /// The cosine transform of a time profile.
    pub(super) fn of(profile: &[f64]) -> Self {
        let last = profile.len() - 1;
        if last < 8 {
            return Self::white();
        }
        let mut buffer = vec![Complex64::default(); 2 * last];
        for (i, value) in profile.iter().enumerate() {
            buffer[i] = Complex64::new(*value, 0.0);
            buffer[(2 * last - i) % (2 * last)] = Complex64::new(*value, 0.0);
        }
        Plans::new().forward(2 * last).process(&mut buffer);
        let zero = buffer[0].re.max(f64::MIN_POSITIVE);
        Self(buffer.iter().take(last / 2).map(|b| b.re / zero).collect())
    }

    pub(super) fn by_lag(&self) -> &[f64] {
        &self.0
    }

    /// That of sums over `points` neighbours, laid end to end.
    pub(super) fn of_sums(&self, points: usize) -> Self {
        let wide = points.max(1) as i64;
        let at = |lag: i64| self.0.get(lag.unsigned_abs() as usize).copied().unwrap_or(0.0);
        let of_pair = |apart: i64| -> f64 {
            (1 - wide..wide).map(|u| (wide - u.abs()) as f64 * at(apart * wide + u)).sum()
        };
        let reach = (self.0.len() + points).div_ceil(points.max(1)) as i64;
        Self((0..reach).map(of_pair).collect())
    }

    /// Variance of `sum kernel_i y_i`, of the points or sums that this is the covariance of.
    ///
    /// ```
    /// let pairs = lees_process::Noise::white(3.0, 1000).of_sums(2);
    /// assert!((pairs.variance(&[2.0]) - 8.0).abs() < 1e-12, "twice the sum of two");
    /// ```
    #[must_use]
    pub fn variance(&self, kernel: &[f64]) -> f64 {
        let reach = self.0.len().min(kernel.len());
        let lags: Vec<f64> = (0..reach).step_by(LAGS).flat_map(|first| lags(kernel, first)).collect();
        let white = self.0[0] * lags.first().copied().unwrap_or(0.0);
        white + 2.0 * (1..reach).map(|k| self.0[k] * lags[k]).sum::<f64>()
    }
}

/// `sum_i kernel_(i + lag) kernel_i` for [`LAGS`] lags from `first`.
fn lags(kernel: &[f64], first: usize) -> [f64; LAGS] {
    let mut sums = [0.0; LAGS];
    let ahead = kernel.get(first..).unwrap_or(&[]);
    let common = (ahead.len() + 1).saturating_sub(LAGS);
    for (first, here) in kernel.iter().enumerate().take(common) {
        let Some(near) = ahead[first..].first_chunk::<LAGS>() else { break };
        for lag in 0..LAGS {
            sums[lag] += near[lag] * here;
        }
    }
    for (lag, sum) in sums.iter_mut().enumerate() {
        for i in common..ahead.len().saturating_sub(lag) {
            *sum += ahead[i + lag] * kernel[i];
        }
    }
    sums
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_kernel_that_is_level_over_sums_has_the_same_variance() {
        let points = Correlation((0..20).map(|k| 0.8f64.powi(k) * libm::cos(0.3 * f64::from(k))).collect());
        let coarse = [0.5, -1.0, 2.0, 0.25, 0.0, 1.0, -0.5, 3.0, 1.5, 1.0];
        for wide in [1, 2, 3, 5] {
            let fine: Vec<f64> = coarse.iter().flat_map(|k| std::iter::repeat_n(*k, wide)).collect();
            let (one, other) = (points.variance(&fine), points.of_sums(wide).variance(&coarse));
            assert!((one / other - 1.0).abs() < 1e-9, "{wide}: {one} {other}");
        }
    }
}
