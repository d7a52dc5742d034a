//! Block means of a spectrum and the baseline's smoother on them.

use super::BaselineSettings;
use super::whittaker::{Smoother, lambda_for_period};
use crate::inner::larger;
use crate::noise::median;

/// A block whose residual spans more than this many sigma from lowest to highest point holds something unfitted.
/// 32 independent normal values span 4.1 sigma on average and 6.5 once in 10,000 blocks.
const SPAN_SIGMA: f64 = 6.5;
/// Fewest points of a block.
const FEWEST_POINTS: usize = 4;
/// Most points of a block.
const MOST_POINTS: usize = 64;

/// Block means with weights.
///
/// Weights are relative: 1 for a quiet block, less where strong lines make the residual uncertain, 0 where
/// something unfitted stands.
#[derive(Debug, Clone)]
pub struct Grid {
    /// Means of the blocks.
    pub means: Vec<f64>,
    /// Relative weights of the blocks.
    pub weights: Vec<f64>,
    /// Standard deviation of a quiet block's mean.
    pub sigma: f64,
    /// Points a block.
    pub block: usize,
    /// Width of a block, hertz.
    pub block_hz: f64,
    smoother: Option<Smoother>,
}

/// Points a block has for the wanted width in hertz.
#[must_use]
pub(crate) fn block_points(settings: &BaselineSettings, step: f64, points: usize) -> usize {
    let wanted = (settings.block_hz / step).round().max(1.0) as usize;
    wanted.clamp(FEWEST_POINTS, MOST_POINTS).min((points / 16).max(1))
}

impl Grid {
    /// Block means of `values - model`; `allowance` is what the model may be wrong by at each point.
    ///
    /// ```
    /// use lees_process::baseline::{BaselineSettings, grid::Grid};
    /// let values = vec![3.0; 4096];
    /// let zero = vec![0.0; 4096];
    /// let grid = Grid::new(&values, &zero, &zero, &|_| 1.0, 0.25, &BaselineSettings::default());
    /// assert_eq!(grid.block, 16, "4 Hz at 0.25 Hz a point");
    /// assert!(grid.means.iter().all(|mean| (mean - 3.0).abs() < 1e-12));
    /// ```
    #[must_use]
    pub fn new(
        values: &[f64],
        model: &[f64],
        allowance: &[f64],
        sigma: &dyn Fn(usize) -> f64,
        step: f64,
        settings: &BaselineSettings,
    ) -> Self {
        let block = block_points(settings, step, values.len());
        let blocks = values.len().div_ceil(block);
        let mut means = Vec::with_capacity(blocks);
        let mut clear = Vec::with_capacity(blocks);
        let mut tops = Vec::with_capacity(blocks);
        for k in 0..blocks {
            let range = k * block..((k + 1) * block).min(values.len());
            let (mean, span, top) =
                statistics(&values[range.clone()], &model[range.clone()], &allowance[range]);
            let local = sigma(k * block + block / 2);
            let allowed = libm::hypot(local, top);
            means.push(mean);
            tops.push(top / local);
            clear.push(span < SPAN_SIGMA * allowed);
        }
        let typical = sigma(values.len() / 2);
        let ratio = mean_noise(&means, &clear, typical);
        let weights = (0..blocks)
            .map(|k| {
                let local = sigma(k * block + block / 2) / typical;
                if clear[k] { 1.0 / (local * local * (1.0 + (tops[k] / ratio).powi(2))) } else { 0.0 }
            })
            .collect();
        let block_hz = block as f64 * step;
        let mut grid = Self { means, weights, sigma: ratio * typical, block, block_hz, smoother: None };
        grid.factorise(settings.period_hz);
        grid
    }

    /// Factorises the smoother for the present weights and a period in hertz.
    pub(crate) fn factorise(&mut self, period_hz: f64) {
        let lambda = lambda_for_period((period_hz / self.block_hz).max(6.0));
        self.smoother = Smoother::new(&self.weights, lambda);
    }

    /// The smooth curve through `values`.
    #[must_use]
    pub(crate) fn smooth(&self, values: &[f64]) -> Vec<f64> {
        self.smoother.as_ref().map_or_else(|| vec![0.0; values.len()], |s| s.solve(values))
    }

    /// `W (v - S v)`: what of `values` no baseline can carry, weighted. Its inner product with `values` is the
    /// least penalised sum of squares over all baselines.
    #[must_use]
    pub(crate) fn reduce(&self, values: &[f64]) -> Vec<f64> {
        let mut smooth = self.smooth(values);
        for ((s, v), w) in smooth.iter_mut().zip(values).zip(&self.weights) {
            *s = w * (v - *s);
        }
        smooth
    }
}

/// Mean and span of `values - model`, and the largest allowance.
fn statistics(values: &[f64], model: &[f64], allowance: &[f64]) -> (f64, f64, f64) {
    let (mut low, mut high, mut sum, mut top) = (f64::INFINITY, f64::NEG_INFINITY, 0.0, 0.0f64);
    for ((v, m), a) in values.iter().zip(model).zip(allowance) {
        let r = v - m;
        low = -larger(-low, -r);
        high = larger(high, r);
        sum += r;
        top = larger(top, *a);
    }
    (sum / values.len().max(1) as f64, high - low, top)
}

/// Noise of a block's mean over noise of a point, from second differences of neighbouring clear blocks.
fn mean_noise(means: &[f64], clear: &[bool], sigma: f64) -> f64 {
    let mut bends: Vec<f64> = (1..means.len().saturating_sub(1))
        .filter(|&k| clear[k - 1] && clear[k] && clear[k + 1])
        .map(|k| {
            (means[k - 1] - 2.0 * means[k] + means[k + 1]).abs()
                / (6f64.sqrt() * sigma.max(f64::MIN_POSITIVE))
        })
        .collect();
    if bends.len() < 16 { 0.5 } else { (1.482_6 * median(&mut bends)).clamp(1e-3, 1.0) }
}
