//! The smallest pieces of a journal line.

use nom::branch::alt;
use nom::bytes::complete::{tag, tag_no_case, take_while1};
use nom::character::complete::{multispace0, one_of};
use nom::combinator::{map_opt, opt, recognize};
use nom::sequence::preceded;
use nom::{IResult, Parser};

/// Hyphen, minus, and the dashes of typesetters.
const DASHES: &str = "-\u{2010}\u{2011}\u{2012}\u{2013}\u{2014}\u{2015}\u{2212}\u{fe58}\u{fe63}\u{ff0d}~";

fn digits(input: &str) -> IResult<&str, &str> {
    take_while1(|c: char| c.is_ascii_digit())(input)
}

/// Digits, perhaps with a decimal point; a comma counts as one only between digits.
pub(crate) fn unsigned(input: &str) -> IResult<&str, f64> {
    let decimals = preceded(one_of(".,"), digits);
    let number = alt((recognize((digits, opt(decimals))), recognize((tag("."), digits))));
    map_opt(number, |text: &str| text.replace(',', ".").parse::<f64>().ok().filter(|v| v.is_finite()))
        .parse(input)
}

fn dash(input: &str) -> IResult<&str, char> {
    one_of(DASHES)(input)
}

/// A number that may be negative.
pub(crate) fn signed(input: &str) -> IResult<&str, f64> {
    let (rest, (sign, value)) = (opt(alt((dash, one_of("+")))), unsigned).parse(input)?;
    Ok((rest, if sign.is_some_and(|s| s != '+') { -value } else { value }))
}

/// One number, or two with a dash or `to` between.
pub(crate) fn range(input: &str) -> IResult<&str, (f64, Option<f64>)> {
    let between = (multispace0, alt((recognize(dash), tag("to"))), multispace0);
    (signed, opt(preceded(between, signed))).parse(input)
}

/// What follows `ppm`, if that comes next.
pub(crate) fn skip_ppm(input: &str) -> &str {
    let parsed: IResult<&str, &str> = preceded(multispace0, tag_no_case("ppm")).parse(input);
    parsed.map_or(input, |(rest, _)| rest)
}

/// What follows commas, semicolons, full stops, `and` and repeated `δ`.
pub(crate) fn skip_separators(input: &str) -> &str {
    let mut rest = input;
    loop {
        let next = rest.trim_start_matches([',', ';', ':', '&', '=', 'δ', 'δ']).trim_start();
        let next = next.strip_prefix("and ").unwrap_or(next);
        let next = if next.trim_matches(['.', ' ', '\n', '\r', '\t']).is_empty() { "" } else { next };
        if next.len() == rest.len() {
            return next;
        }
        rest = next;
    }
}

/// The inside of a bracket that opens here, and what follows it. Brackets inside are kept whole.
pub(crate) fn bracketed(input: &str) -> Option<(&str, &str)> {
    let inner = input.strip_prefix(['(', '['])?;
    let mut depth = 1_usize;
    for (at, c) in inner.char_indices() {
        match c {
            '(' | '[' => depth += 1,
            ')' | ']' => depth -= 1,
            _ => {}
        }
        if depth == 0 {
            return Some((&inner[..at], &inner[at + c.len_utf8()..]));
        }
    }
    None
}

/// Parts at commas and semicolons outside brackets. A comma right between two whole numbers is decimal.
pub(crate) fn parts(inside: &str) -> Vec<&str> {
    let mut list = Vec::new();
    let mut depth = 0_usize;
    let mut start = 0;
    for (at, c) in inside.char_indices() {
        match c {
            '(' | '[' => depth += 1,
            ')' | ']' => depth = depth.saturating_sub(1),
            ',' | ';' if depth == 0 && !(c == ',' && is_decimal(inside, at)) => {
                list.push(&inside[start..at]);
                start = at + 1;
            }
            _ => {}
        }
    }
    list.push(&inside[start..]);
    list
}

fn is_decimal(text: &str, comma: usize) -> bool {
    let before = text[..comma].rsplit(|c: char| !(c.is_ascii_digit() || c == '.')).next().unwrap_or("");
    let after = text[comma + 1..].split(|c: char| !(c.is_ascii_digit() || c == '.')).next().unwrap_or("");
    !before.is_empty() && !after.is_empty() && !before.contains('.') && !after.contains('.')
}
