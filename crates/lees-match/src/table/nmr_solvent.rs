//! NMR solvents: residual lines, water, and the labels files use for them.

use lees_core::{Formula, Hertz, Multiplicity, Ppm};

use super::names::plain_name;
use super::sheet::{Row, Sheet, columns};
use crate::MatchError;

/// A line of the incompletely deuterated solvent.
#[derive(Debug, Clone, PartialEq)]
pub struct ResidualLine {
    /// The species, such as `CHD2OD`.
    pub species: String,
    /// Its signal, such as `CHD2`.
    pub signal: String,
    /// Where it stands by the published tables.
    pub shift: Ppm,
    /// The pattern as written; deuterium splits it, see `deuterons`.
    pub multiplicity: Multiplicity,
    /// How many equivalent deuterons split it (spin 1: 2 give 1:2:3:2:1).
    pub deuterons: u8,
    /// The coupling to them; `None` when unresolved.
    pub j_hd: Option<Hertz>,
    /// Protons in the residual species.
    pub protons: u32,
    /// Where the shift comes from.
    pub source: String,
    /// How it was checked: `R3`, `R2`, `R1` independent reprints, or `memory`.
    pub check: String,
}

/// Solvents that shift signals alike.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Family {
    /// Chloroform and the like.
    Chlorinated,
    /// Benzene and the like: ring currents move everything.
    Aromatic,
    /// Dipolar, aprotic.
    Dipolar,
    /// Ethers.
    Ether,
    /// Alcohols, water, acids.
    Protic,
    /// Alkanes.
    Hydrocarbon,
}

/// An NMR solvent.
#[derive(Debug, Clone, PartialEq)]
pub struct NmrSolvent {
    /// Position in [`super::Tables::nmr_solvents`].
    pub index: usize,
    /// The usual name, such as `CDCl3`.
    pub name: String,
    /// Other names.
    pub aliases: Vec<String>,
    /// Labels met in files, which may be those of the undeuterated compound.
    pub labels: Vec<String>,
    /// CAS registry number.
    pub cas: String,
    /// Formula of the deuterated compound.
    pub formula: Formula,
    /// The undeuterated compound's name in the impurity table.
    pub protio: Option<String>,
    /// What it is like.
    pub family: Family,
    /// Lines of the residual species.
    pub residual: Vec<ResidualLine>,
    /// Where water shows.
    pub water: Option<Ppm>,
    /// `H2O` or, in protic solvents, `HOD`.
    pub water_species: String,
    /// How far below water its half deuterated kind stands, in ppm, where exchange is slow enough to show both.
    pub hdo_below_water: Option<Ppm>,
    /// How the water line moves with temperature, in ppm/K.
    pub water_ppm_per_k: Option<f64>,
    /// Usual isotopic grades in atom % D.
    pub grades_atom_percent: Vec<f64>,
    /// Boiling point in degC.
    pub boiling_point_c: Option<f64>,
    /// Melting point in degC.
    pub melting_point_c: Option<f64>,
    /// A remark from the table.
    pub note: String,
}

/// HDO in D2O between 0 and 100 degC: `5.060 - 0.0122 t + 2.11e-5 t^2`.
///
/// Source: Gottlieb, Kotlyar, Nudelman, J. Org. Chem. 1997, 62, 7512 (from memory).
const HDO_POLYNOMIAL: [f64; 3] = [5.060, -0.0122, 2.11e-5];

impl NmrSolvent {
    /// Where water shows at a temperature in kelvin; the tabulated place when the drift is not known.
    ///
    /// ```
    /// let tables = lees_match::table::Tables::bundled();
    /// let heavy_water = tables.nmr_solvent("D2O").expect("tabulated");
    /// let warm = heavy_water.water_at(Some(273.15 + 50.0)).expect("known");
    /// assert!((warm.value() - 4.503).abs() < 0.001);
    /// ```
    #[must_use]
    pub fn water_at(&self, temperature_k: Option<f64>) -> Option<Ppm> {
        let tabulated = self.water;
        match temperature_k.map(|kelvin| kelvin - 273.15) {
            Some(celsius) if self.water_ppm_per_k.is_some() && (0.0..=100.0).contains(&celsius) => {
                let [a, b, c] = HDO_POLYNOMIAL;
                Some(Ppm(a + b * celsius + c * celsius * celsius))
            }
            _ => tabulated,
        }
    }

    /// Whether a label, already stripped by [`plain_name`], names this solvent.
    fn answers_to(&self, plain: &str) -> bool {
        std::iter::once(&self.name)
            .chain(&self.aliases)
            .chain(&self.labels)
            .any(|name| plain_name(name) == plain)
    }
}

