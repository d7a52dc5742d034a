//! Noise: local size and colour.
//!
//! Apodisation and zero filling make neighbouring points alike, so that the sum of `m` points does not scatter by
//! `sigma sqrt(m)`. The noise's power against time in the FID (its "time profile") is measured from segments of
//! signal-free points (Welch, IEEE Trans. Audio Electroacoust. 1967, 15, 70) and all colour follows from it.

mod correlation;
mod profile;

pub use correlation::Correlation;

use profile::time_profile;

/// Standard deviation of a normal variable over its median absolute value.
const MAD_TO_SIGMA: f64 = 1.482_602_218_505_602;
/// Integral over `x` of `1 - (1 - h)^2` with `h = 1 / (1 + x^4)`: `5 pi / (8 sqrt 2)`.
const RESPONSE_AREA: f64 = 1.388_400_9;
/// Clip for the second, more precise pass of a standard deviation, in sigma.
const CLIP: f64 = 3.0;
/// Standard deviation of a unit normal variable cut at +-3.
const CLIPPED_SD: f64 = 0.986_58;
/// Stretches in which the local noise is measured.
const STRETCHES: usize = 20;
/// Fewest points for a standard deviation of their own.
const FEWEST: usize = 64;

/// Local noise and its colour.
#[derive(Debug, Clone, PartialEq)]
pub struct Noise {
    sigmas: Vec<f64>,
    points: usize,
    typical: f64,
    correlation: Correlation,
    profile: Vec<f64>,
}

impl Noise {
    /// White noise of one size everywhere.
    ///
    /// ```
    /// let noise = lees_process::Noise::white(2.0, 1000);
    /// assert_eq!(noise.sigma(500), 2.0);
    /// assert!((noise.sum_u(100) - 20.0).abs() < 1e-9);
    /// ```
    #[must_use]
    pub fn white(sigma: f64, points: usize) -> Self {
        Self {
            sigmas: vec![sigma],
            points,
            typical: sigma,
            correlation: Correlation::white(),
            profile: vec![1.0; 2],
        }
    }

    /// Standard deviation of the point at `index`, in intensity units.
    ///
    /// ```
    /// use lees_process::Noise;
    /// // Twice as noisy in the right half of the spectrum.
    /// let ripple = |i: u32| (1.0 + f64::from(i / 20_000)) * (0.7 * f64::from(i).powi(2)).sin();
    /// let noise = Noise::measure(&(0..40_000).map(ripple).collect::<Vec<_>>(), &vec![true; 40_000]);
    /// assert!((noise.sigma(35_000) / noise.sigma(5_000) - 2.0).abs() < 0.1);
    /// ```
    #[must_use]
    pub fn sigma(&self, index: usize) -> f64 {
        let n = self.sigmas.len();
        if n == 1 {
            return self.sigmas[0];
        }
        let position = (index as f64 + 0.5) / self.points.max(1) as f64 * n as f64 - 0.5;
        let position = position.clamp(0.0, (n - 1) as f64);
        let left = (position as usize).min(n - 2);
        let part = position - left as f64;
        self.sigmas[left] * (1.0 - part) + self.sigmas[left + 1] * part
    }

