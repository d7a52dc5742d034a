//! What is really in a simulated recording.

use serde::{Deserialize, Serialize};

use super::amount::{Content, Role};
use super::line::Lines;
use super::{PhaseError, Receiver, Recipe, fault};
use crate::Method;

/// A compound's true amount.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TruthCompound {
    /// The name.
    pub name: String,
    /// Molar mass in g/mol, when known.
    pub molar_mass: Option<f64>,
    /// Moles per mole of product.
    pub mole_ratio: f64,
    /// 100 n / (sum of n over product and counted volatiles); `None` for what is not counted, except the product.
    pub mol_percent: Option<f64>,
    /// 100 n M / (sum of n M over product and counted volatiles); `None` for what is not counted.
    pub wt_percent: Option<f64>,
    /// Protons per mole of product over all its signals, before saturation.
    pub protons: f64,
}

/// A true line.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TruthLine {
    /// The compound's name.
    pub compound: String,
    /// The signal's name.
    pub signal: String,
    /// Position in ppm, on the recording's axis.
    pub ppm: f64,
    /// Area in protons per mole of product as recorded: saturation included, satellites included.
    pub protons: f64,
    /// Natural full width at half height in hertz, without shim and line broadening.
    pub width_hz: f64,
}

/// Faults with the values that undo them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Planted {
    /// Phase error of the spectrum.
    pub phase: PhaseError,
    /// Index at which the first-order phase is zero.
    pub pivot_index: f64,
    /// Receiver phase and late start of the decay.
    pub receiver: Receiver,
    /// Group delay of the decay in points.
    pub group_delay: Option<f64>,
    /// How far the axis lies too high, in ppm.
    pub reference_error_ppm: f64,
    /// Standard deviation of a real point of the spectrum, in its units.
    pub noise_sigma: f64,
    /// Height of an isolated one-proton singlet of the common width, in the spectrum's units.
    pub proton_height: f64,
    /// Area in the spectrum's units times hertz of one proton.
    pub proton_area: f64,
}

/// The truth behind a recording.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Truth {
    /// Name and version of this form.
    pub schema: String,
    /// Title of the recording.
    pub title: String,
    /// Proton frequency in MHz.
    pub field_mhz: f64,
    /// The product.
    pub product: Option<TruthCompound>,
    /// Counted volatiles, in the recipe's order.
    pub volatiles: Vec<TruthCompound>,
    /// Sum over the volatiles; `None` without a product of known molar mass.
    pub total_wt_percent: Option<f64>,
    /// Water, NMR solvent, grease and the like.
    pub not_counted: Vec<TruthCompound>,
    /// Unknown impurities.
    pub unknown: Vec<TruthCompound>,
    /// How line patterns were computed.
    pub method: Method,
    /// Faults and noise.
    pub planted: Planted,
    /// Lines by falling shift.
    pub lines: Vec<TruthLine>,
}

impl Truth {
    /// The truth as JSON, indented.
    ///
    /// # Errors
    /// When a number is not finite.
    ///
    /// ```
    /// use lees_spin::simulate::{Compound, Recipe, Signal, simulate};
    /// let dye = Compound::new("dye").mass(300.0).signal(Signal::new(7.9, 1.0));
    /// let made = simulate(&Recipe { product: Some(dye), ..Recipe::default() }).expect("a sound recipe");
    /// assert!(made.truth.to_json().expect("finite").contains("\"dye\""));
    /// ```
    pub fn to_json(&self) -> Result<String, serde_json::Error> {
        serde_json::to_string_pretty(self)
    }
}

/// Sums over product and counted volatiles.
struct Sums {
    moles: f64,
    /// `None` when a molar mass is unknown.
    mass: Option<f64>,
}

pub(crate) fn truth(
    recipe: &Recipe,
    contents: &[Content<'_>],
    lines: &Lines,
    sigma: f64,
    scale: f64,
) -> Truth {
    let sums = sums(contents);
    let of =
        |role: Role| contents.iter().filter(move |c| c.role == role).map(|c| compound(c, &sums)).collect();
    let volatiles: Vec<TruthCompound> = of(Role::Volatile);
    let product: Vec<TruthCompound> = of(Role::Product);
    let total = sums.mass.and_then(|_| volatiles.iter().map(|c| c.wt_percent).sum());
    Truth {
        schema: "lees/truth/1".to_owned(),
        title: recipe.title.clone(),
        field_mhz: recipe.instrument.field_mhz,
        total_wt_percent: total.filter(|_| !product.is_empty()),
        product: product.into_iter().next(),
        volatiles,
        not_counted: of(Role::NotCounted),
        unknown: of(Role::Unknown),
        method: lines.method,
        planted: planted(recipe, sigma, scale),
        lines: true_lines(recipe, contents, lines),
    }
}

fn sums(contents: &[Content<'_>]) -> Sums {
    let counted = || contents.iter().filter(|c| matches!(c.role, Role::Product | Role::Volatile));
    let has_product = contents.iter().any(|c| c.role == Role::Product);
    let mass: Option<f64> = counted().map(|c| Some(c.moles * c.compound.molar_mass()?)).sum();
    Sums { moles: counted().map(|c| c.moles).sum(), mass: mass.filter(|_| has_product) }
}

fn compound(content: &Content<'_>, sums: &Sums) -> TruthCompound {
    let counted = matches!(content.role, Role::Product | Role::Volatile);
    let molar_mass = content.compound.molar_mass();
    let mass = molar_mass.map(|m| content.moles * m);
    TruthCompound {
        name: content.compound.name.clone(),
        molar_mass,
        mole_ratio: content.moles,
        mol_percent: counted.then(|| 100.0 * content.moles / sums.moles),
        wt_percent: mass.zip(sums.mass).filter(|_| counted).map(|(mass, all)| 100.0 * mass / all),
        protons: content.moles * content.compound.signals.iter().map(|s| s.h).sum::<f64>(),
    }
}

fn planted(recipe: &Recipe, sigma: f64, scale: f64) -> Planted {
    Planted {
        phase: recipe.faults.phase,
        pivot_index: fault::pivot_index(recipe),
        receiver: recipe.faults.receiver,
        group_delay: recipe.instrument.group_delay,
        reference_error_ppm: recipe.faults.reference_error_ppm,
        noise_sigma: sigma,
        proton_height: super::noise::reference_height(recipe) * scale,
        proton_area: scale,
    }
}

fn true_lines(recipe: &Recipe, contents: &[Content<'_>], lines: &Lines) -> Vec<TruthLine> {
    let tube = &recipe.instrument;
    let mut all: Vec<TruthLine> = lines
        .parents
        .iter()
        .map(|line| {
            let compound = contents[line.content].compound;
            TruthLine {
                compound: compound.name.clone(),
                signal: compound.signals[line.signal].label(),
                ppm: tube.carrier_ppm + line.offset / tube.field_mhz + recipe.faults.reference_error_ppm,
                protons: line.amplitude,
                width_hz: line.width,
            }
        })
        .collect();
    all.sort_by(|a, b| b.ppm.total_cmp(&a.ppm));
    all
}
