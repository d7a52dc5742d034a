//! Numbers in sentences.

use lees_core::check::Estimate;

/// A content with three significant digits, without needless zeros before them.
pub(crate) fn content(wt_percent: f64) -> String {
    if wt_percent <= 0.0 {
        return "0".to_owned();
    }
    let decimals = (2.0 - libm::log10(wt_percent).floor()).clamp(0.0, 6.0) as usize;
    format!("{wt_percent:.decimals$}")
}

/// A content with its interval, such as `0.241 wt% (0.228 to 0.254)`.
pub(crate) fn with_interval(estimate: &Estimate) -> String {
    let decimals = decimals_of(estimate.u);
    format!("{:.decimals$} wt% ({:.decimals$} to {:.decimals$})", estimate.value, estimate.low, estimate.high)
}

/// Decimals that show two digits of a standard uncertainty.
fn decimals_of(u: f64) -> usize {
    if u > 0.0 { (1.0 - libm::log10(u).floor()).clamp(0.0, 6.0) as usize } else { 3 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_follow_the_uncertainty() {
        let estimate = Estimate { value: 0.24137, low: 0.2282, high: 0.2545, u: 0.0067 };
        assert_eq!(with_interval(&estimate), "0.2414 wt% (0.2282 to 0.2545)");
        assert_eq!(content(0.0601), "0.0601");
        assert_eq!(content(12.345), "12.3");
        assert_eq!(content(0.5), "0.500");
    }
}
