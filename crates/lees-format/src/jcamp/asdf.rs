//! `(X++(Y..Y))` tables: AFFN, PAC, SQZ, DIF and DUP ordinates in any mixture.

use crate::clean::sample;
use crate::error::{ErrorKind, FormatError};
use crate::lines::Lines;

use super::digits::{CLASS, Start};

/// What a table line says of its own place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct LineX {
    /// Line in the file.
    pub line: usize,
    /// The abscissa as written, before the factor.
    pub x: f64,
    /// Half a unit of its last written digit.
    pub rounding: f64,
    /// Index of the first new ordinate after it.
    pub index: usize,
    /// Whether the first ordinate of the line was a check of the point before.
    pub checked: bool,
}

/// A check ordinate that did not repeat the last ordinate of the line before.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Mismatch {
    pub line: usize,
    pub column: usize,
    pub carried: f64,
    pub written: f64,
    /// How many ordinates had been read.
    pub index: usize,
}

/// A decoded table, ordinates before the factor. A gap (`?`) is NaN.
#[derive(Debug, Clone, Default)]
pub(crate) struct Decoded {
    pub ordinates: Vec<f64>,
    pub lines: Vec<LineX>,
    pub checks: usize,
    pub mismatches: Vec<Mismatch>,
    /// Line of the first gap.
    pub gap: Option<usize>,
    /// First line in difference form that starts without a check ordinate.
    pub unchecked: Option<usize>,
    /// First line of text after the table.
    pub trailing_text: Option<usize>,
    /// The longest line, in ordinates.
    pub last_line: usize,
}

/// How to read a table.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Rules {
    /// Most ordinates that may come out.
    pub most: usize,
    /// The number of ordinates the header promises.
    pub declared: Option<usize>,
    /// Whether the first ordinate of a line after one in difference form is a check and not a point.
    pub check_ordinates: bool,
}

/// Most mismatches worth keeping: the first is reported.
const MOST_MISMATCHES: usize = 16;

#[derive(Clone, Copy, PartialEq)]
enum Last {
    Nothing,
    Absolute,
    Difference(f64),
}

struct Decoder<'a> {
    out: Decoded,
    rules: Rules,
    value: f64,
    last: Last,
    /// Whether the line before ended in difference form.
    carried: bool,
    text: &'a [u8],
    line: usize,
}

/// Decodes the lines of a table.
///
/// # Errors
/// At the first character that cannot belong to a table, or when more points come out than allowed.
pub(crate) fn decode(table: &[u8], first_line: usize, rules: Rules) -> Result<Decoded, FormatError> {
    let mut decoder = Decoder {
        out: Decoded::default(),
        rules,
        value: 0.0,
        last: Last::Nothing,
        carried: false,
        text: &[],
        line: 0,
    };
    // Every ordinate takes at least one byte unless repeated: a sound first guess of the room needed.
    decoder.out.ordinates.reserve((table.len() / 3).min(rules.most));
    for line in Lines::new(table, first_line) {
        decoder.text = line.text;
        decoder.line = line.number;
        if !decoder.read_line()? {
            break;
        }
    }
    Ok(decoder.out)
}

