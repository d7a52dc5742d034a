//! Names of splitting patterns.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use thiserror::Error;

/// A splitting pattern as written in journals: `s`, `dd`, `br s`, `sept`, `m` ...
///
/// The text form is normalised: lower case, `br` before the letters, one blank between.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Multiplicity {
    broad: bool,
    /// Numbers of equivalent partners, one per coupling, largest coupling first; empty for a singlet,
    /// `None` for an unresolved multiplet.
    partners: Option<Vec<u8>>,
}

/// The text is no multiplicity we know.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error(
    "`{0}` is not a multiplicity (s, d, t, q, quint, sext, sept, oct, non, dd, dt, ..., m, optionally `br`)"
)]
pub struct UnknownMultiplicity(pub String);

const NAMES: [(&str, u8); 22] = [
    ("quintet", 4),
    ("quartet", 3),
    ("triplet", 2),
    ("doublet", 1),
    ("septet", 6),
    ("heptet", 6),
    ("sextet", 5),
    ("nonet", 8),
    ("octet", 7),
    ("quint", 4),
    ("pent", 4),
    ("hept", 6),
    ("sept", 6),
    ("sext", 5),
    ("quin", 4),
    ("hex", 5),
    ("oct", 7),
    ("non", 8),
    ("p", 4),
    ("q", 3),
    ("t", 2),
    ("d", 1),
];

impl Multiplicity {
    /// A singlet.
    ///
    /// ```
    /// assert_eq!(lees_core::Multiplicity::singlet().to_string(), "s");
    /// ```
    #[must_use]
    pub fn singlet() -> Self {
        Self { broad: false, partners: Some(Vec::new()) }
    }

    /// An unresolved multiplet.
    ///
    /// ```
    /// assert_eq!(lees_core::Multiplicity::multiplet().to_string(), "m");
    /// ```
    #[must_use]
    pub fn multiplet() -> Self {
        Self { broad: false, partners: None }
    }

    /// A first-order pattern from the number of equivalent partners of each coupling, in written order.
    ///
    /// ```
    /// assert_eq!(lees_core::Multiplicity::from_partners(vec![1, 2]).to_string(), "dt");
    /// ```
    #[must_use]
    pub fn from_partners(partners: Vec<u8>) -> Self {
        Self { broad: false, partners: Some(partners) }
    }

    /// The same pattern, broadened.
    ///
    /// ```
    /// assert_eq!(lees_core::Multiplicity::singlet().broadened().to_string(), "br s");
    /// ```
    #[must_use]
    pub fn broadened(self) -> Self {
        Self { broad: true, ..self }
    }

    /// Whether the signal is called broad.
    ///
    /// ```
    /// let read: lees_core::Multiplicity = "brs".parse().expect("a pattern");
    /// assert!(read.is_broad());
    /// ```
    #[must_use]
    pub const fn is_broad(&self) -> bool {
        self.broad
    }

    /// Numbers of equivalent spin-1/2 partners per coupling; `None` for `m`.
    ///
    /// ```
    /// let read: lees_core::Multiplicity = "dq".parse().expect("a pattern");
    /// assert_eq!(read.partners(), Some(&[1, 3][..]));
    /// assert_eq!(lees_core::Multiplicity::multiplet().partners(), None);
    /// ```
    #[must_use]
    pub fn partners(&self) -> Option<&[u8]> {
        self.partners.as_deref()
    }

    /// Whether it is a singlet.
    ///
    /// ```
    /// assert!(lees_core::Multiplicity::singlet().is_singlet());
    /// assert!(!lees_core::Multiplicity::multiplet().is_singlet());
    /// ```
    #[must_use]
    pub fn is_singlet(&self) -> bool {
        self.partners.as_ref().is_some_and(Vec::is_empty)
    }
}

impl FromStr for Multiplicity {
    type Err = UnknownMultiplicity;

    /// Reads journal spellings: `br s`, `bs`, `brs`, `dd`, `heptet`, `m`, `dm` (read as `m`).
    ///
    /// # Errors
    /// When a part of the text is no known name.
    fn from_str(text: &str) -> Result<Self, UnknownMultiplicity> {
        let unknown = || UnknownMultiplicity(text.to_owned());
        let lower = text.trim().to_ascii_lowercase();
        let squeezed: String = lower.chars().filter(|c| !c.is_whitespace() && *c != '.').collect();
        let (broad, mut rest) = strip_broad(&squeezed);
        let mut partners = Vec::new();
        if rest.is_empty() {
            return Err(unknown());
        }
        if rest == "s" || rest == "singlet" {
            return Ok(Self { broad, partners: Some(partners) });
        }
        while !rest.is_empty() {
            if rest == "m" || rest == "mult" || rest == "multiplet" {
                return Ok(Self { broad, partners: None });
            }
            let (name, count) = NAMES.iter().find(|(name, _)| rest.starts_with(name)).ok_or_else(unknown)?;
            partners.push(*count);
            rest = rest[name.len()..].trim_start_matches("of");
        }
        Ok(Self { broad, partners: Some(partners) })
    }
}

fn strip_broad(text: &str) -> (bool, &str) {
    for prefix in ["broad", "br", "b"] {
        if let Some(rest) = text.strip_prefix(prefix) {
            return (true, rest);
        }
    }
    (false, text)
}

impl fmt::Display for Multiplicity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.broad {
            f.write_str("br ")?;
        }
        match self.partners.as_deref() {
            None => f.write_str("m"),
            Some([]) => f.write_str("s"),
            Some(partners) => partners.iter().try_for_each(|count| {
                f.write_str(match count {
                    1 => "d",
                    2 => "t",
                    3 => "q",
                    4 => "quint",
                    5 => "sext",
                    6 => "sept",
                    7 => "oct",
                    8 => "non",
                    _ => "m",
                })
            }),
        }
    }
}

impl TryFrom<String> for Multiplicity {
    type Error = UnknownMultiplicity;
    fn try_from(text: String) -> Result<Self, UnknownMultiplicity> {
        text.parse()
    }
}

impl From<Multiplicity> for String {
    fn from(value: Multiplicity) -> Self {
        value.to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn journal_spellings_are_normalised() {
        for (written, normal) in [
            ("s", "s"),
            ("br s", "br s"),
            ("bs", "br s"),
            ("brs", "br s"),
            ("DD", "dd"),
            ("heptet", "sept"),
            ("dt", "dt"),
            ("ddd", "ddd"),
            ("quint", "quint"),
            ("p", "quint"),
            ("doublet of triplets", ""),
            ("br. d", "br d"),
            ("m", "m"),
            ("dm", "m"),
            ("tq", "tq"),
        ] {
            let read = written.parse::<Multiplicity>().map(|m| m.to_string());
            assert_eq!(read.unwrap_or_default(), normal, "{written}");
        }
    }

    #[test]
    fn nonsense_is_refused() {
        assert!("".parse::<Multiplicity>().is_err());
        assert!("br".parse::<Multiplicity>().is_err());
        assert!("x".parse::<Multiplicity>().is_err());
    }
}
