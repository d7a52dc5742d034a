//! Plain numbers as the standard writes them.

/// The shortest text that reads back as the same number; an exponent has a sign and two digits or more.
pub(crate) fn affn(value: f64) -> String {
    let size = value.abs();
    if size == 0.0 || (1e-5..1e15).contains(&size) {
        return format!("{value}");
    }
    let text = format!("{value:e}");
    match text.split_once('e') {
        Some((mantissa, power)) => {
            let power: i32 = power.parse().unwrap_or(0);
            format!("{mantissa}E{power:+03}")
        }
        None => text,
    }
}

/// An abscissa at the start of a line: a hundredth of a step is still seen.
pub(crate) fn line_x(value: f64, step: f64) -> String {
    const MOST_DECIMALS: f64 = 14.0;
    let decimals = (2.0 - libm::log10(step.abs())).ceil().clamp(0.0, MOST_DECIMALS);
    let text = format!("{value:.0$}", decimals as usize);
    if text.trim_matches(['-', '0', '.']).is_empty() { "0".to_owned() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_read_back() {
        for value in [0.0, -0.5, 1e-300, 6.02e23, 123_456.789, f64::MAX, f64::MIN_POSITIVE] {
            assert_eq!(affn(value).parse::<f64>().unwrap(), value);
        }
        assert_eq!(affn(1.5e-7), "1.5E-07");
        assert_eq!(affn(2e20), "2E+20");
        assert_eq!(line_x(9.123_456_7, -0.000_2), "9.123457");
        assert_eq!(line_x(-0.000_000_1, 1.0), "0");
    }
}
