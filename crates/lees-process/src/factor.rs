//! Normal equations solved by Cholesky factors, row by row: inner products of rows are vector code.

use nalgebra::{DMatrix, DVector};

use crate::dot;

/// The Cholesky factor of a symmetric positive definite matrix.
pub(crate) struct Factor {
    /// Rows of the lower triangle, each up to its diagonal.
    rows: Vec<Vec<f64>>,
    /// One over each diagonal element.
    per_diagonal: Vec<f64>,
}

impl Factor {
    /// Of a symmetric matrix, whose upper triangle is read; `None` when it is not positive definite.
    pub(crate) fn of(matrix: &DMatrix<f64>) -> Option<Self> {
        let n = matrix.nrows();
        let mut rows: Vec<Vec<f64>> = Vec::with_capacity(n);
        let mut per_diagonal: Vec<f64> = Vec::with_capacity(n);
        for (i, column) in matrix.as_slice().chunks_exact(n.max(1)).enumerate() {
            let mut row = column[..=i].to_vec();
            for (j, (other, per)) in rows.iter().zip(&per_diagonal).enumerate() {
                row[j] = (row[j] - dot(&row[..j], &other[..j])) * per;
            }
            let left = row[i] - dot(&row[..i], &row[..i]);
            if !(left > 0.0 && left.is_finite()) {
                return None;
            }
            row[i] = left.sqrt();
            per_diagonal.push(row[i].recip());
            rows.push(row);
        }
        Some(Self { rows, per_diagonal })
    }

    /// The solution for a right side.
    pub(crate) fn solve(&self, right: &DVector<f64>) -> DVector<f64> {
        let mut solution = right.clone();
        let x = solution.as_mut_slice();
        for (i, (row, per)) in self.rows.iter().zip(&self.per_diagonal).enumerate() {
            x[i] = (x[i] - dot(&row[..i], &x[..i])) * per;
        }
        for (i, (row, per)) in self.rows.iter().zip(&self.per_diagonal).enumerate().rev() {
            x[i] *= per;
            let last = x[i];
            x[..i].iter_mut().zip(row).for_each(|(x, l)| *x -= last * l);
        }
        solution
    }

    /// A diagonal element of the inverse.
    pub(crate) fn variance(&self, index: usize) -> f64 {
        let mut unit = DVector::zeros(self.rows.len());
        unit[index] = 1.0;
        self.solve(&unit)[index]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_solves_what_it_was_made_of_and_refuses_what_is_not_positive() {
        for n in [1, 2, 9, 30] {
            let a = DMatrix::from_fn(n + 3, n, |i, j| libm::sin((3 * i * i + 7 * j) as f64));
            let matrix = a.tr_mul(&a) + DMatrix::identity(n, n);
            let right = DVector::from_fn(n, |i, _| libm::cos(i as f64));
            let factor = Factor::of(&matrix).expect("positive");
            assert!((&matrix * factor.solve(&right) - &right).norm() < 1e-9);
            let inverse = matrix.clone().try_inverse().expect("regular");
            assert!((factor.variance(n - 1) - inverse[(n - 1, n - 1)]).abs() < 1e-9);
            assert!(Factor::of(&-matrix).is_none());
        }
        assert!(Factor::of(&DMatrix::from_element(2, 2, f64::NAN)).is_none());
    }
}
