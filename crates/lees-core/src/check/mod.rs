//! What one spectrum told: the value that every table, page and picture is made from.
//!
//! [`Check`] is built by the matching floor and only rendered above it. `None` means *not known*; it is never
//! written as zero.

mod finding;
mod verdict;

use serde::{Deserialize, Serialize};

pub use finding::{
    Contribution, Estimate, Finding, FoundSignal, LimitStatus, NotCounted, Rival, SignalState, Unexplained,
};
pub use verdict::{NotFound, Total, Verdict};

use crate::{Acquisition, Formula, Line, Megahertz, Multiplet, Ppm, SettingMap, ShiftRange, Spectrum};

/// Whether the input was a spectrum or a FID.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum InputKind {
    /// A free induction decay, transformed here.
    Fid,
    /// A spectrum processed elsewhere.
    Spectrum,
}

/// Where the spectrum came from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Input {
    /// The path as given, with `#n` for the n-th spectrum of a file that has several.
    pub path: String,
    /// The title in the file, cleaned of control characters.
    pub title: String,
    /// FID or spectrum.
    pub kind: InputKind,
    /// The proton frequency.
    pub field: Megahertz,
    /// The NMR solvent that was assumed, by its usual name; `None` when it could not be told.
    pub solvent: Option<String>,
    /// Number of points of the input.
    pub points: usize,
    /// SHA-256 of the input bytes, lower-case hexadecimal.
    pub sha256: String,
    /// How the spectrum was taken.
    pub acquisition: Acquisition,
}

/// How the shift axis was set.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Reference {
    /// The signal used, such as `CHCl3 in CDCl3` or `TMS`.
    pub signal: String,
    /// Where it stood before.
    pub observed: Ppm,
    /// Where the table puts it.
    pub expected: Ppm,
    /// What was added to every shift.
    pub applied: Ppm,
}

/// One of the product's expected signals and what was found there.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ProductSignal {
    /// The stretch that was measured.
    pub range: ShiftRange,
    /// The entry as text, such as `8.62 (d, J = 8.2 Hz, 2H)`.
    pub text: String,
    /// Protons expected.
    pub protons: f64,
    /// Protons found, on the scale of the signals used; `None` when not measurable.
    pub found_protons: Option<Estimate>,
    /// Whether the amount of product rests on it.
    pub used: bool,
    /// How expectation and finding compare.
    pub state: SignalState,
    /// Why it was not used, or what hides there.
    pub note: Option<String>,
}

/// What is known of the product in this spectrum.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ProductFound {
    /// The name.
    pub name: String,
    /// The formula, when given.
    pub formula: Option<Formula>,
    /// Molar mass in g/mol.
    pub molar_mass: f64,
    /// Its signals, highest shift first.
    pub signals: Vec<ProductSignal>,
    /// Relative standard uncertainty of the amount per proton.
    pub relative_u: Option<f64>,
    /// Area of one product proton, intensity times hertz.
    pub area_per_proton: Option<f64>,
}

/// Mass fraction of the product by internal standard.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AbsolutePurity {
    /// The standard's name.
    pub standard: String,
    /// Its signal, as `name (shift)`.
    pub standard_signal: String,
    /// Product mass fraction of the weighed sample in per cent.
    pub wt_percent: Estimate,
    /// Where the uncertainty comes from.
    pub budget: Vec<Contribution>,
}

/// What a corrected yield rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum YieldBasis {
    /// The product against a weighed internal standard.
    #[serde(rename = "internal standard")]
    InternalStandard,
    /// Everything but what was seen beside the product is taken for product: what NMR does not show makes it too high.
    #[serde(rename = "difference")]
    Difference,
}

/// A yield corrected for what is not product.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CorrectedYield {
    /// What it rests on.
    pub basis: YieldBasis,
    /// Weighed mass in g.
    pub crude_mass_g: f64,
    /// Mass of product in it, in g.
    pub product_mass_g: Estimate,
    /// Theoretical mass in g, when given.
    pub theoretical_mass_g: Option<f64>,
    /// Yield in per cent, when the theoretical mass is given.
    pub yield_percent: Option<Estimate>,
    /// What the interval covers only by a guess, or not at all, in sentences.
    pub not_known: Vec<String>,
}

/// What produced the result.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Provenance {
    /// Version of this library.
    pub version: String,
    /// SHA-256 of the reference tables used, first 16 hexadecimal digits.
    pub tables: String,
    /// SHA-256 of settings and product, first 16 hexadecimal digits.
    pub settings: String,
}

/// The whole result for one spectrum.
#[derive(Debug, Clone, PartialEq)]
pub struct Check {
    /// Where the spectrum came from.
    pub input: Input,
    /// How the axis was set; `None` when no reference was found.
    pub reference: Option<Reference>,
    /// The product, when described.
    pub product: Option<ProductFound>,
    /// Counted volatiles, largest mass fraction first.
    pub volatiles: Vec<Finding>,
    /// Their sum.
    pub total: Total,
    /// Seen but not counted: water, residual NMR solvent, grease, TMS and the like.
    pub not_counted: Vec<NotCounted>,
    /// Volatiles of the tables that were not found, with what would have been seen.
    pub not_found: Vec<NotFound>,
    /// Signals nobody answers for.
    pub unexplained: Vec<Unexplained>,
    /// Absolute purity, when an internal standard was given.
    pub purity: Option<AbsolutePurity>,
    /// Corrected yield, when a mass was given.
    pub corrected_yield: Option<CorrectedYield>,
    /// Dry, needs drying, undecided.
    pub verdict: Verdict,
    /// Why, in sentences, the deciding one first.
    pub reasons: Vec<String>,
    /// What to do about it.
    pub advice: Vec<String>,
    /// Safety and scope, always to be shown.
    pub cautions: Vec<String>,
    /// Things a careful reader should know.
    pub warnings: Vec<String>,
    /// Every setting really used.
    pub settings: SettingMap,
    /// What produced it.
    pub provenance: Provenance,
    /// All lines, for figures and traces.
    pub lines: Vec<Line>,
    /// All multiplets, for figures and the journal line.
    pub multiplets: Vec<Multiplet>,
    /// The spectrum as it was quantified: phased, baseline removed, referenced.
    pub spectrum: Spectrum,
    /// Standard deviation of one point's noise, in intensity units.
    pub noise: f64,
}
