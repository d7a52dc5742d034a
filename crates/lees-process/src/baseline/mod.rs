//! Baseline: mask, block means, smoother on a coarse grid.

pub mod whittaker;

use serde::{Deserialize, Serialize};
use whittaker::{Smoother, lambda_for_period};

/// Settings of the baseline.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct BaselineSettings {
    /// Whether a baseline is removed at all.
    pub enabled: bool,
    /// Waves of this period are halved by the smoother, hertz.
    pub period_hz: f64,
    /// Points averaged to one grid value.
    pub block_points: f64,
    /// Rounds of baseline and line fits.
    pub rounds: f64,
}

impl Default for BaselineSettings {
    fn default() -> Self {
        Self { enabled: true, period_hz: 450.0, block_points: 32.0, rounds: 3.0 }
    }
}

/// A block that scatters by more than this many sigma from lowest to highest point holds signal. 32 independent
/// normal values span 4.1 sigma on average and 6.5 once in 10,000 blocks.
const SPAN_SIGMA: f64 = 6.5;
/// A block mean further than this from the running baseline, in standard errors, is left out.
const REJECT: f64 = 3.5;
/// Passes of rejecting and smoothing.
const PASSES: usize = 6;

/// A baseline on a coarse grid.
#[derive(Debug, Clone, PartialEq)]
pub struct Baseline {
    /// Values at the block centres.
    pub grid: Vec<f64>,
    /// Points a block.
    pub block: usize,
    /// Which blocks were free of signal.
    pub free: Vec<bool>,
    /// Points of the spectrum.
    pub points: usize,
}

impl Baseline {
    /// A baseline of zero.
    #[must_use]
    pub fn zero(points: usize) -> Self {
        let block = 32.min(points.max(1));
        let blocks = points.div_ceil(block);
        Self { grid: vec![0.0; blocks], block, free: vec![true; blocks], points }
    }

    /// The baseline at every point, linearly interpolated between block centres.
    #[must_use]
    pub fn values(&self) -> Vec<f64> {
        let mut out = vec![0.0; self.points];
        self.write(&mut out);
        out
    }

    /// Writes the baseline at every point to `out`.
    pub fn write(&self, out: &mut [f64]) {
        let n = self.grid.len();
        if n < 2 {
            out.fill(self.grid.first().copied().unwrap_or(0.0));
            return;
        }
        let half = (self.block as f64 - 1.0) / 2.0;
        for k in 0..=n {
            let left = k.saturating_sub(1).min(n - 2);
            let slope = (self.grid[left + 1] - self.grid[left]) / self.block as f64;
            let origin = left as f64 * self.block as f64 + half;
            let start = (k * self.block).saturating_sub(self.block / 2).min(out.len());
            let end = (k * self.block + self.block.div_ceil(2)).min(out.len());
            for (i, value) in out.iter_mut().enumerate().take(end).skip(start) {
                *value = self.grid[left] + slope * (i as f64 - origin);
            }
        }
    }

    /// Marks the points of free blocks.
    #[must_use]
    pub fn free_points(&self) -> Vec<bool> {
        (0..self.points).map(|i| self.free[(i / self.block).min(self.free.len() - 1)]).collect()
    }

    /// Largest magnitude over the free blocks.
    #[must_use]
    pub fn largest(&self) -> f64 {
        self.grid.iter().fold(0.0, |most, v| v.abs().max(most))
    }
}

/// Fits a baseline to `values`, from which known lines are already taken away.
///
/// `sigma` is the noise of a point; the noise of a block's mean is measured. `signal` marks blocks known to hold signal (empty: none). Blocks with a wide spread or far from the
/// running curve do not count. Recognising signal-free points follows Golotvin & Williams, J. Magn. Reson. 2000,
/// 146, 122; the smoother is in [`whittaker`].
#[must_use]
pub fn fit(
    values: &[f64],
    sigma: &dyn Fn(usize) -> f64,
    hertz_per_point: f64,
    signal: &[bool],
    settings: &BaselineSettings,
) -> Baseline {
    let block = (settings.block_points.max(4.0) as usize).min((values.len() / 16).max(1));
    let blocks = values.len().div_ceil(block);
    if !settings.enabled || blocks < 8 {
        return Baseline { grid: vec![0.0; blocks], block, free: vec![true; blocks], points: values.len() };
    }
    let lambda = lambda_for_period((settings.period_hz / (hertz_per_point * block as f64)).max(6.0));
    let (means, spans) = block_statistics(values, block);
    let sigmas: Vec<f64> = (0..blocks).map(|k| sigma(k * block + block / 2)).collect();
    let mut free: Vec<bool> = (0..blocks)
        .map(|k| spans[k] < SPAN_SIGMA * sigmas[k] && !signal.get(k).copied().unwrap_or(false))
        .collect();
    let open = free.clone();
    let ratio = mean_noise(&means, &sigmas, &open);
    let error: Vec<f64> = sigmas.iter().map(|s| s * ratio).collect();
    let mut grid = solve(&means, &free, lambda);
    for _ in 0..PASSES {
        let next: Vec<bool> =
            (0..blocks).map(|k| open[k] && (means[k] - grid[k]).abs() < REJECT * error[k]).collect();
        let next = if next.iter().filter(|f| **f).count() * 8 < blocks { loosened(&means, &grid, &open) } else { next };
        let settled = next == free;
        free = next;
        grid = solve(&means, &free, lambda);
        if settled {
            break;
        }
    }
    Baseline { grid, block, free, points: values.len() }
}

/// Noise of a block's mean over noise of a point, from second differences of neighbouring open blocks.
fn mean_noise(means: &[f64], sigmas: &[f64], open: &[bool]) -> f64 {
    let mut bends: Vec<f64> = (1..means.len().saturating_sub(1))
        .filter(|&k| open[k - 1] && open[k] && open[k + 1])
        .map(|k| (means[k - 1] - 2.0 * means[k] + means[k + 1]).abs() / (6f64.sqrt() * sigmas[k].max(f64::MIN_POSITIVE)))
        .collect();
    if bends.len() < 16 { 0.5 } else { (1.482_6 * crate::noise::median(&mut bends)).clamp(1e-3, 1.0) }
}

/// The half of the open blocks nearest to the curve, for a curve that is still far off.
fn loosened(means: &[f64], grid: &[f64], open: &[bool]) -> Vec<bool> {
    let mut distances: Vec<f64> =
        (0..means.len()).filter(|k| open[*k]).map(|k| (means[k] - grid[k]).abs()).collect();
    let middle = crate::noise::median(&mut distances);
    (0..means.len()).map(|k| open[k] && (means[k] - grid[k]).abs() <= middle).collect()
}

fn solve(means: &[f64], free: &[bool], lambda: f64) -> Vec<f64> {
    let weights: Vec<f64> = free.iter().map(|f| if *f { 1.0 } else { 0.0 }).collect();
    Smoother::new(&weights, lambda).map_or_else(|| vec![0.0; means.len()], |s| s.solve(means))
}

/// Mean and span (highest minus lowest) of each block.
fn block_statistics(values: &[f64], block: usize) -> (Vec<f64>, Vec<f64>) {
    values
        .chunks(block)
        .map(|chunk| {
            let (mut low, mut high, mut sum) = (f64::INFINITY, f64::NEG_INFINITY, 0.0);
            for v in chunk {
                low = low.min(*v);
                high = high.max(*v);
                sum += v;
            }
            (sum / chunk.len() as f64, high - low)
        })
        .unzip()
}
