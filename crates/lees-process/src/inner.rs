//! Inner products, where fits spend their time.

/// Running sums an inner product is made of: they do not wait for one another, and compilers turn them into vector code.
const SUMS: usize = 8;

/// The inner product of two columns, of the longer one the first part. The order of the sum is fixed, so that every machine
/// gives the same digits.
///
/// ```
/// assert_eq!(lees_process::dot(&[1.0, 2.0, 3.0], &[4.0, 5.0, 6.0]), 32.0);
/// ```
#[must_use]
pub fn dot(a: &[f64], b: &[f64]) -> f64 {
    let n = a.len().min(b.len());
    let mut sums = [0.0; SUMS];
    let ((whole, rest), (others, tail)) = (a[..n].as_chunks::<SUMS>(), b[..n].as_chunks::<SUMS>());
    for (x, y) in whole.iter().zip(others) {
        for lane in 0..SUMS {
            sums[lane] += x[lane] * y[lane];
        }
    }
    let (low, high) = sums.split_at(SUMS / 2);
    let total = low.iter().zip(high).map(|(x, y)| x + y).sum();
    rest.iter().zip(tail).fold(total, |total, (x, y)| total + x * y)
}
