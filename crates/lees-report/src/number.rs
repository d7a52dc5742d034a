//! Numbers as text: never more digits than the uncertainty allows.

use lees_core::check::Estimate;

/// Digits of a standard uncertainty that are written (JCGM 100:2008, 7.2.6: at most two).
const UNCERTAINTY_DIGITS: i32 = 2;
/// Significant digits of a number whose uncertainty is not stated.
const BARE_DIGITS: i32 = 3;
/// More significant digits than this no balance gives.
const WEIGHED_DIGITS: i32 = 7;
/// More decimals than this are never written; no spectrum carries them.
const MOST_DECIMALS: i32 = 6;

/// Decimals (negative: places before the point) that keep two digits of the standard uncertainty `u`.
pub(crate) fn decimals_for(u: f64) -> Option<i32> {
    (u.is_finite() && u > 0.0)
        .then(|| (UNCERTAINTY_DIGITS - 1 - magnitude(u, UNCERTAINTY_DIGITS)).min(MOST_DECIMALS))
}

/// The power of ten of the first digit, after rounding to `digits`; 0 of zero.
fn magnitude(x: f64, digits: i32) -> i32 {
    if x == 0.0 {
        return 0;
    }
    let first = libm::log10(x.abs()).floor() as i32;
    let scale = 10f64.powi(digits - 1 - first);
    if (x.abs() * scale).round() >= 10f64.powi(digits) { first + 1 } else { first }
}

/// `x` rounded to `decimals`, which may be negative, without a minus sign on zero.
pub(crate) fn fixed(x: f64, decimals: i32) -> String {
    if !x.is_finite() {
        return "n/a".to_owned();
    }
    let scale = 10f64.powi(-decimals.min(0));
    let rounded = if decimals < 0 { (x / scale).round() * scale } else { x };
    let text = format!("{rounded:.*}", decimals.max(0) as usize);
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| c == '0' || c == '.') => rest.to_owned(),
        _ => text,
    }
}

/// A number whose uncertainty is not stated, with three significant digits.
pub(crate) fn bare(x: f64) -> String {
    significant(x, BARE_DIGITS)
}

/// A number with `digits` significant digits, in plain notation.
pub(crate) fn significant(x: f64, digits: i32) -> String {
    if x == 0.0 || !x.is_finite() {
        return fixed(x, 0);
    }
    fixed(x, (digits - 1 - magnitude(x, digits)).min(MOST_DECIMALS))
}

/// The value, with the digits its uncertainty allows.
pub(crate) fn value(estimate: &Estimate) -> String {
    decimals_for(estimate.u).map_or_else(|| bare(estimate.value), |d| fixed(estimate.value, d))
}

/// Decimals of a number of protons: what its uncertainty allows, but no more than two, or than make three digits of a small
/// one; what counts protons is not known that well, whatever the fit says.
fn proton_decimals(estimate: &Estimate) -> i32 {
    let three_digits = BARE_DIGITS - 1 - magnitude(estimate.value, BARE_DIGITS);
    let three_digits = three_digits.min(MOST_DECIMALS);
    decimals_for(estimate.u).map_or(three_digits, |d| d.min(three_digits.max(2)))
}

/// How many protons.
pub(crate) fn protons(estimate: &Estimate) -> String {
    fixed(estimate.value, proton_decimals(estimate))
}

/// How many protons, with the interval.
pub(crate) fn protons_interval(estimate: &Estimate) -> String {
    with_ends(estimate, proton_decimals(estimate))
}

fn with_ends(estimate: &Estimate, decimals: i32) -> String {
    let [value, low, high] = [estimate.value, estimate.low, estimate.high].map(|x| fixed(x, decimals));
    format!("{value} ({low} to {high})")
}

/// The value for a figure: at most two decimals.
pub(crate) fn short(estimate: &Estimate) -> String {
    decimals_for(estimate.u).map_or_else(|| bare(estimate.value), |d| fixed(estimate.value, d.min(2)))
}

/// The ends of the interval, with the digits of the uncertainty.
pub(crate) fn ends(estimate: &Estimate) -> (String, String) {
    let text = |x| decimals_for(estimate.u).map_or_else(|| bare(x), |d| fixed(x, d));
    (text(estimate.low), text(estimate.high))
}

/// `0.62 (0.55 to 0.69)`.
pub(crate) fn interval(estimate: &Estimate) -> String {
    let (low, high) = ends(estimate);
    format!("{} ({low} to {high})", value(estimate))
}

