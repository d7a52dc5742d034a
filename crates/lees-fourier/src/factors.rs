//! Roots of unity.

use std::f64::consts::{FRAC_1_SQRT_2, TAU};

use num_complex::Complex64;

/// `exp(-i 2 pi k / n)` for all `k` from 0 to `n - 1`.
///
/// Where `n` is a multiple of eight, one eighth of the circle gives the others, exactly mirrored.
pub(crate) fn roots(n: usize) -> Vec<Complex64> {
    let at = |k: usize| {
        let (sin, cos) = libm::sincos(TAU * (k as f64 / n as f64));
        Complex64::new(cos, -sin)
    };
    if !n.is_multiple_of(8) {
        return (0..n).map(at).collect();
    }
    let eighth = n / 8;
    let mut roots = vec![Complex64::ZERO; n];
    for k in 0..eighth {
        let z = at(k);
        roots[k] = z;
        // mirrored at 45 degrees: the sine of one is the cosine of the other
        roots[2 * eighth - k] = Complex64::new(-z.im, -z.re);
    }
    roots[eighth] = Complex64::new(FRAC_1_SQRT_2, -FRAC_1_SQRT_2);
    for k in 0..2 * eighth {
        let z = roots[k];
        let quarter = Complex64::new(z.im, -z.re);
        roots[k + 2 * eighth] = quarter;
        roots[k + 4 * eighth] = -z;
        roots[k + 6 * eighth] = -quarter;
    }
    roots
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn roots_are_those_of_the_definition() {
        for n in [1, 6, 8, 24, 1000, 1024] {
            let roots = roots(n);
            for (k, z) in roots.iter().enumerate() {
                let (sin, cos) = libm::sincos(TAU * k as f64 / n as f64);
                let off = z - Complex64::new(cos, -sin);
                assert!(off.norm_sqr() < 4e-30, "{k} of {n}: {z}");
            }
        }
    }

    #[test]
    fn the_four_quarters_mirror_each_other_exactly() {
        let roots = roots(64);
        for k in 0..16 {
            assert_eq!(roots[k], -roots[k + 32]);
            assert_eq!(roots[k].re, roots[(64 - k) % 64].re);
        }
        assert_eq!(roots[16], Complex64::new(0.0, -1.0));
    }
}