    /// Standard deviations of the points of a range, in intensity units.
    ///
    /// ```
    /// use lees_process::Noise;
    /// let noise = Noise::white(2.0, 1000);
    /// assert_eq!(noise.sigmas(10..13), [2.0, 2.0, 2.0]);
    /// let ripple = |i: u32| (1.0 + f64::from(i / 20_000)) * (0.7 * f64::from(i).powi(2)).sin();
    /// let noise = Noise::measure(&(0..40_000).map(ripple).collect::<Vec<_>>(), &vec![true; 40_000]);
    /// for (i, sigma) in noise.sigmas(0..40_000).into_iter().enumerate() {
    ///     assert!((sigma / noise.sigma(i) - 1.0).abs() < 1e-9);
    /// }
    /// assert_eq!(noise.sigmas(39_990..40_000)[9], noise.sigma(39_999));
    /// ```
    #[must_use]
    pub fn sigmas(&self, range: std::ops::Range<usize>) -> Vec<f64> {
        if let [everywhere] = self.sigmas[..] {
            return vec![everywhere; range.len()];
        }
        // the middle of a stretch, in points; between middles straight lines, beyond the outermost ones level
        let length = self.points.max(1) as f64 / self.sigmas.len() as f64;
        let middle = |stretch: usize| (stretch as f64 + 0.5) * length - 0.5;
        let mut out = Vec::with_capacity(range.len());
        let level = |out: &mut Vec<f64>, end: f64, sigma: f64| {
            let end = (end.ceil().max(0.0) as usize).clamp(range.start, range.end);
            out.resize(out.len().max(end - range.start), sigma);
        };
        level(&mut out, middle(0), self.sigmas[0]);
        for (left, pair) in self.sigmas.windows(2).enumerate() {
            let rise = (pair[1] - pair[0]) / length;
            let mut from_middle = (range.start + out.len()) as f64 - middle(left);
            let end = (middle(left + 1).ceil().max(0.0) as usize).clamp(range.start, range.end) - range.start;
            for _ in out.len()..end {
                out.push(pair[0] + rise * from_middle);
                from_middle += 1.0;
            }
        }
        level(&mut out, f64::INFINITY, self.sigmas[self.sigmas.len() - 1]);
        out
    }

    /// The spectrum's typical standard deviation of a point.
    ///
    /// ```
    /// assert_eq!(lees_process::Noise::white(2.5, 1000).typical(), 2.5);
    /// ```
    #[must_use]
    pub const fn typical(&self) -> f64 {
        self.typical
    }

    /// Standard deviation of a sum over `points` neighbouring points, from the typical noise.
    ///
    /// ```
    /// let noise = lees_process::Noise::white(3.0, 1000);
    /// assert!((noise.sum_u(25) - 15.0).abs() < 1e-12, "white noise: sigma times the root of the number");
    /// ```
    #[must_use]
    pub fn sum_u(&self, points: usize) -> f64 {
        self.typical * (points as f64 * self.sum_factor(points)).sqrt()
    }

