//! Molecular formulae.

use std::collections::BTreeMap;
use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::elements::atomic_weight;

/// A molecular formula, read from text such as `C16H13NO3`, `(CH3)2CO` or `C10H12N2O.HCl`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Formula {
    text: String,
    atoms: BTreeMap<String, u32>,
}

/// Why a text is no formula.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("formula `{text}`, character {column}: {what}")]
pub struct FormulaError {
    text: String,
    column: usize,
    what: String,
}

/// Largest count of one element taken as meant; beyond it a slip of the keyboard is likelier.
const MOST_ATOMS: u32 = 100_000;
/// Most atoms of another element for each carbon, and without carbon, that are taken as meant: all sugars, salts, hydrates and siloxanes
/// have fewer; `N2O2` and `H12O6` with a zero for the O (202 N, 1206 H) have more.
const MOST_A_CARBON: u32 = 4;
const MOST_WITHOUT_CARBON: u32 = 64;

impl Formula {
    /// Molar mass in g/mol from IUPAC abridged atomic weights.
    ///
    /// ```
    /// let acetone: lees_core::Formula = "(CH3)2CO".parse().expect("a formula");
    /// assert!((acetone.molar_mass() - 58.080).abs() < 0.0005);
    /// ```
    #[must_use]
    pub fn molar_mass(&self) -> f64 {
        self.atoms.iter().filter_map(|(symbol, count)| Some(atomic_weight(symbol)? * f64::from(*count))).sum()
    }

    /// How many atoms of an element (`H` does not count `D`).
    ///
    /// ```
    /// let heavy_water: lees_core::Formula = "D2O".parse().expect("a formula");
    /// assert_eq!((heavy_water.count("D"), heavy_water.count("H")), (2, 0));
    /// ```
    #[must_use]
    pub fn count(&self, symbol: &str) -> u32 {
        self.atoms.get(symbol).copied().unwrap_or(0)
    }
}

impl fmt::Display for Formula {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

impl TryFrom<String> for Formula {
    type Error = FormulaError;
    fn try_from(text: String) -> Result<Self, FormulaError> {
        text.parse()
    }
}

impl From<Formula> for String {
    fn from(value: Formula) -> Self {
        value.text
    }
}

impl FromStr for Formula {
    type Err = FormulaError;

    /// Reads element symbols, counts, brackets and `.` or `*` between parts (a part may have a factor).
    ///
    /// # Errors
    /// Says the character at which the text stops being a formula.
    fn from_str(text: &str) -> Result<Self, FormulaError> {
        let plain: String = text.trim().chars().map(on_the_line).collect();
        let trimmed = plain.as_str();
        let mut reader = Reader { text: trimmed, chars: trimmed.chars().collect(), at: 0 };
        let atoms = reader.parts()?;
        if atoms.is_empty() {
            return Err(reader.fault("no element found"));
        }
        match slip(&atoms) {
            Some(what) => Err(reader.fault(what)),
            None => Ok(Self { text: trimmed.to_owned(), atoms }),
        }
    }
}

/// A digit written below the line as the plain digit; anything else as it is.
///
/// ```
/// let plain: String = "CH\u{2082}Cl\u{2082}".chars().map(lees_core::on_the_line).collect();
/// assert_eq!(plain, "CH2Cl2");
/// ```
#[must_use]
pub fn on_the_line(c: char) -> char {
    match c {
        '\u{2080}'..='\u{2089}' => char::from_digit(c as u32 - 0x2080, 10).unwrap_or(c),
        other => other,
    }
}

/// More atoms of an element than any compound has: most often a zero where the letter O is meant.
fn slip(atoms: &Atoms) -> Option<String> {
    let carbon = atoms.get("C").copied().unwrap_or(0);
    let most = carbon.saturating_mul(MOST_A_CARBON).saturating_add(MOST_WITHOUT_CARBON);
    let (symbol, count) = atoms.iter().find(|(symbol, count)| *symbol != "C" && **count > most)?;
    Some(format!("{count} {symbol} beside {carbon} C; is a zero meant to be the letter O?"))
}

struct Reader<'a> {
    text: &'a str,
    chars: Vec<char>,
    at: usize,
}

type Atoms = BTreeMap<String, u32>;

