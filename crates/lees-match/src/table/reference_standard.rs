//! Internal standards for absolute purity.

use lees_core::{Formula, Multiplicity, Ppm};

use super::nmr_solvent::NmrSolvent;
use super::sheet::{Column, Row, Sheet, columns};
use crate::MatchError;

/// A signal of an internal standard.
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
    /// Whether the amount may rest on it. If not, it is only known to be the standard's, and two shifts are the ends of
    /// the stretch in which it lies.
    pub quantify: bool,
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
    /// CAS registry number; empty when not given.
    pub cas: String,
    /// Molecular formula.
    pub formula: Formula,
    /// Molar mass in g/mol as tabulated (agrees with the formula).
    pub molar_mass: f64,
    /// Its signals.
    pub signals: Vec<StandardSignal>,
}

impl StandardSignal {
    /// Where it shows in an NMR solvent, given by its usual name.
    ///
    /// ```
    /// let sulfone = lees_match::table::Tables::bundled().standard("dimethyl sulfone").expect("tabulated");
    /// assert_eq!(sulfone.signals[0].shifts_in("CDCl3").map(|places| places[0].0), Some(3.1), "by its source");
    /// ```
    #[must_use]
    pub fn shifts_in(&self, solvent: &str) -> Option<&[Ppm]> {
        self.shifts.iter().find(|(name, _)| name == solvent).map(|(_, shifts)| shifts.as_slice())
    }
}

const PROTONS: &str = "a whole number above 0";
/// Molar masses in catalogues differ by rounding and by the year of the atomic weights, g/mol.
const MASS_TOLERANCE: f64 = 0.05;

columns!(
    compound = "compound",
    aliases = "aliases",
    cas = "cas",
    formula = "formula",
    molar_mass = "molar_mass_g_per_mol",
    signal = "signal",
    protons = "n_h",
    multiplicity = "multiplicity",
    quantify = "quantify",
    t1 = "t1_s",
    solubility = "solubility",
    caution = "caution",
    shift_source = "shift_source",
);

/// Columns that are no NMR solvents.
const KNOWN: [&str; 14] = [
    "compound",
    "aliases",
    "cas",
    "formula",
    "molar_mass_g_per_mol",
    "signal",
    "n_h",
    "multiplicity",
    "quantify",
    "shift_source",
    "t1_s",
    "solubility",
    "caution",
    "source",
];
/// Columns without which a row says nothing.
const NEEDED: [&str; 4] = ["compound", "formula", "signal", "n_h"];
/// What a row of the chemist's own is taken to rest on when it does not say.
const OWN: &str = "own table";

pub(super) fn read(text: &str, file: &str, solvents: &[NmrSolvent]) -> Result<Vec<Standard>, MatchError> {
    let sheet = Sheet::read(text, file)?;
    let columns = Columns::of(&sheet);
    let places = places(&sheet, solvents)?;
    let mut standards: Vec<Standard> = Vec::new();
    for row in sheet.rows() {
        let signal = columns.signal(&row, &places)?;
        let name = row.required(&columns.compound)?;
        let at = standards.iter().position(|standard| standard.name == name);
        let at = match at {
            Some(at) => {
                standards[at].signals.push(signal);
                at
            }
            None => {
                standards.push(columns.standard(&row, signal)?);
                standards.len() - 1
            }
        };
        let (most, named) = (standards[at].formula.count("H"), standards[at].most_placed());
        if named > most {
            return Err(row.fault(&columns.protons, format!("{most} protons in all, by the formula")));
        }
    }
    Ok(standards)
}

