//! Numbers in header records.

use nom::branch::alt;
use nom::bytes::complete::{take_while, take_while1};
use nom::character::complete::{char, one_of};
use nom::combinator::{opt, recognize};
use nom::{IResult, Parser};

/// A header number and how it was written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Number {
    pub value: f64,
    /// Whether a comma stood where the decimal point belongs.
    pub decimal_comma: bool,
}

fn digits(input: &str) -> IResult<&str, &str> {
    take_while1(|c: char| c.is_ascii_digit())(input)
}

fn mantissa(input: &str) -> IResult<&str, &str> {
    recognize((
        opt(one_of("+-")),
        alt((
            recognize((digits, opt((one_of(".,"), take_while(|c: char| c.is_ascii_digit()))))),
            recognize((char('.'), digits)),
        )),
    ))
    .parse(input)
}

fn exponent(input: &str) -> IResult<&str, &str> {
    recognize((one_of("eEdD"), opt(one_of("+-")), digits)).parse(input)
}

/// Reads a number at the front of a text: AFFN, also with a decimal comma or a Fortran `D` exponent.
/// Gives what follows too. `None` when there is none or it is not finite.
pub(crate) fn leading(text: &str) -> Option<(Number, &str)> {
    let text = text.trim_start();
    let (rest, (body, power)) = (mantissa, opt(exponent)).parse(text).ok()?;
    // `1, 2` is a list; a comma is decimal only between digits.
    let (body, rest) = match body.strip_suffix(',') {
        Some(whole) => (whole, &text[whole.len()..]),
        None => (body, rest),
    };
    let written = format!("{body}{}", power.unwrap_or("")).replace(',', ".").replace(['d', 'D'], "e");
    let value: f64 = written.parse().ok()?;
    value.is_finite().then_some((Number { value, decimal_comma: body.contains(',') }, rest))
}

/// All numbers of a list separated by blanks, commas or semicolons, until something else comes.
pub(crate) fn list(text: &str) -> Vec<f64> {
    let words = text.split(|c: char| c.is_whitespace() || c == ',' || c == ';').filter(|w| !w.is_empty());
    words.map_while(|word| word.parse::<f64>().ok().filter(|v| v.is_finite())).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn value(text: &str) -> Option<f64> {
        leading(text).map(|(number, _)| number.value)
    }

    #[test]
    fn forms_of_a_header_number() {
        assert_eq!(value(" 16385.000000000"), Some(16385.0));
        assert_eq!(value("-.5"), Some(-0.5));
        assert_eq!(value("3.9978219837825E+02"), Some(399.782_198_378_25));
        assert_eq!(value("1.5D3"), Some(1500.0));
        assert_eq!(value("400.13 MHz"), Some(400.13));
        assert_eq!(value("1, 2"), Some(1.0));
        assert_eq!(value("<DMSO>"), None);
        assert_eq!(value("1E999"), None);
        assert_eq!(value("inf"), None);
    }

    #[test]
    fn a_decimal_comma_is_seen() {
        let (number, rest) = leading("400,13 MHz").unwrap();
        assert!(number.decimal_comma);
        assert_eq!((number.value, rest), (400.13, " MHz"));
        assert!(!leading("1, 2").unwrap().0.decimal_comma);
    }

    #[test]
    fn lists_stop_at_words() {
        assert_eq!(list("0 1.5, 3e-6;4 us 5"), [0.0, 1.5, 3e-6, 4.0]);
    }
}
