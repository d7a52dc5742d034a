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
    }
}