/// Finds the NMR solvent a label means: first the whole label, then its parts.
pub(super) fn by_label<'a>(solvents: &'a [NmrSolvent], label: &str) -> Option<&'a NmrSolvent> {
    let whole = plain_name(label);
    if whole.is_empty() {
        return None;
    }
    if let Some(found) = solvents.iter().find(|solvent| solvent.answers_to(&whole)) {
        return Some(found);
    }
    let mut found: Vec<&NmrSolvent> = Vec::new();
    for part in label.split(|c: char| !(c.is_alphanumeric() || c == '-')) {
        let plain = plain_name(part);
        for solvent in solvents.iter().filter(|solvent| !plain.is_empty() && solvent.answers_to(&plain)) {
            if !found.iter().any(|known| known.index == solvent.index) {
                found.push(solvent);
            }
        }
    }
    match found.as_slice() {
        [only] => Some(only),
        _ => None,
    }
}

/// Reads the table of NMR solvents: one row per residual line.
pub(super) fn read(text: &str, file: &str) -> Result<Vec<NmrSolvent>, MatchError> {
    let sheet = Sheet::read(text, file)?;
    let columns = Columns::of(&sheet);
    let mut solvents: Vec<NmrSolvent> = Vec::new();
    for row in sheet.rows() {
        let name = row.required(&columns.solvent)?;
        let line = columns.line(&row)?;
        match solvents.iter_mut().find(|solvent| solvent.name == name) {
            Some(known) => known.residual.push(line),
            None => {
                let index = solvents.len();
                solvents.push(columns.solvent(&row, index, line)?);
            }
        }
    }
    Ok(solvents)
}

columns!(
    solvent = "solvent",
    aliases = "aliases",
    labels = "labels",
    cas = "cas",
    formula = "formula",
    family = "family",
    protio = "protio_compound",
    species = "residual_species",
    signal = "signal",
    shift = "residual_shift_ppm",
    multiplicity = "multiplicity",
    deuterons = "deuterons",
    j_hd = "j_hd_hz",
    protons = "n_h",
    water = "water_shift_ppm",
    water_species = "water_species",
    hdo = "hdo_below_water_ppm",
    water_slope = "water_temp_coeff_ppm_per_k",
    grades = "isotopic_grades_atom_pct_d",
    bp = "bp_c",
    mp = "mp_c",
    source = "shift_source",
    check = "shift_check",
    note = "note",
);

impl Columns {
    fn line(&self, row: &Row<'_>) -> Result<ResidualLine, MatchError> {
        let shift =
            row.number(&self.shift)?.ok_or_else(|| row.fault(&self.shift, "a chemical shift in ppm"))?;
        Ok(ResidualLine {
            species: row.required(&self.species)?.to_owned(),
            signal: row.required(&self.signal)?.to_owned(),
            shift: Ppm(shift),
            multiplicity: row
                .parsed(&self.multiplicity, "a splitting pattern such as s, t, quint, m")?
                .unwrap_or_else(Multiplicity::multiplet),
            deuterons: row.parsed(&self.deuterons, "a whole number")?.unwrap_or(0),
            j_hd: row.number(&self.j_hd)?.map(Hertz),
            protons: row.parsed(&self.protons, "a whole number")?.unwrap_or(1),
            source: row.text(&self.source).to_owned(),
            check: row.text(&self.check).to_owned(),
        })
    }

    fn solvent(&self, row: &Row<'_>, index: usize, line: ResidualLine) -> Result<NmrSolvent, MatchError> {
        Ok(NmrSolvent {
            index,
            name: row.required(&self.solvent)?.to_owned(),
            aliases: row.list(&self.aliases),
            labels: row.list(&self.labels),
            cas: row.required(&self.cas)?.to_owned(),
            formula: row
                .parsed(&self.formula, "a molecular formula")?
                .ok_or_else(|| row.fault(&self.formula, "a molecular formula"))?,
            protio: row.some(&self.protio),
            family: self.family(row)?,
            residual: vec![line],
            water: row.number(&self.water)?.map(Ppm),
            water_species: row.text(&self.water_species).to_owned(),
            hdo_below_water: row.number(&self.hdo)?.map(Ppm),
            water_ppm_per_k: row.number(&self.water_slope)?,
            grades_atom_percent: row.numbers(&self.grades)?,
            boiling_point_c: row.number(&self.bp)?,
            melting_point_c: row.number(&self.mp)?,
            note: row.text(&self.note).to_owned(),
        })
    }

    fn family(&self, row: &Row<'_>) -> Result<Family, MatchError> {
        Ok(match row.text(&self.family) {
            "chlorinated" => Family::Chlorinated,
            "aromatic" => Family::Aromatic,
            "dipolar" => Family::Dipolar,
            "ether" => Family::Ether,
            "protic" => Family::Protic,
            "hydrocarbon" => Family::Hydrocarbon,
            _ => {
                let allowed = "chlorinated, aromatic, dipolar, ether, protic, hydrocarbon";
                return Err(row.fault(&self.family, allowed));
            }
        })
    }
}
