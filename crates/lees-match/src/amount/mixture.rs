//! Shares of a mixture and their intervals, rivals counted.

use lees_core::check::Estimate;
use nalgebra::DMatrix;

use super::{Amount, Instead};
use crate::interval::{Z95, nonnegative_with};

/// Shares by a weight per mole: 1 for mol %, the molar mass for wt %.
pub(super) struct Mixture<'a> {
    pub(super) base: f64,
    pub(super) weights: &'a [Option<f64>],
    pub(super) amounts: &'a [Amount],
    pub(super) covariance: &'a DMatrix<f64>,
    /// What a rival would add to the sum.
    pub(super) instead: fn(Instead) -> f64,
}

impl Mixture<'_> {
    /// Weight of amount `at` if it stands in the sum, else 0.
    fn counted_weight(&self, at: usize) -> f64 {
        if self.amounts[at].counted { self.weights[at].unwrap_or(0.0) } else { 0.0 }
    }

    /// Everything counted, and amount `extra` if it is not.
    fn sum(&self, extra: Option<usize>) -> f64 {
        let of = |at: usize, weight: f64| self.amounts[at].ratio.max(0.0) * weight;
        let counted: f64 = (0..self.amounts.len()).map(|at| of(at, self.counted_weight(at))).sum();
        let added = extra.filter(|at| !self.amounts[*at].counted);
        self.base + counted + added.map_or(0.0, |at| of(at, self.weights[at].unwrap_or(0.0)))
    }

    pub(super) fn share(&self, at: usize) -> Option<Estimate> {
        let weight = self.weights[at]?;
        let sum = self.sum(Some(at));
        let part = self.amounts[at].ratio * weight;
        let slope: Vec<f64> = (0..self.amounts.len())
            .map(|k| {
                let in_sum = if k == at { weight } else { self.counted_weight(k) };
                let own = if k == at { weight / sum } else { 0.0 };
                100.0 * (own - part.max(0.0) * in_sum / (sum * sum))
            })
            .collect();
        let own = nonnegative_with(100.0 * part / sum, self.u(&slope), self.amounts[at].factor);
        let (down, up) = self.by_rivals(Some(at));
        // a heavier rival of another compound makes this one's share smaller
        let with = |swing: f64| 100.0 * part.max(0.0) / (sum + swing).max(self.base);
        Some(capped(widened(own, with(0.0) - with(up), with(-down) - with(0.0))))
    }

    pub(super) fn total(&self) -> Estimate {
        let sum = self.sum(None);
        let part = sum - self.base;
        let slope: Vec<f64> = (0..self.amounts.len())
            .map(|k| 100.0 * self.counted_weight(k) * self.base / (sum * sum))
            .collect();
        let own = nonnegative_with(100.0 * part / sum, self.u(&slope), self.total_factor(&slope));
        let (down, up) = self.by_rivals(None);
        let with = |swing: f64| 100.0 * (1.0 - self.base / (sum + swing).max(self.base));
        capped(widened(own, own.value - with(-down), with(up) - own.value))
    }

    /// How much smaller and larger the sum may be because amounts, but for `own`, may be those of their rivals.
    fn by_rivals(&self, own: Option<usize>) -> (f64, f64) {
        let swing = |at: usize| -> Option<f64> {
            let amount = self.amounts[at];
            let now = amount.ratio.max(0.0) * self.counted_weight(at);
            amount.instead.filter(|_| amount.counted && own != Some(at)).map(|r| (self.instead)(r) - now)
        };
        let swings = || (0..self.amounts.len()).filter_map(swing);
        let side = |sign: f64| swings().map(|s| (sign * s).max(0.0).powi(2)).sum::<f64>().sqrt();
        (side(-1.0), side(1.0))
    }

    /// The factor of the amount that moves the total most.
    fn total_factor(&self, slope: &[f64]) -> f64 {
        let moved = |at: usize| slope[at].powi(2) * self.covariance[(at, at)];
        (0..slope.len())
            .max_by(|a, b| moved(*a).total_cmp(&moved(*b)))
            .map_or(Z95, |at| self.amounts[at].factor)
    }

    fn u(&self, slope: &[f64]) -> f64 {
        let mut variance = 0.0;
        for (row, a) in slope.iter().enumerate() {
            for (column, b) in slope.iter().enumerate() {
                variance += a * b * self.covariance[(row, column)];
            }
        }
        variance.max(0.0).sqrt()
    }
}

/// An estimate that, if rivals are there instead, is smaller or larger by so much: its 95 % interval holds there too.
fn widened(estimate: Estimate, down: f64, up: f64) -> Estimate {
    let low = estimate.low - down;
    let high = estimate.high + up;
    let u = libm::hypot(estimate.u, down.max(up) / Z95);
    Estimate { value: estimate.value, low: low.max(0.0), high, u }
}

fn capped(estimate: Estimate) -> Estimate {
    Estimate { high: estimate.high.min(100.0), ..estimate }
}
