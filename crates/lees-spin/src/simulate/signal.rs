//! One signal of a compound.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::Split;

/// Deuterium neighbours, which split residual solvent lines 1:1:1 or 1:2:3:2:1.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Deuterium {
    /// How many.
    pub n: u32,
    /// Coupling in hertz.
    pub j: f64,
}

/// A group of equivalent protons as a recipe writes it.
///
/// ```toml
/// { name = "CH3", at = 1.22, h = 6, with = { CH = 6.1 }, t1 = 3.0 }
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Signal {
    /// Shift in ppm.
    pub at: f64,
    /// Protons.
    pub h: f64,
    /// How many equal parts of the molecule share them without coupling to one another: 2 for the methyls of a
    /// diethylamino group, whose 6 protons are two triplets of 3 in the same place. Coupled signals have the same.
    #[serde(default = "one", skip_serializing_if = "is_one")]
    pub parts: u32,
    /// Name by which others couple to it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// First-order splitting, such as `"dd 9.0 2.6"`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub split: Option<Split>,
    /// Couplings in hertz to other signals of the compound by name, computed exactly; one side suffices.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub with: BTreeMap<String, f64>,
    /// Deuterium neighbours.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub deuterium: Option<Deuterium>,
    /// Natural (Lorentzian) full width at half height in hertz; the recipe's common width when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub width: Option<f64>,
    /// Longitudinal relaxation time in seconds; fully relaxed when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub t1: Option<f64>,
    /// One-bond coupling to carbon-13 in hertz; typical of the shift when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ch: Option<f64>,
    /// The proton sits on O, N or S: no satellites.
    #[serde(default)]
    pub exchange: bool,
    /// The line wanders evenly over this many hertz during the scans.
    #[serde(default)]
    pub wander: f64,
}

fn one() -> u32 {
    1
}

#[allow(clippy::trivially_copy_pass_by_ref, reason = "serde's form")]
fn is_one(parts: &u32) -> bool {
    *parts == 1
}

impl Signal {
    /// A singlet of `protons` at a shift in ppm.
    ///
    /// ```
    /// # use lees_spin::simulate::Signal;
    /// let signal = Signal::new(2.17, 6.0);
    /// assert_eq!((signal.at, signal.h), (2.17, 6.0));
    /// ```
    #[must_use]
    pub fn new(at: f64, protons: f64) -> Self {
        Self {
            at,
            h: protons,
            parts: 1,
            name: None,
            split: None,
            with: BTreeMap::new(),
            deuterium: None,
            width: None,
            t1: None,
            ch: None,
            exchange: false,
            wander: 0.0,
        }
    }

    /// Spread over equal parts of the molecule that do not couple to one another.
    ///
    /// ```
    /// # use lees_spin::simulate::Signal;
    /// assert_eq!(Signal::new(2.17, 6.0).in_parts(2).parts, 2);
    /// ```
    #[must_use]
    pub fn in_parts(self, parts: u32) -> Self {
        Self { parts, ..self }
    }

    /// Named, so that others can couple to it.
    ///
    /// ```
    /// # use lees_spin::simulate::Signal;
    /// assert_eq!(Signal::new(4.04, 1.0).named("CH").name.as_deref(), Some("CH"));
    /// ```
    #[must_use]
    pub fn named(self, name: &str) -> Self {
        Self { name: Some(name.to_owned()), ..self }
    }

    /// Split once more, to first order, by `partners` equivalent protons with a coupling in hertz.
    ///
    /// ```
    /// # use lees_spin::simulate::Signal;
    /// let signal = Signal::new(6.66, 1.0).split_by(1, 8.9).split_by(1, 2.4);
    /// assert_eq!(signal.split.expect("split").to_string(), "dd 8.9 2.4");
    /// ```
    #[must_use]
    pub fn split_by(mut self, partners: u32, coupling: f64) -> Self {
        let mut parts = self.split.take().map_or_else(Vec::new, |split| split.parts().to_vec());
        parts.push((partners, coupling));
        Self { split: Some(Split::from_parts(parts)), ..self }
    }

    /// Coupled to another signal of the compound, in hertz, computed exactly.
    ///
    /// ```
    /// # use lees_spin::simulate::Signal;
    /// assert_eq!(Signal::new(1.22, 6.0).coupled("CH", 6.1).with["CH"], 6.1);
    /// ```
    #[must_use]
    pub fn coupled(mut self, other: &str, coupling: f64) -> Self {
        self.with.insert(other.to_owned(), coupling);
        self
    }

    /// With a natural width of its own, in hertz.
    ///
    /// ```
    /// # use lees_spin::simulate::Signal;
    /// assert_eq!(Signal::new(1.56, 2.0).wide(3.0).width, Some(3.0));
    /// ```
    #[must_use]
    pub fn wide(self, width: f64) -> Self {
        Self { width: Some(width), ..self }
    }

    /// With a longitudinal relaxation time in seconds.
    ///
    /// ```
    /// # use lees_spin::simulate::Signal;
    /// assert_eq!(Signal::new(5.30, 2.0).relaxing(7.5).t1, Some(7.5));
    /// ```
    #[must_use]
    pub fn relaxing(self, t1: f64) -> Self {
        Self { t1: Some(t1), ..self }
    }

    /// On O, N or S: without satellites.
    ///
    /// ```
    /// # use lees_spin::simulate::Signal;
    /// assert!(Signal::new(1.56, 2.0).exchanging().exchange);
    /// ```
    #[must_use]
    pub fn exchanging(self) -> Self {
        Self { exchange: true, ..self }
    }

    /// Spins that stand for the (possibly fractional) protons of one part.
    pub(crate) fn spins(&self) -> u32 {
        (self.h / f64::from(self.parts)).round().max(1.0) as u32
    }

    /// The name used in the truth.
    pub(crate) fn label(&self) -> String {
        self.name.clone().unwrap_or_else(|| format!("{:.2}", self.at))
    }

    /// One-bond coupling to carbon, zero where there is none.
    ///
    /// Typical values by shift: 127 Hz for alkyl, 143 Hz next to O, N or a double bond, 162 Hz on sp2 carbon
    /// (common practice, no source).
    pub(crate) fn carbon_coupling(&self) -> f64 {
        match (self.exchange, self.ch) {
            (true, _) => 0.0,
            (false, Some(j)) => j,
            (false, None) if self.at > 5.8 => 162.0,
            (false, None) if self.at > 2.9 => 143.0,
            (false, None) => 127.0,
        }
    }
}
