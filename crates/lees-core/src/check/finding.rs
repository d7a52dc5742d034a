//! One compound, one signal, one number with its interval.

use serde::{Deserialize, Serialize};

use crate::{Multiplicity, Ppm, ShiftRange};

/// A value with its standard uncertainty and 95 % interval, all in one unit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Estimate {
    /// Best value.
    pub value: f64,
    /// Lower end of the 95 % interval.
    pub low: f64,
    /// Upper end of the 95 % interval.
    pub high: f64,
    /// Standard uncertainty.
    pub u: f64,
}

/// One share of an uncertainty budget.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Contribution {
    /// Where it comes from, such as `noise and overlap`.
    pub source: String,
    /// Relative standard uncertainty in per cent of the value.
    pub percent: f64,
    /// What would shrink it.
    pub remedy: String,
}

/// Where an amount stands against its limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum LimitStatus {
    /// The whole interval lies over the limit.
    #[serde(rename = "above")]
    Above,
    /// The whole interval lies under the limit.
    #[serde(rename = "below")]
    Below,
    /// The limit lies within the interval.
    #[serde(rename = "undecided")]
    Undecided,
    /// There is none.
    #[serde(rename = "no limit")]
    NoLimit,
}

/// Another compound that explains the same lines about as well.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Rival {
    /// Its name.
    pub name: String,
    /// The amount if it were that one; `None` without product.
    pub wt_percent: Option<Estimate>,
}

/// One group of a compound, seen or looked for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FoundSignal {
    /// The group, such as `CH3`.
    pub group: String,
    /// Where it stands in this spectrum.
    pub shift: Ppm,
    /// The stretch its lines cover.
    pub range: ShiftRange,
    /// Protons of the group; `None` for polymers and grease.
    pub protons: Option<f64>,
    /// Its pattern.
    pub multiplicity: Multiplicity,
    /// Area found, intensity times hertz; `None` when covered.
    pub area: Option<f64>,
    /// Whether the amount rests on it.
    pub used: bool,
    /// Why not, when not used.
    pub note: Option<String>,
}

/// A compound found in the spectrum.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Finding {
    /// The usual name.
    pub name: String,
    /// CAS registry number.
    pub cas: Option<String>,
    /// Molar mass in g/mol; `None` for polymers and grease.
    pub molar_mass: Option<f64>,
    /// Moles per mole of product; without product, per mole of the most abundant volatile.
    pub mole_ratio: Option<Estimate>,
    /// 100 n / (n product + sum of n volatiles).
    pub mol_percent: Option<Estimate>,
    /// 100 m / (m product + sum of m volatiles).
    pub wt_percent: Option<Estimate>,
    /// Smallest content that would have been seen, in wt%.
    pub detection_limit_wt_percent: Option<f64>,
    /// The limit it is held against, in wt%.
    pub limit_wt_percent: Option<f64>,
    /// Where it stands against it.
    pub status: LimitStatus,
    /// Probability that the true content is within the limit.
    pub conformance: Option<f64>,
    /// Its groups.
    pub signals: Vec<FoundSignal>,
    /// Log-evidence (natural) for the whole molecule over its absence.
    pub evidence: f64,
    /// Compounds that would explain it as well.
    pub rivals: Vec<Rival>,
    /// Where the uncertainty comes from, largest first.
    pub budget: Vec<Contribution>,
}

/// Something seen that does not count as a volatile of the batch.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NotCounted {
    /// What it is and how much.
    pub finding: Finding,
    /// Why it is not counted.
    pub why: String,
}

/// How an expected product signal compares with what is there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SignalState {
    /// Found with the expected protons.
    Agrees,
    /// Nothing there.
    Missing,
    /// More protons than expected: something hides there.
    TooLarge,
    /// Fewer protons than expected.
    TooSmall,
    /// A known volatile or the NMR solvent covers it.
    Covered,
    /// It could not be measured.
    NotMeasured,
}

/// A signal that neither the product nor a known compound explains.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Unexplained {
    /// Its centre.
    pub shift: Ppm,
    /// The stretch it covers.
    pub range: ShiftRange,
    /// Its pattern.
    pub multiplicity: Multiplicity,
    /// Protons relative to one molecule of product; `None` without product.
    pub relative_protons: Option<Estimate>,
    /// Area, intensity times hertz.
    pub area: f64,
    /// A hint, such as `alkyl chain: grease or wax?`.
    pub note: Option<String>,
    /// Whether it may be alkanes beside a named one, as in hexanes or petroleum ether: they dry off.
    #[serde(default)]
    pub alkanes: bool,
}