    /// Standard deviation of the sum over an index range, from the noise there.
    ///
    /// ```
    /// let noise = lees_process::Noise::white(3.0, 1000);
    /// assert!((noise.range_u(100..116) - 12.0).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn range_u(&self, range: std::ops::Range<usize>) -> f64 {
        let middle = (range.start + range.end) / 2;
        self.sigma(middle) * (range.len() as f64 * self.sum_factor(range.len())).sqrt()
    }

    /// By how much the variance of a wide sum exceeds that of white noise of the same size (1 for white).
    ///
    /// ```
    /// assert_eq!(lees_process::Noise::white(3.0, 1000).colour(), 1.0);
    /// ```
    #[must_use]
    pub fn colour(&self) -> f64 {
        self.profile.first().copied().unwrap_or(1.0)
    }

    /// Variance of `sum kernel_i y_i` for unit point variance.
    ///
    /// ```
    /// let noise = lees_process::Noise::white(3.0, 1000);
    /// assert!((noise.kernel_variance(&[1.0, 2.0, 2.0]) - 9.0).abs() < 1e-12, "1 + 4 + 4 for white noise");
    /// ```
    #[must_use]
    pub fn kernel_variance(&self, kernel: &[f64]) -> f64 {
        self.correlation.variance(kernel)
    }

    /// The correlation of sums over `points` neighbouring points each, laid end to end: coarser kernels cost less.
    ///
    /// ```
    /// let pairs = lees_process::Noise::white(3.0, 1000).of_sums(2);
    /// assert!((pairs.variance(&[1.0, 3.0]) - 20.0).abs() < 1e-12, "2 + 2 * 9 for white noise");
    /// ```
    #[must_use]
    pub fn of_sums(&self, points: usize) -> Correlation {
        self.correlation.of_sums(points)
    }

    /// Gives back the noise that a baseline smoother of `period_hz` took out with the baseline: it follows the
    /// noise of the first `1 / period` seconds of the FID (its response is `1 / (1 + (t period)^4)`).
    pub(crate) fn restore(&mut self, period_hz: f64, hertz_per_point: f64) {
        let share = RESPONSE_AREA / period_hz * 2.0 * hertz_per_point * self.colour();
        let scale = (1.0 - share.clamp(0.0, 0.3)).sqrt().recip();
        self.typical *= scale;
        self.sigmas.iter_mut().for_each(|s| *s *= scale);
    }

    fn sum_factor(&self, points: usize) -> f64 {
        let m = points.max(1);
        let correlation = self.correlation.by_lag();
        let reach = correlation.len();
        if m > reach {
            return self.blended_factor(m);
        }
        let partial: f64 = (1..m).map(|k| (1.0 - k as f64 / m as f64) * correlation[k]).sum();
        (1.0 + 2.0 * partial).max(0.0)
    }

    /// Beyond the reach of the measured correlation the factor goes to the colour as `1 / points`.
    fn blended_factor(&self, points: usize) -> f64 {
        let reach = self.correlation.by_lag().len();
        if reach < 2 {
            return self.colour();
        }
        let edge = self.sum_factor(reach);
        self.colour() + (edge - self.colour()) * reach as f64 / points as f64
    }

    /// Measures noise in `residual` (baseline and lines removed) at the points marked `free`.
    ///
    /// Falls back to all points when too few are free. Colour needs runs of free points; without them the noise
    /// is called white.
    ///
    /// ```
    /// let residual: Vec<f64> = (0..4096u32).map(|i| f64::from(i.wrapping_mul(2_654_435_761) >> 8) / 1.6777216e7 - 0.5).collect();
    /// let noise = lees_process::Noise::measure(&residual, &vec![true; 4096]);
    /// assert!((noise.typical() - 12f64.recip().sqrt()).abs() < 0.05, "a uniform variable has 1/sqrt(12)");
    /// ```
    #[must_use]
    pub fn measure(residual: &[f64], free: &[bool]) -> Self {
        let points = residual.len();
        let all: Vec<f64> = spread(residual, free, 0..points, 8192);
        let typical = deviation(&all).filter(|s| *s > 0.0).unwrap_or_else(|| first_guess(residual));
        let profile = time_profile(residual, free, typical).unwrap_or_else(|| vec![1.0; 2]);
        let correlation = Correlation::of(&profile);
        let colour = profile[0].max(1.0);
        let sigmas = local_sigmas(residual, free, typical, colour);
        Self { sigmas, points, typical, correlation, profile }
    }
}

/// At most about `most` free values of a range, evenly spread.
fn spread(values: &[f64], free: &[bool], range: std::ops::Range<usize>, most: usize) -> Vec<f64> {
    let stride = (range.len() / most.max(1)).max(1);
    let mut out = Vec::with_capacity(range.len() / stride + 1);
    for index in range.step_by(stride) {
        if free.get(index) == Some(&true) {
            out.push(values[index]);
        }
    }
    out
}

/// Clipped standard deviation about the median; `None` for fewer than 64 values.
#[must_use]
pub(crate) fn deviation(values: &[f64]) -> Option<f64> {
    if values.len() < FEWEST {
        return None;
    }
    let mut keys: Vec<i64> = values.iter().map(|v| ordered(*v)).collect();
    let centre = middle(&mut keys);
    keys.iter_mut().zip(values).for_each(|(key, v)| *key = ordered((v - centre).abs()));
    let rough = MAD_TO_SIGMA * middle(&mut keys);
    let (sum, count) = values
        .iter()
        .map(|v| (v - centre).abs())
        .filter(|d| *d < CLIP * rough)
        .fold((0.0, 0usize), |(sum, count), d| (sum + d * d, count + 1));
    Some(if count > FEWEST / 2 { (sum / count as f64).sqrt() / CLIPPED_SD } else { rough })
}

