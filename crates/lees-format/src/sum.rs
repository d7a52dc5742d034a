//! An exactly rounded sum.

/// The sum of all values, rounded once at the end; not a number when a value is not finite.
///
/// Method: Shewchuk, Discrete Comput. Geom. 1997, 18, 305: the running sum is kept as partial sums that do not
/// overlap.
///
/// ```
/// assert_eq!(lees_format::exact_sum(&[1e16, 1.0, -1e16]), 1.0);
/// ```
#[must_use]
pub fn exact_sum(values: &[f64]) -> f64 {
    let mut partials: Vec<f64> = Vec::new();
    for &value in values {
        if !value.is_finite() {
            return f64::NAN;
        }
        add(&mut partials, value);
    }
    round(&partials)
}

fn add(partials: &mut Vec<f64>, value: f64) {
    let mut x = value;
    let mut kept = 0;
    for at in 0..partials.len() {
        let mut y = partials[at];
        if x.abs() < y.abs() {
            std::mem::swap(&mut x, &mut y);
        }
        let high = x + y;
        let low = y - (high - x);
        if low != 0.0 {
            partials[kept] = low;
            kept += 1;
        }
        x = high;
    }
    partials.truncate(kept);
    partials.push(x);
}

/// Adds the partial sums from the largest down; a tie is broken by the sign of what follows.
fn round(partials: &[f64]) -> f64 {
    let mut rest = partials.iter().rev().copied();
    let mut high = rest.next().unwrap_or(0.0);
    let mut low = 0.0;
    for y in rest.by_ref() {
        let x = high;
        high = x + y;
        low = y - (high - x);
        if low != 0.0 {
            break;
        }
    }
    if let Some(next) = rest.next()
        && ((low < 0.0 && next < 0.0) || (low > 0.0 && next > 0.0))
    {
        let twice = low * 2.0;
        let moved = high + twice;
        if twice == moved - high {
            return moved;
        }
    }
    high
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_that_plain_addition_misses() {
        assert_eq!(exact_sum(&[0.1; 10]), 1.0);
        assert_eq!(exact_sum(&[1e100, 1.0, -1e100, 1e-30]), 1.0);
        assert_eq!(exact_sum(&[]), 0.0);
        assert!(exact_sum(&[1.0, f64::NAN]).is_nan());
        // Half-way case: 2^53 + 1 + 2^-60 must round up.
        assert_eq!(exact_sum(&[9_007_199_254_740_992.0, 1.0, 2_f64.powi(-60)]), 9_007_199_254_740_994.0);
    }
}
