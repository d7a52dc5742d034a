//! Evenly turning phases, cheaper than a sine and cosine a point.

use lees_core::complex::polar;
use num_complex::Complex64;

/// Points between fresh evaluations; keeps the rounding error of repeated products under 1e-14.
const FRESH: usize = 64;

/// Multiplies point k by `exp(i (first + k step))`, angles in radians.
pub(crate) fn turn(points: &mut [Complex64], first: f64, step: f64) {
    let table: Vec<Complex64> = (0..FRESH).map(|k| polar(1.0, step * k as f64)).collect();
    for (block, chunk) in points.chunks_mut(FRESH).enumerate() {
        let start = polar(1.0, first + step * (block * FRESH) as f64);
        chunk.iter_mut().zip(&table).for_each(|(z, power)| *z *= start * power);
    }
}

#[cfg(test)]
mod tests {
    use lees_core::complex::modulus;

    use super::*;

    #[test]
    fn turns_as_far_as_plain_sines() {
        let mut points = vec![Complex64::new(1.0, 0.0); 1000];
        turn(&mut points, 0.3, -0.017);
        for (k, z) in points.iter().enumerate() {
            assert!(modulus(z - polar(1.0, 0.3 - 0.017 * k as f64)) < 1e-13);
        }
    }
}
