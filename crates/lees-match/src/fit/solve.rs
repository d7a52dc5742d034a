//! Small linear least squares with priors.

use lees_process::dot;
use nalgebra::{DMatrix, DVector};

/// Normal equations that grow column by column of a design, with an optional Gaussian prior per unknown.
pub(crate) struct Normal {
    /// A' W A.
    pub gram: DMatrix<f64>,
    /// A' W y.
    pub moment: DVector<f64>,
}

/// Solution and its covariance for white noise of unit weight.
pub(crate) struct Solution {
    /// The unknowns.
    pub value: DVector<f64>,
    /// Their covariance.
    pub covariance: DMatrix<f64>,
}

impl Normal {
    /// From columns, data and the weight (inverse variance) of each point.
    pub(crate) fn new(columns: &[Vec<f64>], data: &[f64], weights: &[f64]) -> Self {
        let n = columns.len();
        let mut gram = DMatrix::zeros(n, n);
        let mut moment = DVector::zeros(n);
        for i in 0..n {
            let weighed: Vec<f64> = columns[i].iter().zip(weights).map(|(c, w)| c * w).collect();
            moment[i] = dot(&weighed, data);
            for j in i..n {
                let value = dot(&weighed, &columns[j]);
                gram[(i, j)] = value;
                gram[(j, i)] = value;
            }
        }
        Self { gram, moment }
    }

    /// Adds the prior `unknown = mean +- sd`.
    pub(crate) fn prior(&mut self, unknown: usize, mean: f64, sd: f64) {
        let weight = 1.0 / (sd * sd);
        self.gram[(unknown, unknown)] += weight;
        self.moment[unknown] += weight * mean;
    }

    /// Solves; a tiny ridge, relative to each unknown's own scale, keeps degenerate pairs finite.
    pub(crate) fn solve(&self) -> Option<Solution> {
        const RIDGE: f64 = 1e-10;
        let n = self.moment.len();
        let scale: Vec<f64> = (0..n).map(|i| self.gram[(i, i)].max(f64::MIN_POSITIVE).sqrt()).collect();
        let scaled = DMatrix::from_fn(n, n, |i, j| {
            self.gram[(i, j)] / (scale[i] * scale[j]) + if i == j { RIDGE } else { 0.0 }
        });
        let inverse = scaled.cholesky()?.inverse();
        let covariance = DMatrix::from_fn(n, n, |i, j| inverse[(i, j)] / (scale[i] * scale[j]));
        let value = &covariance * &self.moment;
        value.iter().all(|v| v.is_finite()).then_some(Solution { value, covariance })
    }
}
