//! Shift ranges with protons, as they are typed.

use lees_core::ShiftRange;
use lees_format::journal;

/// Reads `6.4-6.7=2H`; the protons are optional.
pub(crate) fn parse_with_protons(text: &str) -> Result<(ShiftRange, Option<f64>), String> {
    let (range, protons) = match text.split_once('=') {
        Some((range, protons)) => (range, Some(protons)),
        None => (text, None),
    };
    let range = journal::range(range).map_err(|fault| fault.to_string())?;
    let count = protons.map(|protons| {
        let digits = protons.trim().trim_end_matches(['H', 'h']).trim();
        let count = digits.parse::<f64>().ok().filter(|n| n.is_finite() && *n > 0.0);
        count.ok_or_else(|| {
            format!("`{protons}` in `{text}` is not a number of protons; write for instance 2H")
        })
    });
    Ok((range, count.transpose()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn protons_are_optional_but_must_be_a_count() {
        assert_eq!(parse_with_protons("6.4-6.7=2H").unwrap().1, Some(2.0));
        assert_eq!(parse_with_protons("6.4-6.7").unwrap().1, None);
        assert!(parse_with_protons("6.4-6.7=-1H").is_err());
        assert!(parse_with_protons("6.4-6.7=all").is_err());
    }
}
