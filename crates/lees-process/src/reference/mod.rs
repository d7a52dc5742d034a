//! The reference: by how much the shift axis must be moved, and which NMR solvent the spectrum speaks for.
//!
//! A choice by probability over solvent and displacement together. A known line seen where it should be counts by how
//! much likelier it is there as that line than as one of the spectrum's other lines: in a crowd of lines an agreement
//! says little, a quintet split by deuterium says much. A displacement far from zero starts with long odds against it.

mod choose;
mod comb;
mod lay;
mod peaks;
mod trace;
mod weigh;

use lees_core::{Hertz, Multiplicity, Ppm};
use serde::{Deserialize, Serialize};

pub use choose::{Choice, Doubtful, choose};

use crate::Processed;

/// Settings of the search for the reference.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct ReferenceSettings {
    /// Largest displacement of the whole spectrum looked for, ppm.
    pub most_offset_ppm: f64,
    /// Odds an answer near zero must have against everything else.
    pub least_odds: f64,
    /// Odds an answer must have that moves the axis far or contradicts the solvent label.
    pub least_odds_unusual: f64,
}

impl Default for ReferenceSettings {
    fn default() -> Self {
        Self { most_offset_ppm: 5.5, least_odds: 6.0, least_odds_unusual: 100.0 }
    }
}

/// What a known line is good for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ReferenceRole {
    /// The residual line of the NMR solvent: nearly always there, fixes the axis.
    Residual,
    /// TMS, DSS and the like: fixes the axis when there.
    Standard,
    /// Water: mostly there, speaks for a displacement, does not fix it.
    Companion,
    /// Silicone and the like: seldom there, explains a line that would pass for another.
    Occasional,
    /// A signal of the product: expected anywhere in its stretch.
    Stretch,
}

/// A line that should be in the spectrum.
#[derive(Debug, Clone, PartialEq)]
pub struct ReferenceCandidate {
    /// Its name, such as `residual CHD2SOCD3`.
    pub name: String,
    /// Where it should be.
    pub expected: Ppm,
    /// How far it may lie from there on a right axis: twice the scale of its scatter, half the width of a stretch.
    pub tolerance: Ppm,
    /// Its pattern, when known. Of a residual line, `quint` is two deuterons (1:2:3:2:1), `t` is one (1:1:1).
    pub multiplicity: Option<Multiplicity>,
    /// Its coupling, when known.
    pub coupling: Option<Hertz>,
    /// What it is good for.
    pub role: ReferenceRole,
}

/// An NMR solvent the sample may be in, with all lines that should then be seen.
#[derive(Debug, Clone, PartialEq)]
pub struct ReferenceHypothesis {
    /// The solvent's name.
    pub name: String,
    /// How likely it is before the spectrum is looked at; only ratios matter.
    pub prior: f64,
    /// Its lines, and those that do not depend on it.
    pub candidates: Vec<ReferenceCandidate>,
}

/// The reference found.
#[derive(Debug, Clone, PartialEq)]
pub struct ReferenceFound {
    /// The line the axis was fixed on.
    pub name: String,
    /// Where that line belongs.
    pub expected: Ppm,
    /// Where it stands before the axis is moved.
    pub observed: Ppm,
    /// To be added to every shift; zero when the line stands in its place within the uncertainty of its position.
    pub offset: Ppm,
    /// Standard uncertainty of the offset: of the line's position alone.
    pub offset_u: Ppm,
    /// All known lines that agree.
    pub agreeing: Vec<String>,
    /// Of each of them where it belongs, and where it stands before the axis is moved.
    pub seen: Vec<(Ppm, Ppm)>,
    /// Evidence for this displacement against all others together (natural logarithm of odds).
    pub evidence: f64,
    /// Lead over the next best displacement (natural logarithm of odds).
    pub lead: f64,
}

/// Finds the displacement of a spectrum in a known solvent, or `None` when nothing is sure.
///
/// Every line that could be the residual line or the standard proposes a displacement; all other candidates then
/// speak for or against it. A displacement far from zero (a wrong lock) needs several lines.
///
/// ```
/// use lees_core::{Measurement, Ppm};
/// use lees_process::reference::{ReferenceCandidate, ReferenceRole, ReferenceSettings, find};
/// use lees_process::{Settings, Workspace, process};
/// use lees_spin::simulate::{Recipe, simulate};
/// let mut recipe = Recipe::wet_dye();
/// recipe.faults.reference_error_ppm = 0.02;
/// let measured = Measurement::Spectrum(simulate(&recipe).expect("a sound recipe").spectrum);
/// let done = process(&measured, &Settings::default(), &mut Workspace::new())?;
/// let chloroform = ReferenceCandidate {
///     name: "CHCl3 in CDCl3".into(), expected: Ppm(7.26), tolerance: Ppm(0.01),
///     multiplicity: Some("s".parse().expect("a singlet")), coupling: None, role: ReferenceRole::Residual,
/// };
/// let found = find(&done, &[chloroform], &ReferenceSettings::default()).expect("one line, near its place");
/// assert!((found.observed.0 - 7.28).abs() < 0.001);
/// assert!((found.offset.0 + 0.02).abs() < 0.001, "to be added to every shift");
/// # Ok::<(), lees_process::ProcessError>(())
/// ```
#[must_use]
pub fn find(
    processed: &Processed,
    candidates: &[ReferenceCandidate],
    settings: &ReferenceSettings,
) -> Option<ReferenceFound> {
    let only = ReferenceHypothesis { name: String::new(), prior: 1.0, candidates: candidates.to_vec() };
    choose(processed, &[only], settings).found
}