/// The interval of a mass that rests on a weighed one: no more decimals than that was given with, nor than make three digits
/// of it, whichever is more, since the weighing is not part of it; none where its ends are then the same.
pub(crate) fn of_mass(mass: &Estimate, weighed: f64) -> String {
    let given = self::weighed(weighed).split_once('.').map_or(0, |(_, decimals)| decimals.len() as i32);
    let most = given.max(BARE_DIGITS - 1 - magnitude(weighed, BARE_DIGITS));
    let decimals = decimals_for(mass.u).map_or(most, |d| d.min(most));
    let [low, high] = [mass.low, mass.high].map(|x| fixed(x, decimals));
    if low == high { fixed(mass.value, decimals) } else { with_ends(mass, decimals) }
}

/// A mass as it was given.
pub(crate) fn weighed(grams: f64) -> String {
    unpadded(&significant(grams, WEIGHED_DIGITS))
}

/// The interval of a yield in per cent: no more than one decimal, since the weighing is not part of it.
pub(crate) fn of_yield(percent: &Estimate) -> String {
    with_ends(percent, decimals_for(percent.u).map_or(1, |d| d.min(1)))
}

/// A shift with two decimals, as journals print them.
pub(crate) fn shift(ppm: f64) -> String {
    fixed(ppm, 2)
}

/// A limit as the user wrote it: no padding zeros.
pub(crate) fn limit(x: f64) -> String {
    unpadded(&significant(x, 4))
}

/// A number without zeros at the end of its decimals.
pub(crate) fn unpadded(text: &str) -> String {
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { text };
    text.to_owned()
}

/// A signed shift correction, three decimals.
pub(crate) fn signed(ppm: f64) -> String {
    let text = fixed(ppm, 3);
    if text.starts_with('-') || text == "0.000" { text } else { format!("+{text}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn estimate(value: f64, u: f64) -> Estimate {
        Estimate { value, low: value - 1.96 * u, high: value + 1.96 * u, u }
    }

    /// Worked by hand after JCGM 100:2008, 7.2.6 (two digits of u, value to the same place).
    #[test]
    fn two_digits_of_the_uncertainty() {
        for (x, u, text) in [
            (0.61834, 0.0349, "0.618"),
            (0.61834, 0.349, "0.62"),
            (12.3456, 3.4, "12.3"),
            (1234.5, 150.0, "1230"),
            (1234.6, 15.0, "1235"),
            (0.61834, 0.0999, "0.62"),
            (0.00012, 0.00003, "0.000120"),
            (-0.0001, 0.02, "0.000"),
        ] {
            assert_eq!(value(&estimate(x, u)), text, "{x} +- {u}");
        }
    }

    #[test]
    fn ends_share_the_places_of_the_value() {
        assert_eq!(interval(&estimate(0.61834, 0.0349)), "0.618 (0.550 to 0.687)");
    }

    #[test]
    fn protons_have_two_decimals_or_three_digits_at_most() {
        for (x, u, text) in
            [(1.0004, 0.0012, "1.00"), (4.013, 0.011, "4.01"), (6.0, 0.34, "6.00"), (6.0, 3.4, "6.0")]
        {
            assert_eq!(protons(&estimate(x, u)), text, "{x} +- {u}");
        }
        assert_eq!(protons_interval(&estimate(0.011233, 0.000091)), "0.0112 (0.0111 to 0.0114)");
        assert_eq!(protons_interval(&estimate(0.0194, 0.0018)), "0.0194 (0.0159 to 0.0229)");
        assert_eq!(protons(&estimate(0.0, 0.0001)), "0.00");
    }

    #[test]
    fn a_mass_is_told_no_finer_than_what_was_weighed() {
        let mass = estimate(1.8119, 0.0014);
        for (weighed, text) in [(1.84, "1.81"), (1.8412, "1.8119 (1.8092 to 1.8146)"), (2.0, "1.81")] {
            assert_eq!(of_mass(&mass, weighed), text, "of {weighed} g");
        }
        assert_eq!(of_mass(&estimate(181.19, 14.0), 184.0), "181 (154 to 209)");
    }

    #[test]
    fn without_uncertainty_three_digits() {
        assert_eq!(bare(0.0123456), "0.0123");
        assert_eq!(bare(0.9999), "1.00");
        assert_eq!(bare(123456.0), "123000");
        assert_eq!(bare(0.0), "0");
        assert_eq!(bare(f64::NAN), "n/a");
        assert_eq!(limit(0.5), "0.5");
        assert_eq!(limit(0.06), "0.06");
        assert_eq!(limit(500.0), "500");
    }

    #[test]
    fn corrections_carry_their_sign() {
        assert_eq!(signed(0.0123), "+0.012");
        assert_eq!(signed(-0.5), "-0.500");
        assert_eq!(signed(0.00001), "0.000");
    }
}
