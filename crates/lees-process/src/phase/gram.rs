//! Inner products of all columns of a tall matrix, where fits of phases spend their time.

use crate::dot;
use nalgebra::DMatrix;

/// `A' A`, each product of two columns made once.
pub(super) fn gram(columns: &DMatrix<f64>) -> DMatrix<f64> {
    let (rows, n) = columns.shape();
    let all = columns.as_slice();
    let column = |k: usize| &all[k * rows..(k + 1) * rows];
    let mut out = DMatrix::zeros(n, n);
    for i in 0..n {
        for j in 0..=i {
            out[(i, j)] = dot(column(i), column(j));
            out[(j, i)] = out[(i, j)];
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_the_product_of_the_transpose_with_the_matrix() {
        for (rows, columns) in [(1, 1), (7, 3), (8, 4), (83, 5), (300, 16)] {
            let a = DMatrix::from_fn(rows, columns, |i, j| libm::sin((3 * i + 7 * j) as f64));
            assert_eq!(gram(&a), a.tr_mul(&a));
        }
    }
}