/// The columns named after NMR solvents.
fn places(sheet: &Sheet, solvents: &[NmrSolvent]) -> Result<Vec<(String, Column)>, MatchError> {
    for needed in NEEDED {
        if !sheet.header().any(|name| name == needed) {
            return Err(sheet.header_fault(needed, format!("a header with at least {}", NEEDED.join(", "))));
        }
    }
    let mut found = Vec::new();
    for name in sheet.header().filter(|name| !KNOWN.contains(name)) {
        if !solvents.iter().any(|solvent| solvent.name == name) {
            let names: Vec<&str> = solvents.iter().map(|solvent| solvent.name.as_str()).collect();
            let allowed = format!("{}; NMR solvents: {}", KNOWN.join(", "), names.join(", "));
            return Err(sheet.header_fault(name, allowed));
        }
        found.push((name.to_owned(), sheet.column(name)));
    }
    if found.is_empty() {
        return Err(sheet.header_fault("", "at least one column named after an NMR solvent, such as `CDCl3`"));
    }
    Ok(found)
}

impl Columns {
    fn signal(&self, row: &Row<'_>, places: &[(String, Column)]) -> Result<StandardSignal, MatchError> {
        let quantify = row.flag(&self.quantify, true)?;
        let mut shifts = Vec::new();
        for (name, column) in places {
            let values = match quantify {
                true => row.numbers(column)?,
                false => row.range(column)?.map_or_else(Vec::new, |(low, high)| vec![low, high]),
            };
            if !values.is_empty() {
                shifts.push((name.clone(), values.into_iter().map(Ppm).collect()));
            }
        }
        Ok(StandardSignal {
            name: row.required(&self.signal)?.to_owned(),
            protons: row
                .parsed(&self.protons, PROTONS)?
                .filter(|protons| *protons > 0)
                .ok_or_else(|| row.fault(&self.protons, PROTONS))?,
            multiplicity: row
                .parsed(&self.multiplicity, "a splitting pattern")?
                .unwrap_or_else(Multiplicity::multiplet),
            shifts,
            quantify,
            t1_s: row.some(&self.t1),
            solubility: row.some(&self.solubility),
            caution: row.some(&self.caution),
            source: row.some(&self.shift_source).unwrap_or_else(|| OWN.to_owned()),
        })
    }

    fn standard(&self, row: &Row<'_>, signal: StandardSignal) -> Result<Standard, MatchError> {
        let formula: Formula = row
            .parsed(&self.formula, "a molecular formula")?
            .ok_or_else(|| row.fault(&self.formula, "a molecular formula"))?;
        let molar_mass = row.number(&self.molar_mass)?.unwrap_or_else(|| formula.molar_mass());
        if (molar_mass - formula.molar_mass()).abs() > MASS_TOLERANCE {
            let allowed = format!("{:.3} g/mol, the molar mass of {formula}", formula.molar_mass());
            return Err(row.fault(&self.molar_mass, allowed));
        }
        Ok(Standard {
            name: row.required(&self.compound)?.to_owned(),
            aliases: row.list(&self.aliases),
            cas: row.some(&self.cas).unwrap_or_default(),
            formula,
            molar_mass,
            signals: vec![signal],
        })
    }
}

impl Standard {
    /// Protons of the formula that no signal places in an NMR solvent: OH and the like, or what the table leaves out.
    ///
    /// ```
    /// let tables = lees_match::table::Tables::bundled();
    /// let sulfone = tables.standard("dimethyl sulfone").expect("tabulated");
    /// assert_eq!(sulfone.unplaced("CDCl3"), 0);
    /// ```
    #[must_use]
    pub fn unplaced(&self, solvent: &str) -> u32 {
        self.formula.count("H").saturating_sub(self.placed(solvent))
    }

    fn placed(&self, solvent: &str) -> u32 {
        let placed = self.signals.iter().filter(|signal| signal.shifts_in(solvent).is_some());
        placed.map(|signal| signal.protons).fold(0, u32::saturating_add)
    }

    /// The most protons placed in any one NMR solvent.
    fn most_placed(&self) -> u32 {
        let solvents = self.signals.iter().flat_map(|signal| &signal.shifts).map(|(name, _)| name);
        solvents.map(|name| self.placed(name)).max().unwrap_or(0)
    }
}