impl Reader<'_> {
    fn fault(&self, what: impl Into<String>) -> FormulaError {
        FormulaError { text: self.text.to_owned(), column: self.at + 1, what: what.into() }
    }

    fn peek(&self) -> Option<char> {
        self.chars.get(self.at).copied()
    }

    fn parts(&mut self) -> Result<Atoms, FormulaError> {
        let mut total = Atoms::new();
        loop {
            let factor = self.number()?.unwrap_or(1);
            let part = self.group(0)?;
            if part.is_empty() && self.peek() == Some('.') {
                return Err(
                    self.fault("a share of a part, such as 0.5H2O, is not read; give the molar mass instead")
                );
            }
            self.add(&mut total, &part, factor)?;
            match self.peek() {
                Some('.' | '*' | '·') => self.at += 1,
                Some(other) => return Err(self.fault(format!("`{other}` does not belong here"))),
                None => return Ok(total),
            }
        }
    }

    fn group(&mut self, depth: usize) -> Result<Atoms, FormulaError> {
        let mut atoms = Atoms::new();
        while let Some(c) = self.peek() {
            let unit = match c {
                '(' | '[' if depth < 8 => {
                    self.at += 1;
                    let inner = self.group(depth + 1)?;
                    let closing = if c == '(' { ')' } else { ']' };
                    if self.peek() != Some(closing) {
                        return Err(self.fault(format!("`{closing}` is missing")));
                    }
                    self.at += 1;
                    inner
                }
                'A'..='Z' => self.symbol()?,
                _ => break,
            };
            let count = self.number()?.unwrap_or(1);
            self.add(&mut atoms, &unit, count)?;
        }
        Ok(atoms)
    }

    fn symbol(&mut self) -> Result<Atoms, FormulaError> {
        let start = self.at;
        for length in [2, 1] {
            let end = (start + length).min(self.chars.len());
            let symbol: String = self.chars[start..end].iter().collect();
            if symbol.chars().count() == length && atomic_weight(&symbol).is_some() {
                self.at = end;
                return Ok(Atoms::from([(symbol, 1)]));
            }
        }
        Err(self.fault(format!("`{}` starts no element symbol known here", self.chars[start])))
    }

    fn number(&mut self) -> Result<Option<u32>, FormulaError> {
        let start = self.at;
        while self.peek().is_some_and(|c| c.is_ascii_digit()) {
            self.at += 1;
        }
        if start == self.at {
            return Ok(None);
        }
        if self.chars[start] == '0' && self.peek() != Some('.') {
            self.at = start;
            return Err(self.fault("a count begins with a zero; is it meant to be the letter O?"));
        }
        let digits: String = self.chars[start..self.at].iter().collect();
        match digits.parse() {
            Ok(count) if count <= MOST_ATOMS => Ok(Some(count)),
            _ => Err(self.fault(format!("a count of {digits} is beyond {MOST_ATOMS}"))),
        }
    }

    fn add(&self, total: &mut Atoms, part: &Atoms, factor: u32) -> Result<(), FormulaError> {
        for (symbol, count) in part {
            let entry = total.entry(symbol.clone()).or_insert(0);
            let sum = count.checked_mul(factor).and_then(|more| entry.checked_add(more));
            *entry = sum.filter(|n| *n <= MOST_ATOMS).ok_or_else(|| self.fault("too many atoms"))?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn a_zero_for_the_letter_o_is_asked_about() {
        let fault = |text: &str| text.parse::<Formula>().unwrap_err().to_string();
        assert!(fault("C16H16N202S").contains("202 N beside 16 C; is a zero meant to be the letter O?"));
        assert!(fault("C6H1206").contains("1206 H beside 6 C"));
        assert!(fault("C9H602").contains("602 H"));
        assert!(fault("C2H603").contains("603 H"));
        assert!(fault("C8H9N02").contains("a count begins with a zero"));
        assert!(fault("C17H19NO3.0.5H2O").contains("a share of a part, such as 0.5H2O, is not read"));
        assert!(fault("C17H19NO3.1.5H2O").contains("a share of a part"));
        for meant in
            ["KAl(SO4)2.12H2O", "((CH3)2SiO)40", "C3H6N6O6", "C8F18", "C64H144N4SiW12O40", "H2O", "C10H20O"]
        {
            assert!(meant.parse::<Formula>().is_ok(), "{meant}");
        }
    }

    #[test]
    fn brackets_parts_and_factors() {
        let read = |text: &str| text.parse::<Formula>().unwrap();
        assert_eq!(read("(CH3)2CHOH").count("C"), 3);
        assert_eq!(read("(CH3)2CHOH").count("H"), 8);
        assert_eq!(read("C10H12N2O.2HCl").count("Cl"), 2);
        assert_eq!(read("CuSO4.5H2O").count("O"), 9);
        assert_abs_diff_eq!(read("CDCl3").molar_mass(), 120.375, epsilon = 0.001);
    }

    #[test]
    fn faults_name_the_column() {
        let fault = "C2Xq3".parse::<Formula>().unwrap_err();
        assert!(fault.to_string().contains("character 3"), "{fault}");
        assert!("".parse::<Formula>().is_err());
        assert!("(CH3".parse::<Formula>().is_err());
        assert!("C999999999999".parse::<Formula>().is_err());
        assert!("((((((((((C))))))))))".parse::<Formula>().is_err());
    }
}