/// A whole number for a value: they have the same order, and whole numbers are compared faster.
fn ordered(value: f64) -> i64 {
    let bits = value.to_bits().cast_signed();
    bits ^ ((bits >> 63).cast_unsigned() >> 1).cast_signed()
}

/// The value whose number is the middle one, reordering them.
fn middle(keys: &mut [i64]) -> f64 {
    let half = keys.len() / 2;
    let key = *keys.select_nth_unstable(half).1;
    f64::from_bits((key ^ ((key >> 63).cast_unsigned() >> 1).cast_signed()).cast_unsigned())
}

/// The median, reordering `values`; 0 for an empty slice.
pub(crate) fn median(values: &mut [f64]) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    let middle = values.len() / 2;
    *values.select_nth_unstable_by(middle, f64::total_cmp).1
}

/// The same of values that come one by one.
pub(crate) fn median_of(values: impl Iterator<Item = f64>) -> f64 {
    median(&mut values.collect::<Vec<f64>>())
}

/// A first guess at the noise of a raw spectrum: scatter of differences of distant points.
///
/// Neighbours in a zero-filled spectrum are alike, so lags of 16, 64 and 256 points are tried and the largest of
/// the three taken; each is the lower quartile over stretches of the spectrum, so that crowded parts do not
/// count.
///
/// ```
/// // Ripples of rms 1 / sqrt 2 and, in one place, a tall line that must not count.
/// let ripple = |i: usize| (0.7 * (i * i) as f64).sin();
/// let values: Vec<f64> = (0..16_384).map(|i| ripple(i) + 1e5 / (1.0 + (i as f64 - 5000.0).powi(2))).collect();
/// let sigma = lees_process::noise::first_guess(&values);
/// assert!((0.4..1.2).contains(&sigma), "{sigma}");
/// ```
#[must_use]
pub fn first_guess(values: &[f64]) -> f64 {
    [16usize, 64, 256].iter().filter_map(|lag| difference_scatter(values, *lag)).fold(0.0, f64::max)
}

fn difference_scatter(values: &[f64], lag: usize) -> Option<f64> {
    if values.len() < 4 * lag {
        return None;
    }
    let stretch = (values.len() / 32).max(2 * lag);
    let mut scatters: Vec<f64> = values
        .chunks(stretch)
        .filter(|chunk| chunk.len() >= 2 * lag)
        .map(|chunk| {
            let stride = (chunk.len() / 512).max(1);
            let mut gaps: Vec<i64> = (lag..chunk.len())
                .step_by(stride)
                .map(|i| ordered((chunk[i] - chunk[i - lag]).abs()))
                .collect();
            MAD_TO_SIGMA * middle(&mut gaps) / std::f64::consts::SQRT_2
        })
        .collect();
    let quarter = scatters.len() / 4;
    (!scatters.is_empty()).then(|| *scatters.select_nth_unstable_by(quarter, f64::total_cmp).1)
}

/// Local standard deviations, drawn towards the typical one as far as their own error asks for it.
fn local_sigmas(residual: &[f64], free: &[bool], typical: f64, colour: f64) -> Vec<f64> {
    let n = residual.len();
    if n < STRETCHES * FEWEST * 4 {
        return vec![typical];
    }
    let local: Vec<Option<(f64, f64)>> = (0..STRETCHES)
        .map(|k| {
            let range = k * n / STRETCHES..(k + 1) * n / STRETCHES;
            let values = spread(residual, free, range, 1024);
            let ratio = libm::log((deviation(&values)? / typical).max(1e-6));
            Some((ratio, 0.6 * colour / values.len() as f64))
        })
        .collect();
    let known: Vec<(f64, f64)> = local.iter().flatten().copied().collect();
    let excess = known.iter().map(|(r, v)| r * r - v).sum::<f64>() / known.len().max(1) as f64;
    let excess = excess.max(0.0);
    local
        .iter()
        .map(|l| {
            l.map_or(typical, |(ratio, v)| typical * libm::exp(ratio * excess / (excess + v).max(1e-30)))
        })
        .collect()
}
