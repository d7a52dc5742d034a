//! Mass fractions and their text form.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use thiserror::Error;

/// A mass fraction, stored as a plain ratio (0.005 is 0.5 wt%).
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct MassFraction(f64);

/// Why a text is no mass fraction.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum FractionError {
    /// No number at the front.
    #[error("`{0}` does not start with a number; write for instance \"0.5 wt%\" or \"600 ppm\"")]
    NoNumber(String),
    /// A number alone.
    #[error("`{0}` has no unit; write for instance \"{0} wt%\" or \"{0} ppm\"")]
    NoUnit(String),
    /// A comma where a point belongs.
    #[error("`{0}` has a comma; write a decimal point, for instance \"0.5 wt%\"")]
    Comma(String),
    /// A unit other than wt% or ppm by mass.
    #[error("`{unit}` in `{text}` is not a unit of mass fraction; allowed are wt%, ppm, mg/kg, g/kg, mg/g")]
    Unit {
        /// The whole text.
        text: String,
        /// The offending unit.
        unit: String,
    },
    /// Below zero or above one.
    #[error("`{0}` lies outside 0 to 100 wt%")]
    Range(String),
}

impl MassFraction {
    /// From a plain ratio between 0 and 1.
    ///
    /// ```
    /// assert_eq!(lees_core::MassFraction::from_ratio(0.005).to_string(), "0.5 wt%");
    /// ```
    #[must_use]
    pub const fn from_ratio(ratio: f64) -> Self {
        Self(ratio)
    }

    /// From per cent by mass.
    ///
    /// ```
    /// assert_eq!(lees_core::MassFraction::from_wt_percent(0.5).ratio(), 0.005);
    /// ```
    #[must_use]
    pub const fn from_wt_percent(percent: f64) -> Self {
        Self(percent / 100.0)
    }

    /// From parts per million by mass (mg/kg).
    ///
    /// ```
    /// assert_eq!(lees_core::MassFraction::from_ppm(600.0).ratio(), 0.0006);
    /// ```
    #[must_use]
    pub const fn from_ppm(ppm: f64) -> Self {
        Self(ppm / 1e6)
    }

    /// As a plain ratio.
    ///
    /// ```
    /// let limit: lees_core::MassFraction = "5 mg/g".parse().expect("a mass fraction");
    /// assert_eq!(limit.ratio(), 0.005);
    /// ```
    #[must_use]
    pub const fn ratio(self) -> f64 {
        self.0
    }

    /// In per cent by mass.
    ///
    /// ```
    /// let limit: lees_core::MassFraction = "5000 ppm".parse().expect("a mass fraction");
    /// assert_eq!(limit.wt_percent(), 0.5);
    /// ```
    #[must_use]
    pub const fn wt_percent(self) -> f64 {
        self.0 * 100.0
    }

    /// In parts per million by mass (mg/kg).
    ///
    /// ```
    /// let limit: lees_core::MassFraction = "0.5 wt%".parse().expect("a mass fraction");
    /// assert_eq!(limit.ppm(), 5000.0);
    /// ```
    #[must_use]
    pub const fn ppm(self) -> f64 {
        self.0 * 1e6
    }
}

impl FromStr for MassFraction {
    type Err = FractionError;

    /// Reads `0.5 wt%`, `5000 ppm`, `600 mg/kg`. A bare number or `%` alone is refused: per cent of what?
    ///
    /// # Errors
    /// [`FractionError`] tells what was wrong.
    fn from_str(text: &str) -> Result<Self, FractionError> {
        let trimmed = text.trim();
        let split = trimmed
            .char_indices()
            .find(|&(_, c)| !(c.is_ascii_digit() || "+-.eE".contains(c)))
            .map_or(trimmed.len(), |(at, _)| at);
        let (number, unit) = trimmed.split_at(split);
        let number: f64 = number.parse().map_err(|_| FractionError::NoNumber(text.to_owned()))?;
        let unit = unit.trim();
        let per_ratio = match unit.to_ascii_lowercase().replace(' ', "").as_str() {
            "wt%" | "wt.%" | "%w/w" | "w/w%" | "%(w/w)" | "%bymass" => 1e2,
            "ppm" | "mg/kg" | "ug/g" | "µg/g" | "ppmbymass" => 1e6,
            "g/kg" | "mg/g" => 1e3,
            "" => return Err(FractionError::NoUnit(trimmed.to_owned())),
            unit if unit.starts_with(',') => return Err(FractionError::Comma(text.to_owned())),
            _ => return Err(FractionError::Unit { text: text.to_owned(), unit: unit.to_owned() }),
        };
        let ratio = number / per_ratio;
        if !(0.0..=1.0).contains(&ratio) {
            return Err(FractionError::Range(text.to_owned()));
        }
        Ok(Self(ratio))
    }
}

impl fmt::Display for MassFraction {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} wt%", self.0 * 100.0)
    }
}

impl TryFrom<String> for MassFraction {
    type Error = FractionError;
    fn try_from(text: String) -> Result<Self, FractionError> {
        text.parse()
    }
}

impl From<MassFraction> for String {
    fn from(value: MassFraction) -> Self {
        value.to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn units_convert() {
        assert_relative_eq!("0.5 wt%".parse::<MassFraction>().unwrap().ppm(), 5000.0, max_relative = 1e-12);
        assert_relative_eq!(
            "600ppm".parse::<MassFraction>().unwrap().wt_percent(),
            0.06,
            max_relative = 1e-12
        );
        assert_relative_eq!("2 mg/g".parse::<MassFraction>().unwrap().ratio(), 0.002, max_relative = 1e-12);
    }

    #[test]
    fn a_bare_number_or_another_unit_is_refused() {
        assert_eq!(
            "0.5".parse::<MassFraction>().unwrap_err().to_string(),
            "`0.5` has no unit; write for instance \"0.5 wt%\" or \"0.5 ppm\""
        );
        assert!(matches!("0.5 %".parse::<MassFraction>(), Err(FractionError::Unit { .. })));
        assert!(matches!("0.5 mol%".parse::<MassFraction>(), Err(FractionError::Unit { .. })));
        assert!(matches!("0,5 wt%".parse::<MassFraction>(), Err(FractionError::Comma(_))));
        assert!(matches!("much".parse::<MassFraction>(), Err(FractionError::NoNumber(_))));
        assert!(matches!("120 wt%".parse::<MassFraction>(), Err(FractionError::Range(_))));
    }
}
