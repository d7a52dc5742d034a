//! First-order splittings in short form.

use std::fmt;
use std::str::FromStr;

use lees_core::Multiplicity;
use serde::{Deserialize, Serialize};

/// A first-order splitting such as `t 7.1` or `dd 9.0 2.6`: partners and coupling constants in hertz.
///
/// ```
/// use lees_spin::simulate::Split;
/// let split: Split = "dt 8.1 1.2".parse().expect("a splitting");
/// assert_eq!(split.parts(), [(1, 8.1), (2, 1.2)]);
/// assert!("dd 8.1".parse::<Split>().is_err());
/// ```
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Split {
    parts: Vec<(u32, f64)>,
}

impl Split {
    /// From (number of equivalent partners, coupling in hertz).
    ///
    /// ```
    /// # use lees_spin::simulate::Split;
    /// assert_eq!(Split::from_parts(vec![(2, 7.1)]).to_string(), "t 7.1");
    /// ```
    #[must_use]
    pub fn from_parts(parts: Vec<(u32, f64)>) -> Self {
        Self { parts }
    }

    /// (Number of equivalent partners, coupling in hertz) of each splitting.
    ///
    /// ```
    /// # use lees_spin::simulate::Split;
    /// let split: Split = "t 7.1".parse().expect("a splitting");
    /// assert_eq!(split.parts(), [(2, 7.1)]);
    /// ```
    #[must_use]
    pub fn parts(&self) -> &[(u32, f64)] {
        &self.parts
    }
}

impl FromStr for Split {
    type Err = String;

    /// Reads the pattern's name and as many couplings, in hertz.
    ///
    /// # Errors
    /// Says what was read and what was allowed.
    fn from_str(text: &str) -> Result<Self, String> {
        let mut words = text.split(|c: char| c.is_whitespace() || c == ',').filter(|word| !word.is_empty());
        let pattern: Multiplicity =
            words.next().unwrap_or_default().parse().map_err(|e| format!("`{text}`: {e}"))?;
        let partners = pattern
            .partners()
            .ok_or_else(|| format!("`{text}`: `m` has no pattern; name the splittings, or use `with`"))?;
        let couplings: Vec<f64> = words
            .map(|word| word.parse().map_err(|_| format!("`{text}`: `{word}` is not a coupling in Hz")))
            .collect::<Result<_, _>>()?;
        if couplings.len() != partners.len() || couplings.iter().any(|j: &f64| !j.is_finite()) {
            return Err(format!("`{text}` needs {} finite couplings in Hz after the name", partners.len()));
        }
        Ok(Self { parts: partners.iter().map(|&n| u32::from(n)).zip(couplings).collect() })
    }
}

impl fmt::Display for Split {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let partners = self.parts.iter().map(|(n, _)| u8::try_from(*n).unwrap_or(u8::MAX)).collect();
        write!(f, "{}", Multiplicity::from_partners(partners))?;
        self.parts.iter().try_for_each(|(_, j)| write!(f, " {j}"))
    }
}

impl TryFrom<String> for Split {
    type Error = String;
    fn try_from(text: String) -> Result<Self, String> {
        text.parse()
    }
}

impl From<Split> for String {
    fn from(split: Split) -> Self {
        split.to_string()
    }
}
