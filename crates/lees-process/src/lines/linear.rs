//! Linear parts of a cluster's fit: derivatives drawn where they matter, and normal equations of areas that are not negative.

use std::ops::Range;

use nalgebra::{DMatrix, DVector};

use crate::dot;
use crate::factor::Factor;

/// Derivatives of a line where they matter.
pub(super) struct Slopes {
    /// First point of the window that they are drawn at.
    pub(super) first: usize,
    /// By position, per unit area.
    pub(super) by_position: Vec<f64>,
    /// By logarithmic width, per unit area.
    pub(super) by_width: Vec<f64>,
}

impl Slopes {
    fn range(&self) -> Range<usize> {
        self.first..self.first + self.by_position.len()
    }

    /// The inner product of one of the derivatives with a column of the whole window.
    pub(super) fn times(&self, derivative: &[f64], column: &[f64]) -> f64 {
        dot(derivative, &column[self.range()])
    }

    /// The inner product of one of the derivatives with one of another line.
    pub(super) fn times_slope(&self, derivative: &[f64], other: &Self, others: &[f64]) -> f64 {
        let first = self.first.max(other.first);
        match (derivative.get(first - self.first..), others.get(first - other.first..)) {
            (Some(own), Some(theirs)) => dot(own, theirs),
            _ => 0.0,
        }
    }
}

/// Solves the normal equations with the first `bound` unknowns not below zero: the most negative is fixed at zero
/// until none is left.
pub(super) fn nonnegative(gram: DMatrix<f64>, right: DVector<f64>, bound: usize) -> Option<DVector<f64>> {
    let n = right.len();
    let mut fixed = vec![false; n];
    loop {
        let (mut matrix, mut vector) = (gram.clone(), right.clone());
        for k in (0..n).filter(|k| fixed[*k]) {
            matrix.row_mut(k).fill(0.0);
            matrix.column_mut(k).fill(0.0);
            matrix[(k, k)] = 1.0;
            vector[k] = 0.0;
        }
        for k in 0..n {
            matrix[(k, k)] *= 1.0 + 1e-12;
        }
        let solution = Factor::of(&matrix)?.solve(&vector);
        let lowest = (0..bound).filter(|k| !fixed[*k]).min_by(|a, b| solution[*a].total_cmp(&solution[*b]));
        match lowest {
            Some(k) if solution[k] < 0.0 => fixed[k] = true,
            _ => return Some(solution),
        }
    }
}
