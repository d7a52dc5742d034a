//! Whole molecules as patterns: every group's lines at one field, in one NMR solvent.

mod build;
mod library;
mod residual;
mod systems;

use std::sync::OnceLock;

use lees_core::{Multiplicity, Ppm};

pub(crate) use build::{first_order, in_slow_exchange, of_compound};
pub(crate) use library::{answers_to, counts, is_among, is_residual, library};
pub(crate) use residual::{of_residual, of_water};

use crate::assign::probe::Peak;
use crate::assign::wide::Crowd;
use crate::fit::template::Stick;
use crate::table::{Compound, Tables};

/// What a pattern stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Role {
    /// A volatile that counts.
    Volatile,
    /// Known, but not a volatile of the batch.
    Bystander,
    /// The NMR solvent's own protons.
    Residual,
    /// Water.
    Water,
}

/// One group of equivalent protons.
#[derive(Debug, Clone)]
pub(crate) struct PatternGroup {
    /// Its name in the table.
    pub name: String,
    /// How many protons; 1 for polymers, where only the area counts.
    pub protons: f64,
    /// Its splitting as tabulated.
    pub multiplicity: Multiplicity,
    /// Where its centre of gravity is expected.
    pub expected: Ppm,
    /// Scale of the spread about that place.
    pub spread: Ppm,
    /// Its lines, hertz from the centre of gravity, growing to lower shift; shares sum to 1.
    pub sticks: Vec<Stick>,
    /// Whether the lines are known one by one; a band of unknown structure is only an upper bound.
    pub resolved: bool,
    /// Whether its couplings are known well enough to look for every line at its place.
    pub exact: bool,
    /// Whether its protons stand at unlike places that are known no better than they are apart: only its area and rough look
    /// tell.
    pub rough: bool,
    /// Whether the protons exchange.
    pub exchangeable: bool,
    /// What to know about the expected place, when it does not come from this NMR solvent's table.
    pub doubt: Option<String>,
    /// Its peaks as drawn for the spectrum at hand, once they have been.
    pub drawn: OnceLock<Vec<Peak>>,
    /// How it looks as a whole in the spectrum at hand, once that has been asked for.
    pub crowd: OnceLock<Crowd>,
}

/// One molecule.
#[derive(Debug, Clone)]
pub(crate) struct Pattern {
    /// Index of the compound in the tables, when it is one.
    pub compound: Option<usize>,
    /// The usual name.
    pub name: String,
    /// What it stands for.
    pub role: Role,
    /// Natural logarithm of the prior odds that a spectrum shows it.
    pub prior: f64,
    /// Whether it is the form of an alcohol whose hydroxy proton couples; the other form is a pattern of its own.
    pub slow_exchange: bool,
    /// Its groups, those that never show left out.
    pub groups: Vec<PatternGroup>,
}

impl Pattern {
    /// The compound that it is a pattern of, if that is in the table.
    pub(crate) fn compound_in<'t>(&self, tables: &'t Tables) -> Option<&'t Compound> {
        tables.compounds().get(self.compound?)
    }

    /// Whether two patterns are the same compound, in one form or another.
    pub(crate) fn is_same_compound(&self, other: &Self) -> bool {
        self.compound.is_some() && self.compound == other.compound
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::{Multiplicity, Pattern, PatternGroup, Ppm, Role, Stick};

    /// A molecule of known groups.
    pub(crate) fn pattern(groups: Vec<PatternGroup>) -> Pattern {
        let name = "unknown".to_owned();
        Pattern { compound: None, name, role: Role::Volatile, prior: 0.0, slow_exchange: false, groups }
    }

    /// A group of known lines: their offsets in hertz and their shares.
    pub(crate) fn group(expected: f64, protons: f64, lines: &[(f64, f64)]) -> PatternGroup {
        PatternGroup {
            name: "CH".to_owned(),
            protons,
            multiplicity: Multiplicity::multiplet(),
            expected: Ppm(expected),
            spread: Ppm(0.01),
            sticks: lines.iter().map(|&(offset, share)| Stick { offset, share }).collect(),
            resolved: true,
            exact: true,
            rough: false,
            exchangeable: false,
            doubt: None,
            drawn: std::sync::OnceLock::new(),
            crowd: std::sync::OnceLock::new(),
        }
    }
}
