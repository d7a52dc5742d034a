//! What stands in the brackets after a shift: pattern, couplings, protons, assignment, in any order.

use lees_core::{Hertz, Multiplicity};
use nom::branch::alt;
use nom::bytes::complete::tag;
use nom::character::complete::multispace0;
use nom::combinator::{all_consuming, opt, value};
use nom::multi::separated_list1;
use nom::sequence::{delimited, preceded, terminated};
use nom::{IResult, Parser};

use crate::clean::clean_text;
use crate::error::FormatError;

use super::token::{parts, unsigned};
use super::{fault, quote, quoted};

/// Largest coupling constant believed, in hertz: beyond any between protons.
const LARGEST_COUPLING: f64 = 1000.0;

/// A word of no more small letters than this in the place of the pattern is a slip, not an assignment.
const MOST_LETTERS: usize = 4;

/// Most protons of one signal.
const MOST_PROTONS: f64 = 10_000.0;

/// The contents of one bracket.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Items {
    pub multiplicity: Option<Multiplicity>,
    pub couplings: Vec<Hertz>,
    pub protons: Option<f64>,
    pub assignment: Vec<String>,
    broad: bool,
}

impl Items {
    /// Reads the inside of a bracket.
    pub(crate) fn read(line: &str, inside: &str) -> Result<Self, FormatError> {
        let mut items = Self::default();
        let mut after_coupling = false;
        for part in parts(inside) {
            let text = part.trim();
            if !text.is_empty() {
                after_coupling = items.take(line, text, after_coupling)?;
            }
        }
        if items.broad {
            let pattern = items.multiplicity.take().unwrap_or_else(Multiplicity::singlet);
            items.multiplicity = Some(pattern.broadened());
        }
        items.meant(line, inside)?;
        Ok(items)
    }

    /// Refuses what cannot be meant: a singlet with couplings, a letter where the pattern is missing.
    fn meant(&self, line: &str, inside: &str) -> Result<(), FormatError> {
        let bracket = format!("`({})`", quoted(inside, 40));
        let is_letters =
            |text: &String| text.len() <= MOST_LETTERS && text.chars().all(|c| c.is_ascii_lowercase());
        if self.multiplicity.is_none()
            && let Some(letters) = self.assignment.first().filter(|text| is_letters(text))
        {
            let read = format!("pattern `{letters}` in {bracket}");
            return Err(fault(
                line,
                inside,
                &read,
                "s, d, t, q, quint, sext, sept, combinations such as dd, or m",
            ));
        }
        if !self.couplings.is_empty() && self.multiplicity.as_ref().is_some_and(Multiplicity::is_singlet) {
            let read = format!("a singlet with a coupling in {bracket}");
            return Err(fault(line, inside, &read, "couplings of a split signal, such as `d, J = 8.1 Hz`"));
        }
        Ok(())
    }

    /// Takes one item; whether it was a coupling, so that a bare number may follow as another one.
    fn take(&mut self, line: &str, text: &str, after_coupling: bool) -> Result<bool, FormatError> {
        if let Ok((_, protons)) = all_consuming(protons).parse(text) {
            if !(protons > 0.0 && protons <= MOST_PROTONS) || self.protons.is_some() {
                return Err(fault(line, text, &quote(text), "one positive number of protons"));
            }
            self.protons = Some(protons);
            return Ok(false);
        }
        if let Some(values) = after_j(text) {
            let (_, list) = all_consuming(hertz_list).parse(values.trim()).map_err(|_| {
                fault(line, text, &quote(text), "couplings in hertz, such as `J = 7.1, 2.0 Hz`")
            })?;
            return self.add_couplings(line, text, list);
        }
        if after_coupling && let Ok((_, list)) = all_consuming(hertz_list).parse(text) {
            return self.add_couplings(line, text, list);
        }
        if !self.take_pattern(text) {
            self.assignment.push(clean_text(text));
        }
        Ok(false)
    }

    fn add_couplings(&mut self, line: &str, text: &str, list: Vec<f64>) -> Result<bool, FormatError> {
        if list.iter().any(|j| *j > LARGEST_COUPLING) {
            return Err(fault(line, text, &quote(text), "couplings up to 1000 Hz"));
        }
        self.couplings.extend(list.into_iter().map(Hertz));
        Ok(true)
    }

    fn take_pattern(&mut self, text: &str) -> bool {
        let lower = text.to_ascii_lowercase();
        if matches!(lower.trim_end_matches('.'), "br" | "broad" | "b") {
            self.broad = true;
            return true;
        }
        if self.multiplicity.is_some() {
            return false;
        }
        let bare =
            ["apparent ", "app. ", "app ", "pseudo ", "ps "].iter().find_map(|p| lower.strip_prefix(p));
        let bare = bare.unwrap_or(&lower).trim();
        self.multiplicity = match bare {
            "abq" | "ab q" | "ab" | "ab system" | "aa'bb'" | "aa′bb′" | "aa’bb’" | "cm" => {
                Some(Multiplicity::multiplet())
            }
            _ => bare.parse().ok(),
        };
        self.multiplicity.is_some()
    }
}

/// `5H`, `2 H`, `ca. 2H`, `2 x 3H`.
fn protons(input: &str) -> IResult<&str, f64> {
    let about = opt(alt((tag("ca."), tag("ca"), tag("~"), tag("≈"))));
    let times = delimited(multispace0, alt((tag("x"), tag("×"), tag("*"))), multispace0);
    let (rest, (_, _, factor, count)) =
        (about, multispace0, opt(terminated(unsigned, times)), terminated(unsigned, (multispace0, tag("H"))))
            .parse(input)?;
    Ok((rest, factor.unwrap_or(1.0) * count))
}

/// What follows `J =`, `3JHH =`, `J1 =`, `J 7.1`; `None` when the item is no coupling.
fn after_j(text: &str) -> Option<&str> {
    let superscripts = ['¹', '²', '³', '⁴', '⁵', '⁶', '^'];
    let start = text.trim_start_matches(|c: char| c.is_ascii_digit() || superscripts.contains(&c));
    let rest = start.strip_prefix(['J', '𝐽']).or_else(|| start.strip_prefix("<i>J</i>"))?;
    if let Some(at) = rest.find(['=', '≈', '~', ':']) {
        let sign = rest[at..].chars().next().map_or(1, char::len_utf8);
        return Some(&rest[at + sign..]);
    }
    let value = rest.trim_start();
    (value.len() < rest.len() && value.starts_with(|c: char| c.is_ascii_digit())).then_some(value)
}

fn hertz_list(input: &str) -> IResult<&str, Vec<f64>> {
    let separator =
        delimited(multispace0, alt((tag("and"), tag("&"), tag("/"), tag(","), tag(";"))), multispace0);
    let unit = value((), opt(preceded(multispace0, alt((tag("Hz"), tag("hz"), tag("HZ"))))));
    terminated(separated_list1(separator, terminated(unsigned, unit)), multispace0).parse(input)
}