impl Decoder<'_> {
    fn fault(&self, column: usize, read: String, allowed: &str) -> FormatError {
        FormatError::new(ErrorKind::Damaged, read, allowed).at(self.line, column + 1)
    }

    /// Reads one line; `false` when the table is over.
    fn read_line(&mut self) -> Result<bool, FormatError> {
        let Some(start) = self.text.iter().position(|&b| CLASS[usize::from(b)].0 != Start::Separator) else {
            return Ok(true);
        };
        if self.is_comment(start) {
            return Ok(true);
        }
        if !starts_number(&self.text[start..]) {
            return self.text_line(start);
        }
        let (x, mut at) = self.plain(start)?;
        let rounding = rounding_of(&self.text[start..at]);
        self.last = Last::Nothing;
        let before = self.out.ordinates.len();
        let checks = self.out.checks;
        while let Some(&byte) = self.text.get(at) {
            let (start, digit) = CLASS[usize::from(byte)];
            at = match start {
                Start::Separator => at + 1,
                Start::Difference => self.difference(at, digit)?,
                Start::Repeat => self.repeat(at, digit)?,
                Start::Squeezed => self.squeezed(at, digit)?,
                Start::Digit | Start::Sign | Start::Point => {
                    let (value, end) = self.plain(at)?;
                    self.absolute(value, at)?;
                    end
                }
                Start::Gap => self.gap(at)?,
                Start::Dollar if self.is_comment(at) => break,
                _ => {
                    let read = format!("`{}` in a table of ordinates", sample(&self.text[at..=at]));
                    return Err(self.fault(at, read, "digits, signs and the letters of SQZ, DIF and DUP"));
                }
            };
        }
        self.carried = matches!(self.last, Last::Difference(_));
        let checked = self.out.checks > checks;
        self.out.lines.push(LineX { line: self.line, x, rounding, index: before, checked });
        self.out.last_line = self.out.ordinates.len() - before;
        Ok(true)
    }

    fn is_comment(&self, at: usize) -> bool {
        self.text[at..].starts_with(b"$$")
    }

    /// A line that opens with no number: the end of the table if all points are there.
    fn text_line(&mut self, column: usize) -> Result<bool, FormatError> {
        if self.rules.declared.is_some_and(|n| self.out.ordinates.len() == n) {
            self.out.trailing_text = Some(self.line);
            return Ok(false);
        }
        let read = format!(
            "`{}` after {} ordinates of the table",
            sample(&self.text[column..]),
            self.out.ordinates.len()
        );
        Err(self.fault(column, read, "lines that start with an abscissa"))
    }

    fn push(&mut self, value: f64, at: usize) -> Result<(), FormatError> {
        if self.out.ordinates.len() >= self.rules.most {
            return Err(self.too_many(at));
        }
        self.value = value;
        self.out.ordinates.push(value);
        Ok(())
    }

    fn too_many(&self, at: usize) -> FormatError {
        let allowed = format!("at most {} points (raise the limit if the file is right)", self.rules.most);
        FormatError::new(ErrorKind::Limit, "too many ordinates in one table", allowed).at(self.line, at + 1)
    }

    #[inline]
    fn absolute(&mut self, value: f64, at: usize) -> Result<(), FormatError> {
        let first = self.last == Last::Nothing;
        self.last = Last::Absolute;
        if first && self.carried && self.rules.check_ordinates {
            self.check(value, at);
            return Ok(());
        }
        self.push(value, at)
    }

    fn check(&mut self, written: f64, at: usize) {
        self.out.checks += 1;
        if !same(self.value, written) && self.out.mismatches.len() < MOST_MISMATCHES {
            let index = self.out.ordinates.len();
            let (line, carried) = (self.line, self.value);
            self.out.mismatches.push(Mismatch { line, column: at + 1, carried, written, index });
        }
        self.value = written;
    }

    #[inline]
    fn squeezed(&mut self, at: usize, digit: i8) -> Result<usize, FormatError> {
        let (value, end) = self.number(at, digit)?;
        self.absolute(value, at)?;
        Ok(end)
    }

    #[inline]
    fn difference(&mut self, at: usize, digit: i8) -> Result<usize, FormatError> {
        let (step, end) = self.number(at, digit)?;
        if self.last == Last::Nothing {
            self.unchecked_line(at)?;
        }
        self.last = Last::Difference(step);
        self.push(self.value + step, at)?;
        Ok(end)
    }

    fn unchecked_line(&mut self, at: usize) -> Result<(), FormatError> {
        if self.out.ordinates.is_empty() {
            let read = format!("difference `{}` with nothing before it", sample(&self.text[at..=at]));
            return Err(self.fault(at, read, "an absolute ordinate first"));
        }
        self.out.unchecked.get_or_insert(self.line);
        Ok(())
    }

    fn repeat(&mut self, at: usize, digit: i8) -> Result<usize, FormatError> {
        let (count, end) = self.number(at, digit)?;
        let copies = count - 1.0;
        let step = match self.last {
            Last::Nothing => {
                let read = format!("repeat `{}` with nothing before it", sample(&self.text[at..end]));
                return Err(self.fault(at, read, "an ordinate first"));
            }
            Last::Absolute => 0.0,
            Last::Difference(step) => step,
        };
        let room = self.rules.most - self.out.ordinates.len();
        if copies.fract() != 0.0 || copies > room as f64 {
            return Err(self.too_many(at));
        }
        for _ in 0..copies as usize {
            self.value += step;
            self.out.ordinates.push(self.value);
        }
        Ok(end)
    }

    fn gap(&mut self, at: usize) -> Result<usize, FormatError> {
        self.out.gap.get_or_insert(self.line);
        let value = self.value;
        self.last = Last::Absolute;
        self.push(f64::NAN, at)?;
        self.value = value;
        Ok(at + 1)
    }

    /// A number whose first digit and sign are one letter at `at`.
    #[inline]
    fn number(&self, at: usize, first: i8) -> Result<(f64, usize), FormatError> {
        let mut whole = u64::from(first.unsigned_abs());
        let mut end = at + 1;
        while let Some(digit) = self.text.get(end).map(|b| b.wrapping_sub(b'0')).filter(|d| *d < 10) {
            whole = whole.wrapping_mul(10).wrapping_add(u64::from(digit));
            end += 1;
        }
        if end - at > MOST_DIGITS || self.text.get(end) == Some(&b'.') {
            return self.long_number(at, first);
        }
        let value = whole as f64;
        Ok((if first < 0 { -value } else { value }, end))
    }

    /// The same with a decimal point or more digits than a machine integer holds.
    #[cold]
    fn long_number(&self, at: usize, first: i8) -> Result<(f64, usize), FormatError> {
        let end = number_end(self.text, at + 1);
        let tail = &self.text[at + 1..end];
        let sign = if first < 0 { "-" } else { "" };
        let written = format!("{sign}{}{}", first.unsigned_abs(), String::from_utf8_lossy(tail));
        self.finite(&written, at).map(|value| (value, end))
    }

    /// A plain number, possibly with an exponent: `E` counts as one only before a sign and digits.
    #[inline]
    fn plain(&self, at: usize) -> Result<(f64, usize), FormatError> {
        let (negative, start) = match self.text[at] {
            b'-' => (true, at + 1),
            b'+' => (false, at + 1),
            _ => (false, at),
        };
        let mut whole = 0_u64;
        let mut end = start;
        while let Some(digit) = self.text.get(end).map(|b| b.wrapping_sub(b'0')).filter(|d| *d < 10) {
            whole = whole.wrapping_mul(10).wrapping_add(u64::from(digit));
            end += 1;
        }
        let next = self.text.get(end).copied();
        if end == start || end - start > MOST_DIGITS || matches!(next, Some(b'.' | b'E' | b'e')) {
            return self.long_plain(at, start);
        }
        let value = whole as f64;
        Ok((if negative { -value } else { value }, end))
    }

    fn long_plain(&self, at: usize, start: usize) -> Result<(f64, usize), FormatError> {
        let mut end = number_end(self.text, start);
        if let [b'E' | b'e', b'+' | b'-', b'0'..=b'9', ..] = self.text[end..] {
            end += 3;
            while self.text.get(end).is_some_and(u8::is_ascii_digit) {
                end += 1;
            }
        }
        let written = String::from_utf8_lossy(&self.text[at..end]);
        self.finite(&written, at).map(|value| (value, end))
    }

    fn finite(&self, written: &str, at: usize) -> Result<f64, FormatError> {
        match written.parse::<f64>() {
            Ok(value) if value.is_finite() => Ok(value),
            _ => {
                let read = format!("`{}`", crate::clean::quoted(written, 40));
                Err(self.fault(at, read, "a finite number"))
            }
        }
    }
}

