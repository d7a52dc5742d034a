//! Small linear least squares with priors.

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

/// Places at which an overlap is made at once.
const AT_ONCE: usize = 8;

/// Inner products of a kernel with every stretch of the data that is as long; each is summed in the order of [`dot`].
pub(crate) fn correlate(data: &[f64], kernel: &[f64]) -> Vec<f64> {
    let count = (data.len() + 1).saturating_sub(kernel.len());
    let mut out = Vec::with_capacity(count);
    while out.len() + AT_ONCE <= count {
        let mut sums = [0.0; AT_ONCE];
        for (near, weight) in data[out.len()..].windows(AT_ONCE).zip(kernel) {
            for (sum, value) in sums.iter_mut().zip(near) {
                *sum += value * weight;
            }
        }
        out.extend(sums);
    }
    out.extend((out.len()..count).map(|start| dot(&data[start..start + kernel.len()], kernel)));
    out
}

/// Inner product.
pub(crate) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn overlaps_made_at_once_are_those_made_one_by_one() {
        let data: Vec<f64> = (0..61).map(|i| f64::from(i * i % 37) - 11.3).collect();
        for length in [1, 5, 8, 44, 61] {
            let kernel: Vec<f64> = (0..length).map(|i| 1.0 / f64::from(i + 3)).collect();
            let one_by_one: Vec<f64> = data.windows(kernel.len()).map(|near| dot(near, &kernel)).collect();
            assert_eq!(correlate(&data, &kernel), one_by_one);
        }
        assert!(correlate(&data[..3], &data).is_empty());
    }
}
