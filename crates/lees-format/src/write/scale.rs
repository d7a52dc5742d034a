//! Whole numbers and a factor for ordinates.

/// Ordinates as whole numbers times a factor.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Scaled {
    pub counts: Vec<i64>,
    pub factor: f64,
    /// Largest difference to the true value.
    pub rounding: f64,
}

/// Bits of the largest whole number: sums and differences of two stay exact in a double.
const BITS: i32 = 51;

/// Finds a factor that loses nothing, else the finest one.
///
/// In order: 1; the factors `tried` (of the file the data came from); the largest power of two that divides all
/// values; the power of two that gives the largest value 51 bits.
pub(crate) fn scale(values: &[f64], tried: &[f64]) -> Scaled {
    for &factor in [1.0].iter().chain(tried) {
        if let Some(counts) = exactly(values, factor) {
            return Scaled { counts, factor, rounding: 0.0 };
        }
    }
    let exponents = values.iter().filter(|v| **v != 0.0).map(|v| ends(*v));
    let (low, high) = exponents.fold((i32::MAX, i32::MIN), |(low, high), (l, h)| (low.min(l), high.max(h)));
    let lowest = low.max(high - BITS + 1);
    let factor = power_of_two(lowest);
    let counts: Vec<i64> = values.iter().map(|v| (v / factor).round() as i64).collect();
    let off = values.iter().zip(&counts).map(|(v, n)| (v - *n as f64 * factor).abs());
    let rounding = off.fold(0.0, f64::max);
    Scaled { counts, factor, rounding }
}

fn exactly(values: &[f64], factor: f64) -> Option<Vec<i64>> {
    if !(factor.is_finite() && factor != 0.0) {
        return None;
    }
    let most = power_of_two(BITS);
    let count = |value: &f64| {
        let n = (value / factor).round();
        (n.abs() < most && n * factor == *value).then_some(n as i64)
    };
    values.iter().map(count).collect()
}

/// Powers of two of the lowest and the highest bit of a finite value that is not zero.
fn ends(value: f64) -> (i32, i32) {
    let bits = value.abs().to_bits();
    let (biased, fraction) = ((bits >> 52) as i32, bits & ((1 << 52) - 1));
    let (mantissa, exponent) =
        if biased == 0 { (fraction, -1074) } else { (fraction | 1 << 52, biased - 1075) };
    let highest = 63 - mantissa.leading_zeros() as i32;
    (exponent + mantissa.trailing_zeros() as i32, exponent + highest)
}

fn power_of_two(exponent: i32) -> f64 {
    match exponent {
        -1022..=1023 => f64::from_bits(((exponent + 1023) as u64) << 52),
        -1074..-1022 => f64::from_bits(1 << (exponent + 1074)),
        _ => 1.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn factors_that_lose_nothing_are_found() {
        assert_eq!(scale(&[3.0, -7.0], &[]).factor, 1.0);
        let odd = [3.0 * 1.267_406, -5.0 * 1.267_406];
        assert_eq!(scale(&odd, &[1.267_406]).counts, [3, -5]);
        let halves = scale(&[0.75, -1.5, 0.0], &[]);
        assert_eq!((halves.factor, halves.rounding), (0.25, 0.0));
        assert_eq!(scale(&[5e-324], &[]).counts, [1]);
        assert_eq!(scale(&[], &[]).counts, [0_i64; 0]);
    }

    #[test]
    fn a_wide_range_is_rounded_to_51_bits_of_the_largest() {
        let scaled = scale(&[1.0, 1e-30], &[]);
        assert!(scaled.rounding > 0.0 && scaled.rounding < 1e-15);
    }
}
