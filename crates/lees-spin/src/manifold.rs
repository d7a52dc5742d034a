//! Equivalent nuclei as composite particles: total spins, Mz values and how often each occurs.

use crate::PartnerSpin;

/// A total spin of a group of equivalent spins 1/2.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Manifold {
    /// Twice the total spin.
    pub(crate) twice_spin: u32,
    /// How many times it occurs among the 2^n states' irreducible parts.
    pub(crate) weight: f64,
}

/// The total spins of `count` equivalent spins 1/2, with C(n, k) - C(n, k - 1) copies of spin n/2 - k.
pub(crate) fn manifolds(count: u32) -> Vec<Manifold> {
    let before = |k: u32| if k == 0 { 0.0 } else { binomial(count, k - 1) };
    (0..=count / 2)
        .map(|k| Manifold { twice_spin: count - 2 * k, weight: binomial(count, k) - before(k) })
        .collect()
}

/// The binomial coefficient as a float.
pub(crate) fn binomial(n: u32, k: u32) -> f64 {
    (0..k.min(n - k)).fold(1.0, |value, i| value * f64::from(n - i) / f64::from(i + 1)).round()
}

/// Probability of each total Mz (in units of hbar) of `count` equivalent nuclei, highest first.
pub(crate) fn projections(spin: PartnerSpin, count: u32) -> Vec<(f64, f64)> {
    let single: &[f64] = match spin {
        PartnerSpin::Half => &[0.5, 0.5],
        PartnerSpin::One => &[1.0 / 3.0, 1.0 / 3.0, 1.0 / 3.0],
    };
    let mut row = vec![1.0];
    for _ in 0..count {
        row = convolve(&row, single);
    }
    let top = (row.len() - 1) as f64 / 2.0;
    row.into_iter().enumerate().map(|(k, weight)| (top - k as f64, weight)).collect()
}

fn convolve(a: &[f64], b: &[f64]) -> Vec<f64> {
    let mut out = vec![0.0; a.len() + b.len() - 1];
    for (i, x) in a.iter().enumerate() {
        for (j, y) in b.iter().enumerate() {
            out[i + j] += x * y;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn composite_particles_count_all_states() {
        for count in 0..12 {
            let states: f64 = manifolds(count).iter().map(|m| m.weight * f64::from(m.twice_spin + 1)).sum();
            assert_eq!(states, 2f64.powi(count as i32));
        }
    }

    #[test]
    fn spin_one_patterns() {
        // 2nI + 1 lines: 1:1:1 for one deuterium, 1:2:3:2:1 for two, 1:3:6:7:6:3:1 for three.
        for (count, pattern) in [
            (1, vec![1.0, 1.0, 1.0]),
            (2, vec![1.0, 2.0, 3.0, 2.0, 1.0]),
            (3, vec![1.0, 3.0, 6.0, 7.0, 6.0, 3.0, 1.0]),
        ] {
            let total: f64 = pattern.iter().sum();
            let got: Vec<f64> =
                projections(PartnerSpin::One, count).iter().map(|p| (p.1 * total).round()).collect();
            assert_eq!(got, pattern);
        }
    }
}
