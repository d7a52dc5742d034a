//! The table of residual-solvent limits.

use lees_core::MassFraction;

use super::IchLimit;
use super::sheet::{Row, Sheet, columns};
use crate::MatchError;

/// A row of the table of limits (ICH Q3C).
#[derive(Debug, Clone, PartialEq)]
pub struct LimitRow {
    /// The entry's name.
    pub name: String,
    /// Other names.
    pub aliases: Vec<String>,
    /// CAS registry number.
    pub cas: String,
    /// Compounds whose sum the entry limits, when it is a group.
    pub covers: Vec<String>,
    /// The limit.
    pub limit: IchLimit,
    /// The guideline's edition.
    pub source: String,
    /// `read` or `memory`.
    pub check: String,
}

columns!(
    solvent = "solvent",
    aliases = "aliases",
    cas = "cas",
    covers = "covers",
    class = "class",
    pde = "pde_mg_per_day",
    limit = "limit_ppm",
    note = "note",
    source = "source",
    check = "check",
);

pub(super) fn read(text: &str, file: &str) -> Result<Vec<LimitRow>, MatchError> {
    let sheet = Sheet::read(text, file)?;
    let columns = Columns::of(&sheet);
    sheet.rows().map(|row| columns.read(&row)).collect()
}

impl Columns {
    fn read(&self, row: &Row<'_>) -> Result<LimitRow, MatchError> {
        Ok(LimitRow {
            name: row.required(&self.solvent)?.to_owned(),
            aliases: row.list(&self.aliases),
            cas: row.required(&self.cas)?.to_owned(),
            covers: row.list(&self.covers),
            limit: IchLimit {
                class: self.class(row)?,
                pde_mg_per_day: row.number(&self.pde)?,
                limit: row.number(&self.limit)?.map(MassFraction::from_ppm),
                shared_entry: None,
                note: row.text(&self.note).to_owned(),
            },
            source: row.required(&self.source)?.to_owned(),
            check: row.required(&self.check)?.to_owned(),
        })
    }

    fn class(&self, row: &Row<'_>) -> Result<Option<u8>, MatchError> {
        match row.text(&self.class) {
            "1" => Ok(Some(1)),
            "2" => Ok(Some(2)),
            "3" => Ok(Some(3)),
            "none" => Ok(None),
            _ => Err(row.fault(&self.class, "1, 2, 3, none")),
        }
    }
}
