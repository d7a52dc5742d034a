//! What is assumed of weighing and of blanks when nothing better is known.

use serde::{Deserialize, Serialize};

use crate::MatchError;

/// Standard uncertainties that no spectrum shows.
///
/// ```
/// let assumed = lees_match::standard::WeighedSettings::default();
/// assert!(assumed.check().is_ok());
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct WeighedSettings {
    /// Standard uncertainty of one weighing, mg (common practice, no source: a four-place balance read with care).
    pub balance_u_mg: f64,
    /// Standard uncertainty of the standard's purity, per cent by mass (common practice, no source).
    pub standard_purity_u_percent: f64,
    /// Scatter of the NMR solvent's own water between two tubes of one bottle, relative standard uncertainty in per cent
    /// (common practice, no source): the glass carries water, and more is taken up from the air while filling.
    pub tube_to_tube_percent: f64,
}

impl Default for WeighedSettings {
    fn default() -> Self {
        Self { balance_u_mg: 0.05, standard_purity_u_percent: 0.2, tube_to_tube_percent: 15.0 }
    }
}

impl WeighedSettings {
    /// Whether the numbers can be meant.
    ///
    /// # Errors
    /// A number below 0, or none at all.
    ///
    /// ```
    /// use lees_match::standard::WeighedSettings;
    /// assert!(WeighedSettings { balance_u_mg: -0.1, ..WeighedSettings::default() }.check().is_err());
    /// ```
    pub fn check(&self) -> Result<(), MatchError> {
        for (what, number) in [
            ("match.weighed.balance_u_mg", self.balance_u_mg),
            ("match.weighed.standard_purity_u_percent", self.standard_purity_u_percent),
            ("match.weighed.tube_to_tube_percent", self.tube_to_tube_percent),
        ] {
            if !(number.is_finite() && number >= 0.0) {
                return Err(super::value(what, number, "a number from 0"));
            }
        }
        Ok(())
    }
}
