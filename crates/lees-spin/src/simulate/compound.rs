//! What is in the tube.

use lees_core::Formula;
use serde::{Deserialize, Serialize};

use super::{RecipeError, Signal};

/// How much of a compound there is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Amount {
    /// Moles per mole of product.
    MoleRatio(f64),
    /// Per cent by mass of product and counted volatiles together.
    WtPercent(f64),
}

/// A compound with its amount and signals.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Compound {
    /// The name used in the truth.
    pub name: String,
    /// Molecular formula; gives the molar mass.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub formula: Option<Formula>,
    /// Molar mass in g/mol, when no formula is given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub molar_mass: Option<f64>,
    /// Moles per mole of product.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mole_ratio: Option<f64>,
    /// Per cent by mass of product and counted volatiles together.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wt_percent: Option<f64>,
    /// Its signals.
    pub signals: Vec<Signal>,
}

impl Compound {
    /// A compound with neither mass, amount nor signals yet.
    ///
    /// ```
    /// # use lees_spin::simulate::Compound;
    /// assert!(Compound::new("dye").signals.is_empty());
    /// ```
    #[must_use]
    pub fn new(name: &str) -> Self {
        Self { name: name.to_owned(), ..Self::default() }
    }

    /// With a formula.
    ///
    /// ```
    /// # use lees_spin::simulate::Compound;
    /// let acetone = Compound::new("acetone").formula("C3H6O".parse().expect("a formula"));
    /// assert!((acetone.molar_mass().expect("known") - 58.08).abs() < 0.001);
    /// ```
    #[must_use]
    pub fn formula(self, formula: Formula) -> Self {
        Self { formula: Some(formula), ..self }
    }

    /// With a molar mass in g/mol.
    ///
    /// ```
    /// # use lees_spin::simulate::Compound;
    /// assert_eq!(Compound::new("dye").mass(300.0).molar_mass(), Some(300.0));
    /// ```
    #[must_use]
    pub fn mass(self, molar_mass: f64) -> Self {
        Self { molar_mass: Some(molar_mass), ..self }
    }

    /// With an amount in per cent by mass.
    ///
    /// ```
    /// # use lees_spin::simulate::{Amount, Compound};
    /// let acetone = Compound::new("acetone").wt(0.5);
    /// assert_eq!(acetone.amount().expect("one amount"), Amount::WtPercent(0.5));
    /// ```
    #[must_use]
    pub fn wt(self, percent: f64) -> Self {
        Self { wt_percent: Some(percent), ..self }
    }

    /// With an amount in moles per mole of product.
    ///
    /// ```
    /// # use lees_spin::simulate::{Amount, Compound};
    /// let acetone = Compound::new("acetone").ratio(0.1);
    /// assert_eq!(acetone.amount().expect("one amount"), Amount::MoleRatio(0.1));
    /// ```
    #[must_use]
    pub fn ratio(self, mole_ratio: f64) -> Self {
        Self { mole_ratio: Some(mole_ratio), ..self }
    }

    /// With one more signal.
    ///
    /// ```
    /// # use lees_spin::simulate::{Compound, Signal};
    /// let acetone = Compound::new("acetone").signal(Signal::new(2.17, 6.0));
    /// assert_eq!(acetone.signals[0].h, 6.0);
    /// ```
    #[must_use]
    pub fn signal(mut self, signal: Signal) -> Self {
        self.signals.push(signal);
        self
    }

    /// Molar mass in g/mol from `molar_mass`, else from the formula; `None` when neither is given.
    ///
    /// ```
    /// # use lees_spin::simulate::Compound;
    /// assert_eq!(Compound::new("grease").molar_mass(), None);
    /// ```
    #[must_use]
    pub fn molar_mass(&self) -> Option<f64> {
        self.molar_mass.or_else(|| self.formula.as_ref().map(Formula::molar_mass))
    }

    /// The amount.
    ///
    /// # Errors
    /// When none or both forms are given, or it is negative.
    ///
    /// ```
    /// # use lees_spin::simulate::Compound;
    /// assert!(Compound::new("acetone").amount().is_err(), "none given");
    /// assert!(Compound::new("acetone").wt(0.5).ratio(0.1).amount().is_err(), "two given");
    /// ```
    pub fn amount(&self) -> Result<Amount, RecipeError> {
        let (amount, value) = match (self.mole_ratio, self.wt_percent) {
            (Some(ratio), None) => (Amount::MoleRatio(ratio), ratio),
            (None, Some(percent)) => (Amount::WtPercent(percent), percent),
            (None, None) => return Err(RecipeError::compound(&self.name, "give mole_ratio or wt_percent")),
            (Some(_), Some(_)) => {
                return Err(RecipeError::compound(&self.name, "give mole_ratio or wt_percent, not both"));
            }
        };
        if value.is_finite() && value >= 0.0 {
            Ok(amount)
        } else {
            Err(RecipeError::compound(&self.name, format!("an amount of {value} is not zero or more")))
        }
    }
}
