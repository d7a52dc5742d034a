//! What the chemist says the sample is.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::{Formula, Hertz, MassFraction, Multiplicity, Ppm};

/// A stretch of the shift axis.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ShiftRange {
    /// The higher (left) end.
    pub high: Ppm,
    /// The lower (right) end.
    pub low: Ppm,
}

impl ShiftRange {
    /// The stretch between two shifts, in either order.
    ///
    /// ```
    /// # use lees_core::{Ppm, ShiftRange};
    /// let range = ShiftRange::new(Ppm(7.0), Ppm(8.0));
    /// assert_eq!((range.high, range.low), (Ppm(8.0), Ppm(7.0)));
    /// ```
    #[must_use]
    pub fn new(a: Ppm, b: Ppm) -> Self {
        if a.0 >= b.0 { Self { high: a, low: b } } else { Self { high: b, low: a } }
    }

    /// The middle.
    ///
    /// ```
    /// # use lees_core::{Ppm, ShiftRange};
    /// let range = ShiftRange::new(Ppm(7.0), Ppm(8.0));
    /// assert_eq!(range.centre(), Ppm(7.5));
    /// ```
    #[must_use]
    pub fn centre(&self) -> Ppm {
        Ppm((self.high.0 + self.low.0) / 2.0)
    }

    /// Whether a shift lies within, ends included.
    ///
    /// ```
    /// # use lees_core::{Ppm, ShiftRange};
    /// let range = ShiftRange::new(Ppm(7.0), Ppm(8.0));
    /// assert!(range.contains(Ppm(7.0)) && !range.contains(Ppm(6.9)));
    /// ```
    #[must_use]
    pub fn contains(&self, shift: Ppm) -> bool {
        self.low.0 <= shift.0 && shift.0 <= self.high.0
    }

    /// Whether two stretches share a point.
    ///
    /// ```
    /// # use lees_core::{Ppm, ShiftRange};
    /// let range = ShiftRange::new(Ppm(7.0), Ppm(8.0));
    /// assert!(range.overlaps(&ShiftRange::new(Ppm(8.0), Ppm(9.0))));
    /// assert!(!range.overlaps(&ShiftRange::new(Ppm(8.1), Ppm(9.0))));
    /// ```
    #[must_use]
    pub fn overlaps(&self, other: &Self) -> bool {
        self.low.0 <= other.high.0 && other.low.0 <= self.high.0
    }

    /// The stretch grown by `margin` on both sides.
    ///
    /// ```
    /// # use lees_core::{Ppm, ShiftRange};
    /// let range = ShiftRange::new(Ppm(7.0), Ppm(8.0));
    /// assert_eq!(range.widened(Ppm(0.5)), ShiftRange::new(Ppm(6.5), Ppm(8.5)));
    /// ```
    #[must_use]
    pub fn widened(&self, margin: Ppm) -> Self {
        Self { high: self.high + margin, low: self.low - margin }
    }
}

/// One entry of a journal line.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ExpectedSignal {
    /// The shift or range as given; a single shift has both ends equal.
    pub range: ShiftRange,
    /// The pattern, when given.
    pub multiplicity: Option<Multiplicity>,
    /// Coupling constants, in the order given.
    pub couplings: Vec<Hertz>,
    /// How many protons; may be fractional for rotamers.
    pub protons: f64,
    /// The assignment, such as `H-3` or `NCH2CH3`, when given.
    pub assignment: Option<String>,
}

/// Limits the chemist set.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct LimitSet {
    /// For the sum of all counted volatiles.
    pub total: Option<MassFraction>,
    /// Per solvent, by the name as written.
    pub each: BTreeMap<String, MassFraction>,
}

/// The product: its mass and the signals it should show.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Product {
    /// The name used in reports.
    pub name: String,
    /// The molecular formula, when given.
    pub formula: Option<Formula>,
    /// Molar mass in g/mol.
    pub molar_mass: f64,
    /// The signals of its journal line, highest shift first.
    pub signals: Vec<ExpectedSignal>,
    /// The NMR solvent that the journal line names, as it stands there.
    pub nmr_solvent: Option<String>,
    /// The stretches to quantify on; empty means: choose the cleanest.
    pub quantify: Vec<ShiftRange>,
    /// The limits to judge against.
    pub limits: LimitSet,
}
