//! Inner products and other sums, where fits spend their time.

/// Running sums an inner product is made of: they do not wait for one another, and compilers turn them into vector code.
const SUMS: usize = 8;

/// The inner product of two columns, of the longer one the first part. The order of the sum is fixed, so that every machine
/// gives the same digits.
///
/// ```
/// assert_eq!(lees_process::dot(&[1.0, 2.0, 3.0], &[4.0, 5.0, 6.0]), 32.0);
/// ```
#[must_use]
#[allow(clippy::needless_range_loop)]
pub fn dot(a: &[f64], b: &[f64]) -> f64 {
    let n = a.len().min(b.len());
    let mut sums = [0.0; SUMS];
    let ((whole, rest), (others, tail)) = (a[..n].as_chunks::<SUMS>(), b[..n].as_chunks::<SUMS>());
    let others = &others[..whole.len()];
    // by number, since a pair of iterators is not always compiled into vector code
    for k in 0..whole.len() {
        let (x, y) = (&whole[k], &others[k]);
        for lane in 0..SUMS {
            sums[lane] += x[lane] * y[lane];
        }
    }
    let mut total = 0.0;
    for lane in 0..SUMS / 2 {
        total += sums[lane] + sums[lane + SUMS / 2];
    }
    for k in 0..rest.len() {
        total += rest[k] * tail[k];
    }
    total
}

/// The sum of a column, in running sums as [`dot`].
pub(crate) fn sum(a: &[f64]) -> f64 {
    let mut sums = [0.0; SUMS];
    let (whole, rest) = a.as_chunks::<SUMS>();
    for x in whole {
        for lane in 0..SUMS {
            sums[lane] += x[lane];
        }
    }
    rest.iter().fold(sums.iter().sum(), |total: f64, x| total + x)
}

/// The larger of two numbers, neither of which is none: without the care that [`f64::max`] takes.
pub(crate) fn larger(a: f64, b: f64) -> f64 {
    if b > a { b } else { a }
}

/// Writes to `out` the sums of `kernel` times the values from each place on: `out[i] = sum_k kernel[k] values[i + k]`.
///
/// ```
/// let mut out = Vec::new();
/// lees_process::correlate(&[1.0, 2.0, 4.0, 8.0], &[1.0, -0.5, 0.25], &mut out);
/// assert_eq!(out, [1.0, 2.0]);
/// ```
pub fn correlate(values: &[f64], kernel: &[f64], out: &mut Vec<f64>) {
    out.clear();
    out.resize((values.len() + 1).saturating_sub(kernel.len()), 0.0);
    let (whole, rest) = out.as_chunks_mut::<SUMS>();
    let tail = values.get(SUMS * whole.len()..).unwrap_or(&[]);
    for (chunk, out) in whole.iter_mut().enumerate() {
        let mut sums = [0.0; SUMS];
        let ahead = &values[SUMS * chunk..];
        for (shift, weight) in kernel.iter().enumerate() {
            let Some(near) = ahead[shift..].first_chunk::<SUMS>() else { break };
            for lane in 0..SUMS {
                sums[lane] += weight * near[lane];
            }
        }
        *out = sums;
    }
    for (place, out) in rest.iter_mut().enumerate() {
        *out = tail[place..].iter().zip(kernel).fold(0.0, |sum, (value, weight)| sum + weight * value);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_correlation_is_its_sums_one_by_one() {
        let values: Vec<f64> = (0..45).map(|k| libm::sin(f64::from(k) * 0.7)).collect();
        for length in [0, 1, 2, 7, 8, 9, 30, 38, 45, 46] {
            let kernel: Vec<f64> = (0..length).map(|k| libm::cos(f64::from(k) * 1.3)).collect();
            let mut out = vec![1.0; 3];
            correlate(&values, &kernel, &mut out);
            assert_eq!(out.len(), (values.len() + 1).saturating_sub(kernel.len()));
            for (place, out) in out.iter().enumerate() {
                let near = kernel.iter().zip(&values[place..]);
                assert_eq!(*out, near.fold(0.0, |sum, (k, v)| sum + k * v), "{length} {place}");
            }
        }
    }
}
