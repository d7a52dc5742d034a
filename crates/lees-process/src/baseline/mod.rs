//! Baseline: mask, block means, smoother on a coarse grid.

pub mod grid;
pub mod whittaker;

use grid::Grid;
use serde::{Deserialize, Serialize};

/// Settings of the baseline.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct BaselineSettings {
    /// Whether a baseline is removed at all.
    pub enabled: bool,
    /// Waves of this period are halved by the smoother, hertz.
    pub period_hz: f64,
    /// Width of the blocks averaged to one grid value, hertz.
    pub block_hz: f64,
    /// Rounds of baseline and line fits.
    pub rounds: f64,
}

impl Default for BaselineSettings {
    fn default() -> Self {
        Self { enabled: true, period_hz: 450.0, block_hz: 4.0, rounds: 3.0 }
    }
}

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
    /// The baseline at every point, linearly interpolated between block centres.
    ///
    /// ```
    /// use lees_process::baseline::Baseline;
    /// let ramp = Baseline { grid: vec![0.0, 4.0, 8.0], block: 4, free: vec![true; 3], points: 12 };
    /// let values = ramp.values();
    /// assert_eq!((values[2], values[6]), (0.5, 4.5), "block centres lie at 1.5, 5.5 and 9.5");
    /// ```
    #[must_use]
    pub fn values(&self) -> Vec<f64> {
        let mut out = vec![0.0; self.points];
        self.write(&mut out);
        out
    }

    /// Writes the baseline at every point to `out`.
    pub(crate) fn write(&self, out: &mut [f64]) {
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
            let mut from_origin = start as f64 - origin;
            for value in &mut out[start.min(end)..end] {
                *value = self.grid[left] + slope * from_origin;
                from_origin += 1.0;
            }
        }
    }

    /// Marks the points of free blocks.
    #[must_use]
    pub(crate) fn free_points(&self) -> Vec<bool> {
        let mut marks = Vec::with_capacity(self.points);
        for free in &self.free {
            marks.resize((marks.len() + self.block).min(self.points), *free);
        }
        marks.resize(self.points, self.free.last().copied().unwrap_or(false));
        marks
    }
}

/// Fits a baseline to the block means of a grid less `broad` (broad lines at the block centres; empty: none).
///
/// Blocks far from the running curve do not count. Recognising signal-free points follows Golotvin & Williams,
/// J. Magn. Reson. 2000, 146, 122; the smoother is in [`whittaker`].
///
/// ```
/// use lees_process::baseline::{BaselineSettings, fit, grid::Grid};
/// // A parabola of 50 and one tall line under it, 0.25 Hz a point, noise of 1.
/// let curve = |i: usize| 50.0 * (i as f64 / 8192.0 - 0.5).powi(2);
/// let values: Vec<f64> = (0..8192).map(|i| curve(i) + 1e4 / (1.0 + (i as f64 - 3000.0).powi(2))).collect();
/// let zero = vec![0.0; 8192];
/// let settings = BaselineSettings::default();
/// let grid = Grid::new(&values, &zero, &zero, &|_| 1.0, 0.25, &settings);
/// let found = fit(&grid, &[], 8192, &settings).values();
/// assert!((found[3000] - curve(3000)).abs() < 1.0, "under the line: {}", found[3000]);
/// ```
#[must_use]
pub fn fit(grid: &Grid, broad: &[f64], points: usize, settings: &BaselineSettings) -> Baseline {
    let blocks = grid.means.len();
    let free: Vec<bool> = grid.weights.iter().map(|w| *w > 0.3).collect();
    if !settings.enabled || blocks < 8 {
        return Baseline { grid: vec![0.0; blocks], block: grid.block, free, points };
    }
    let means: Vec<f64> = (0..blocks).map(|k| grid.means[k] - broad.get(k).copied().unwrap_or(0.0)).collect();
    let mut work = grid.clone();
    let mut curve = work.smooth(&means);
    for _ in 0..PASSES {
        let kept = kept(grid, &means, &curve);
        if kept == work.weights {
            break;
        }
        work.weights = kept;
        work.factorise(settings.period_hz);
        curve = work.smooth(&means);
    }
    let free = work.weights.iter().map(|w| *w > 0.3).collect();
    Baseline { grid: curve, block: grid.block, free, points }
}

/// Weights with far blocks struck out; when almost all would go, the nearer half stays.
fn kept(grid: &Grid, means: &[f64], curve: &[f64]) -> Vec<f64> {
    let distance = |k: usize| (means[k] - curve[k]).abs() * grid.weights[k].sqrt() / grid.sigma;
    let open: Vec<usize> = (0..means.len()).filter(|k| grid.weights[*k] > 0.0).collect();
    let near = open.iter().filter(|k| distance(**k) < REJECT).count();
    let limit = if near * 3 < open.len() {
        let mut distances: Vec<f64> = open.iter().map(|k| distance(*k)).collect();
        crate::noise::median(&mut distances).max(REJECT)
    } else {
        REJECT
    };
    (0..means.len()).map(|k| if distance(k) <= limit { grid.weights[k] } else { 0.0 }).collect()
}
