//! Boiling points, vapour pressures, hazards and habits.

use super::sheet::{Row, Sheet, columns};
use crate::MatchError;

/// Physical properties and what the trade knows of a solvent.
#[derive(Debug, Clone, PartialEq)]
pub struct Properties {
    /// Boiling point at 101.325 kPa in degC.
    pub boiling_point_c: Option<f64>,
    /// Vapour pressure at 20 degC in kPa.
    pub vapour_pressure_20c_kpa: Option<f64>,
    /// Vapour pressure at 25 degC in kPa.
    pub vapour_pressure_25c_kpa: Option<f64>,
    /// Density at 25 degC in g/mL.
    pub density_25c: Option<f64>,
    /// Flash point in degC.
    pub flash_point_c: Option<f64>,
    /// Whether it forms peroxides on storage.
    pub peroxide_former: bool,
    /// What is known about that.
    pub peroxide_note: Option<String>,
    /// Whether drying can remove it at all.
    pub volatile: bool,
    /// A hazard worth a word of caution (memory).
    pub hazard: Option<String>,
    /// How it behaves on drying (common practice, no source).
    pub habit: Option<String>,
    /// Where the boiling point comes from.
    pub boiling_point_source: Option<String>,
}

/// A row of the table of properties.
pub(super) struct PropertyRow {
    pub(super) compound: String,
    pub(super) properties: Properties,
}

columns!(
    compound = "compound",
    bp = "bp_c",
    bp_source = "bp_source",
    vp20 = "vapour_pressure_20c_kpa",
    vp25 = "vapour_pressure_25c_kpa",
    density = "density_25c_g_per_ml",
    flash = "flash_point_c",
    peroxide = "peroxide_former",
    peroxide_note = "peroxide_note",
    volatile = "volatile",
    hazard = "hazard",
    habit = "habit",
);

pub(super) fn read(text: &str, file: &str) -> Result<Vec<PropertyRow>, MatchError> {
    let sheet = Sheet::read(text, file)?;
    let columns = Columns::of(&sheet);
    sheet.rows().map(|row| columns.read(&row)).collect()
}

impl Columns {
    fn read(&self, row: &Row<'_>) -> Result<PropertyRow, MatchError> {
        Ok(PropertyRow {
            compound: row.required(&self.compound)?.to_owned(),
            properties: Properties {
                boiling_point_c: row.number(&self.bp)?,
                vapour_pressure_20c_kpa: row.number(&self.vp20)?,
                vapour_pressure_25c_kpa: row.number(&self.vp25)?,
                density_25c: row.number(&self.density)?,
                flash_point_c: row.number(&self.flash)?,
                peroxide_former: row.flag(&self.peroxide, false)?,
                peroxide_note: row.some(&self.peroxide_note),
                volatile: row.flag(&self.volatile, true)?,
                hazard: row.some(&self.hazard),
                habit: row.some(&self.habit),
                boiling_point_source: row.some(&self.bp_source),
            },
        })
    }
}