/// Digits that surely fit a 64-bit integer.
const MOST_DIGITS: usize = 18;

/// Two equal ordinates, decimal ones within rounding.
fn same(a: f64, b: f64) -> bool {
    a == b || (a - b).abs() <= 1e-9 * a.abs().max(b.abs()) + if is_whole(a, b) { 0.0 } else { 1e-6 }
}

fn is_whole(a: f64, b: f64) -> bool {
    a.fract() == 0.0 && b.fract() == 0.0
}

fn starts_number(text: &[u8]) -> bool {
    let digits = match text {
        [b'+' | b'-', rest @ ..] => rest,
        _ => text,
    };
    matches!(digits, [b'0'..=b'9', ..] | [b'.', b'0'..=b'9', ..])
}

/// Where digits and at most one decimal point end.
fn number_end(text: &[u8], start: usize) -> usize {
    let mut end = start;
    let mut point = false;
    while let Some(&byte) = text.get(end) {
        match byte {
            b'0'..=b'9' => {}
            b'.' if !point => point = true,
            _ => break,
        }
        end += 1;
    }
    end
}

/// Half a unit of the last digit of a plain number as written.
fn rounding_of(written: &[u8]) -> f64 {
    let mantissa = written.iter().position(|b| matches!(b, b'e' | b'E')).unwrap_or(written.len());
    let decimals = written[..mantissa].iter().position(|&b| b == b'.').map_or(0, |at| mantissa - at - 1);
    let power: i32 = std::str::from_utf8(written.get(mantissa + 1..).unwrap_or(b""))
        .ok()
        .and_then(|text| text.parse().ok())
        .unwrap_or(0);
    0.5 * 10_f64.powi(power.saturating_sub(decimals as i32))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(table: &str) -> Result<Decoded, FormatError> {
        let rules = Rules { most: 1000, declared: None, check_ordinates: true };
        decode(table.as_bytes(), 1, rules)
    }

    fn values(table: &str) -> Vec<f64> {
        read(table).unwrap().ordinates
    }

    #[test]
    fn every_form_gives_the_same_numbers() {
        let plain = [-10247.0, 1201.0, -5196.0, 7245.0];
        assert_eq!(values("16383 -10247 1201 -5196 7245"), plain);
        assert_eq!(values("16383-10247+1201-5196+7245"), plain);
        assert_eq!(values("16383a0247A201e196G245"), plain);
        assert_eq!(values("16383a0247J1448o397J2441"), plain);
        assert_eq!(values("16383,-10247;1201 e196J2441"), plain);
    }

    #[test]
    fn repeats_follow_the_form_of_the_token_before() {
        assert_eq!(values("1A0U"), [10.0, 10.0, 10.0]);
        assert_eq!(values("1A0JT"), [10.0, 11.0, 12.0]);
        assert_eq!(values("1A0S20").len(), 120);
        assert_eq!(values("1 5 s").len(), 9);
        assert!(read("1S5").is_err());
        assert!(read("1J5").is_err());
    }

    #[test]
    fn the_check_ordinate_is_dropped_after_a_difference_only() {
        let table = read("0A0JJ\n3A2J\n4A3\n").unwrap();
        assert_eq!(table.ordinates, [10.0, 11.0, 12.0, 13.0]);
        assert_eq!((table.checks, table.mismatches.len()), (2, 0));
        assert_eq!(values("0A0A1\n2A1A2"), [10.0, 11.0, 11.0, 12.0]);
        assert_eq!(values("0A0JT\n3A2J"), [10.0, 11.0, 12.0, 13.0]);
    }

    #[test]
    fn a_wrong_check_ordinate_is_found() {
        let table = read("0A0JJ\n3A5J").unwrap();
        let found = table.mismatches[0];
        assert_eq!((found.line, found.column, found.carried, found.written), (2, 2, 12.0, 15.0));
    }

    #[test]
    fn an_exponent_needs_a_sign_and_a_plain_start() {
        assert_eq!(values("1 1.2E-05 3"), [1.2e-5, 3.0]);
        assert_eq!(values("1 12E3"), [12.0, 53.0]);
        assert_eq!(values("1.5E+02 7E+01"), [70.0]);
        assert_eq!(values("16383E7J"), [57.0, 58.0]);
    }

    #[test]
    fn decimals_gaps_and_comments() {
        let table = read("0 A1.25 j.5 ? B $$ A1A2\n\n$$ A5\n").unwrap();
        assert_eq!(table.ordinates[..2], [11.25, 9.75]);
        assert!(table.ordinates[2].is_nan());
        assert_eq!(table.ordinates[3], 2.0);
        assert_eq!(table.gap, Some(1));
    }

    #[test]
    fn huge_repeats_and_numbers_are_refused_in_place() {
        let error = read("0A0\n1A0S000000000").unwrap_err();
        assert_eq!((error.kind(), error.line(), error.column()), (ErrorKind::Limit, Some(2), Some(4)));
        assert!(read(&format!("0 1{}", "0".repeat(400))).is_err());
        assert_eq!(values(&format!("0 1{}", "0".repeat(20))), [1e20]);
    }

    #[test]
    fn foreign_characters_are_refused_with_their_column() {
        let error = read("0 12 13\n3 14 x5").unwrap_err();
        assert_eq!((error.line(), error.column()), (Some(2), Some(6)));
        assert!(read("nan 1 2").is_err());
    }
}
