//! Numbers as they are typed.

/// Reads a number; units stand in the help of each flag.
pub(crate) fn number(text: &str) -> Result<f64, String> {
    let text = text.trim();
    if let Ok(value) = text.parse() {
        return Ok(value);
    }
    if let Some(hint) = decimal_comma(text) {
        return Err(hint);
    }
    let digits: String = text.chars().take_while(|c| c.is_ascii_digit() || matches!(c, '.' | '-')).collect();
    match digits.parse::<f64>() {
        Ok(_) => Err(format!("write the number alone, without its unit: {digits}")),
        Err(_) => Err("not a number".to_owned()),
    }
}

/// A number over 0.
pub(crate) fn positive(text: &str) -> Result<f64, String> {
    let value = number(text)?;
    if value > 0.0 && value.is_finite() { Ok(value) } else { Err("allowed is a number over 0".to_owned()) }
}

/// What to write where only a decimal comma keeps a text from being a number.
pub(crate) fn decimal_comma(text: &str) -> Option<String> {
    let pointed = text.replace(',', ".");
    (pointed != text && pointed.parse::<f64>().is_ok()).then(|| format!("write a decimal point: {pointed}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_number_is_told_how_to_be_one() {
        assert_eq!(number("1.84"), Ok(1.84));
        assert_eq!(number("-3"), Ok(-3.0));
        assert_eq!(number("1,84").unwrap_err(), "write a decimal point: 1.84");
        assert_eq!(number("1.84g").unwrap_err(), "write the number alone, without its unit: 1.84");
        assert_eq!(number("1.84 g").unwrap_err(), "write the number alone, without its unit: 1.84");
        assert_eq!(number("g").unwrap_err(), "not a number");
        assert_eq!(number("").unwrap_err(), "not a number");
        assert_eq!(positive("16"), Ok(16.0));
        for none in ["0", "-5", "nan", "inf"] {
            assert_eq!(positive(none).unwrap_err(), "allowed is a number over 0");
        }
    }
}
