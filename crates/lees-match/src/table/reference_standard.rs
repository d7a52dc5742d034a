//! Internal standards for absolute purity.

use lees_core::{Formula, Multiplicity, Ppm};

use super::sheet::{Column, Row, Sheet, columns};
use crate::MatchError;

/// A signal of an internal standard that may be integrated.
#[derive(Debug, Clone, PartialEq)]
pub struct StandardSignal {
    /// Its name, such as `OCH3`.
    pub name: String,
    /// How many protons.
    pub protons: u32,
    /// The pattern.
    pub multiplicity: Multiplicity,
    /// Where it shows, by NMR solvent name; two lines integrated together give two shifts.
    pub shifts: Vec<(String, Vec<Ppm>)>,
    /// Spin-lattice relaxation time as written in the source, in seconds.
    pub t1_s: Option<String>,
    /// Where it dissolves.
    pub solubility: Option<String>,
    /// What to mind.
    pub caution: Option<String>,
    /// Where the shifts come from.
    pub source: String,
}

/// An internal standard.
#[derive(Debug, Clone, PartialEq)]
pub struct Standard {
    /// The usual name.
    pub name: String,
    /// Other names.
    pub aliases: Vec<String>,
    /// CAS registry number.
    pub cas: String,
    /// Molecular formula.
    pub formula: Formula,
    /// Molar mass in g/mol as tabulated (agrees with the formula).
    pub molar_mass: f64,
    /// Its signals.
    pub signals: Vec<StandardSignal>,
}

impl StandardSignal {
    /// Where it shows in an NMR solvent.
    #[must_use]
    pub fn shifts_in(&self, solvent: &str) -> Option<&[Ppm]> {
        self.shifts.iter().find(|(name, _)| name == solvent).map(|(_, shifts)| shifts.as_slice())
    }
}

/// Molar masses in catalogues differ by rounding and by the year of the atomic weights, g/mol.
const MASS_TOLERANCE: f64 = 0.05;

const SOLVENTS: [&str; 4] = ["CDCl3", "DMSO-d6", "D2O", "CD3OD"];

columns!(
    compound = "compound",
    aliases = "aliases",
    cas = "cas",
    formula = "formula",
    molar_mass = "molar_mass_g_per_mol",
    signal = "signal",
    protons = "n_h",
    multiplicity = "multiplicity",
    t1 = "t1_s",
    solubility = "solubility",
    caution = "caution",
    shift_source = "shift_source",
);

pub(super) fn read(text: &str, file: &str) -> Result<Vec<Standard>, MatchError> {
    let sheet = Sheet::read(text, file)?;
    let columns = Columns::of(&sheet);
    let places = SOLVENTS.map(|name| (name, sheet.column(name)));
    let mut standards: Vec<Standard> = Vec::new();
    for row in sheet.rows() {
        let signal = columns.signal(&row, &places)?;
        let name = row.required(&columns.compound)?;
        match standards.iter_mut().find(|standard| standard.name == name) {
            Some(known) => known.signals.push(signal),
            None => standards.push(columns.standard(&row, signal)?),
        }
    }
    Ok(standards)
}

impl Columns {
    fn signal(&self, row: &Row<'_>, places: &[(&str, Column)]) -> Result<StandardSignal, MatchError> {
        let mut shifts = Vec::new();
        for (name, column) in places {
            let values = row.numbers(column)?;
            if !values.is_empty() {
                shifts.push(((*name).to_owned(), values.into_iter().map(Ppm).collect()));
            }
        }
        Ok(StandardSignal {
            name: row.required(&self.signal)?.to_owned(),
            protons: row
                .parsed(&self.protons, "a whole number")?
                .ok_or_else(|| row.fault(&self.protons, "a whole number"))?,
            multiplicity: row
                .parsed(&self.multiplicity, "a splitting pattern")?
                .unwrap_or_else(Multiplicity::multiplet),
            shifts,
            t1_s: row.some(&self.t1),
            solubility: row.some(&self.solubility),
            caution: row.some(&self.caution),
            source: row.required(&self.shift_source)?.to_owned(),
        })
    }

    fn standard(&self, row: &Row<'_>, signal: StandardSignal) -> Result<Standard, MatchError> {
        let formula: Formula = row
            .parsed(&self.formula, "a molecular formula")?
            .ok_or_else(|| row.fault(&self.formula, "a molecular formula"))?;
        let molar_mass = row
            .number(&self.molar_mass)?
            .ok_or_else(|| row.fault(&self.molar_mass, "a molar mass in g/mol"))?;
        if (molar_mass - formula.molar_mass()).abs() > MASS_TOLERANCE {
            let allowed = format!("{:.3} g/mol, the molar mass of {formula}", formula.molar_mass());
            return Err(row.fault(&self.molar_mass, allowed));
        }
        Ok(Standard {
            name: row.required(&self.compound)?.to_owned(),
            aliases: row.list(&self.aliases),
            cas: row.required(&self.cas)?.to_owned(),
            formula,
            molar_mass,
            signals: vec![signal],
        })
    }
}
