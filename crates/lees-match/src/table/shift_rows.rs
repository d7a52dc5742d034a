//! Reads rows of the impurity table, ours and the user's.

use std::collections::HashMap;
use std::sync::Arc;

use lees_core::{Formula, Hertz, Multiplicity, Ppm, Seconds};

use super::compound::Cell;
use super::names::plain_name;
use super::sheet::{Column, Row, Sheet, columns, parse_range};
use super::{Class, Compound, Group, NmrSolvent, ShiftStatus, TableShift, Usage};
use crate::MatchError;

columns!(
    compound = "compound",
    aliases = "aliases",
    cas = "cas",
    formula = "formula",
    class = "class",
    usage = "usage",
    t1 = "t1_s",
    group = "group",
    protons = "n_h",
    multiplicity = "multiplicity",
    couplings = "j_hz",
    partners = "partners",
    span = "span_hz",
    carbon_coupling = "j_ch_hz",
    exchangeable = "exchangeable",
    instead = "match_instead",
    no_value = "no_value",
    source_main = "source_main",
    check_main = "check_main",
    source_extra = "source_extra",
    check_extra = "check_extra",
    note = "note",
);

const KNOWN: [&str; 22] = [
    "compound",
    "aliases",
    "cas",
    "formula",
    "class",
    "usage",
    "t1_s",
    "group",
    "n_h",
    "multiplicity",
    "j_hz",
    "partners",
    "span_hz",
    "j_ch_hz",
    "exchangeable",
    "match_instead",
    "no_value",
    "source_main",
    "check_main",
    "source_extra",
    "check_extra",
    "note",
];

/// NMR solvents of the first published table; the rest carry the `_extra` source and check.
const MAIN: [&str; 7] = ["CDCl3", "acetone-d6", "DMSO-d6", "C6D6", "CD3CN", "CD3OD", "D2O"];

/// Scatter between a published table and a dilute sample, ppm (0.01 for protons on carbon in aprotic solvents,
/// 0.02 beside OH: common practice; the tables are given to 0.01).
const U_READ: f64 = 0.01;
/// The same when the value is from memory of the published table.
const U_MEMORY: f64 = 0.015;
/// The same for typical literature values from memory, marked +-0.03 in the table: a rectangular law of that half-width.
const U_GENERAL: f64 = 0.0173;
/// The same for a value that replaces a printed one thought wrong.
const U_DOUBTFUL: f64 = 0.05;
/// The same for a row the user gave, unless its `check` says otherwise.
const U_USER: f64 = 0.02;

/// Relaxation times assumed where a row says nothing, s (memory: small molecules in air-equilibrated solution).
const USUAL_T1: (f64, f64) = (2.0, 8.0);

/// Whose rows these are.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Origin {
    Bundled,
    User,
}

struct ShiftColumn {
    solvent: usize,
    name: String,
    column: Column,
    main: bool,
}

struct Source<'a> {
    columns: Columns,
    shifts: Vec<ShiftColumn>,
    solvents: &'a [NmrSolvent],
    origin: Origin,
}

/// Reads a table's rows into `compounds`: rows of a known compound and group fill in or replace its cells.
pub(super) fn read_into(
    compounds: &mut Vec<Compound>,
    solvents: &[NmrSolvent],
    text: &str,
    file: &str,
    origin: Origin,
) -> Result<(), MatchError> {
    let sheet = Sheet::read(text, file)?;
    let source =
        Source { columns: Columns::of(&sheet), shifts: shift_columns(&sheet, solvents)?, solvents, origin };
    let mut known = index(compounds);
    for row in sheet.rows() {
        let at = source.compound(&row, compounds, &mut known)?;
        source.group(&row, &mut compounds[at])?;
    }
    for row in sheet.rows() {
        source.couple(&row, compounds, &known)?;
        source.check(&row, compounds, &known)?;
    }
    Ok(())
}

fn index(compounds: &[Compound]) -> HashMap<String, usize> {
    let mut known = HashMap::new();
    for (at, compound) in compounds.iter().enumerate() {
        for alias in &compound.aliases {
            known.entry(plain_name(alias)).or_insert(at);
        }
    }
    for (at, compound) in compounds.iter().enumerate() {
        known.insert(plain_name(&compound.name), at);
    }
    known
}

fn shift_columns(sheet: &Sheet, solvents: &[NmrSolvent]) -> Result<Vec<ShiftColumn>, MatchError> {
    for needed in ["compound", "group"] {
        if !sheet.header().any(|name| name == needed) {
            return Err(sheet.header_fault(needed, "a header with at least `compound` and `group`"));
        }
    }
    let mut found = Vec::new();
    for name in sheet.header().filter(|name| !KNOWN.contains(name)) {
        let solvent = solvents.iter().find(|solvent| solvent.name == name).ok_or_else(|| {
            let names: Vec<&str> = solvents.iter().map(|solvent| solvent.name.as_str()).collect();
            sheet.header_fault(name, format!("{}; NMR solvents: {}", KNOWN.join(", "), names.join(", ")))
        })?;
        found.push(ShiftColumn {
            solvent: solvent.index,
            name: name.to_owned(),
            column: sheet.column(name),
            main: MAIN.contains(&name),
        });
    }
    if found.is_empty() {
        return Err(sheet.header_fault("", "at least one column named after an NMR solvent, such as `CDCl3`"));
    }
    Ok(found)
}

impl Source<'_> {
    /// The compound a row speaks of, added when it is new.
    fn compound(
        &self,
        row: &Row<'_>,
        compounds: &mut Vec<Compound>,
        known: &mut HashMap<String, usize>,
    ) -> Result<usize, MatchError> {
        let name = row.required(&self.columns.compound)?;
        let key = plain_name(name);
        if let Some(at) = known.get(&key) {
            return Ok(*at);
        }
        compounds.push(self.new_compound(row, name)?);
        known.insert(key, compounds.len() - 1);
        Ok(compounds.len() - 1)
    }

    fn new_compound(&self, row: &Row<'_>, name: &str) -> Result<Compound, MatchError> {
        let c = &self.columns;
        let formula: Option<Formula> = match row.text(&c.formula) {
            "" => None,
            text => Some(text.parse().map_err(|error| row.fault(&c.formula, format!("{error}")))?),
        };
        let class = match row.text(&c.class) {
            "" => Class::Volatile,
            word => Class::from_word(word).ok_or_else(|| {
                row.fault(
                    &c.class,
                    "volatile, water, gas, grease, silicone, plasticiser, antioxidant, reference, nonvolatile",
                )
            })?,
        };
        if formula.is_none() && class == Class::Volatile {
            return Err(row.fault(&c.formula, "a molecular formula such as C3H8O (needed for a volatile)"));
        }
        let (low, high) = row.range(&c.t1)?.unwrap_or(USUAL_T1);
        if low <= 0.0 {
            return Err(row.fault(&c.t1, "a positive time or range in seconds"));
        }
        Ok(Compound {
            name: name.to_owned(),
            aliases: row.list(&c.aliases),
            cas: row.some(&c.cas),
            molar_mass: formula.as_ref().map(Formula::molar_mass),
            formula,
            class,
            usage: self.usage(row)?,
            t1: (Seconds(low), Seconds(high)),
            groups: Vec::new(),
            properties: None,
            ich: None,
        })
    }

    fn usage(&self, row: &Row<'_>) -> Result<Usage, MatchError> {
        match (row.text(&self.columns.usage), self.origin) {
            ("daily", _) => Ok(Usage::Daily),
            ("common", _) | ("", Origin::User) => Ok(Usage::Common),
            ("rare", _) | ("", Origin::Bundled) => Ok(Usage::Rare),
            _ => Err(row.fault(&self.columns.usage, "daily, common, rare")),
        }
    }

    /// Adds the row's group, or fills in the cells of a known one.
    fn group(&self, row: &Row<'_>, compound: &mut Compound) -> Result<(), MatchError> {
        let name = row.required(&self.columns.group)?;
        let cells = self.cells(row)?;
        if let Some(known) = compound.groups.iter_mut().find(|group| group.name == name) {
            if self.origin == Origin::Bundled {
                return Err(row.fault(&self.columns.group, "a group named once within its compound"));
            }
            for (old, new) in known.cells.iter_mut().zip(cells) {
                if new.matched.is_some() {
                    *old = new;
                }
            }
            return Ok(());
        }
        compound.groups.push(self.new_group(row, name, cells)?);
        Ok(())
    }

    fn new_group(&self, row: &Row<'_>, name: &str, cells: Vec<Cell>) -> Result<Group, MatchError> {
        let c = &self.columns;
        let multiplicity = row
            .parsed(&c.multiplicity, "s, d, t, q, quint, sext, sept, dd, dt, m, optionally `br`")?
            .unwrap_or_else(Multiplicity::singlet);
        let positive = |column: &Column| match row.number(column)? {
            Some(value) if value <= 0.0 => Err(row.fault(column, "a positive number in Hz")),
            value => Ok(value.map(Hertz)),
        };
        Ok(Group {
            name: name.to_owned(),
            protons: row
                .parsed::<std::num::NonZeroU32>(&c.protons, "a whole number of protons, 1 or more")?
                .map(std::num::NonZeroU32::get),
            multiplicity,
            couplings: row.numbers(&c.couplings)?.into_iter().map(Hertz).collect(),
            partners: Vec::new(),
            span: positive(&c.span)?,
            carbon_coupling: positive(&c.carbon_coupling)?,
            exchangeable: row.flag(&c.exchangeable, false)?,
            note: row.text(&c.note).to_owned(),
            cells,
        })
    }

    fn cells(&self, row: &Row<'_>) -> Result<Vec<Cell>, MatchError> {
        let empty = Cell { printed: None, matched: None, declared_empty: false };
        let mut cells = vec![empty; self.solvents.len()];
        let sources = [self.provenance(row, true)?, self.provenance(row, false)?];
        for shift in &self.shifts {
            if let Some(range) = row.range(&shift.column)? {
                let far = range.0 < -5.0 || range.1 > 25.0;
                if far {
                    return Err(row.fault(&shift.column, "a chemical shift between -5 and 25 ppm"));
                }
                let (source, status, u) = &sources[usize::from(!shift.main)];
                cells[shift.solvent].matched = Some(table_shift(range, *status, *u, source));
            }
        }
        for name in row.list(&self.columns.no_value) {
            cells[self.solvent(row, &self.columns.no_value, &name)?].declared_empty = true;
        }
        self.replace(row, &mut cells)?;
        Ok(cells)
    }

    /// Applies `match_instead`, such as `CD3OD=1.15` or `D2O=none`.
    fn replace(&self, row: &Row<'_>, cells: &mut [Cell]) -> Result<(), MatchError> {
        let column = &self.columns.instead;
        for entry in row.list(column) {
            let fault =
                || row.fault(column, "`NMR solvent=shift`, `NMR solvent=low..high`, `NMR solvent=none`");
            let (name, value) = entry.split_once('=').ok_or_else(fault)?;
            let cell = &mut cells[self.solvent(row, column, name.trim())?];
            let printed = cell.matched.take().ok_or_else(fault)?;
            cell.printed = Some((printed.low, printed.high));
            if value.trim() != "none" {
                let range = parse_range(value.trim()).ok_or_else(fault)?;
                cell.matched = Some(table_shift(range, ShiftStatus::Doubtful, U_DOUBTFUL, &printed.source));
            }
        }
        Ok(())
    }

    fn solvent(&self, row: &Row<'_>, column: &Column, name: &str) -> Result<usize, MatchError> {
        let found = self.shifts.iter().find(|shift| shift.name == name);
        found.map(|shift| shift.solvent).ok_or_else(|| row.fault(column, "NMR solvents named in the header"))
    }

    /// Source, status and scatter of the cells of one row.
    fn provenance(&self, row: &Row<'_>, main: bool) -> Result<(Arc<str>, ShiftStatus, f64), MatchError> {
        let c = &self.columns;
        let (source, check) =
            if main { (&c.source_main, &c.check_main) } else { (&c.source_extra, &c.check_extra) };
        let (status, u) = match (row.text(check), row.text(source)) {
            ("R2", _) => (ShiftStatus::TwoReprints, U_READ),
            ("R1", _) => (ShiftStatus::OneReprint, U_READ),
            ("definition", _) => (ShiftStatus::Definition, U_READ),
            ("memory", "general literature") => (ShiftStatus::Memory, U_GENERAL),
            ("memory", _) => (ShiftStatus::Memory, U_MEMORY),
            ("", _) if self.origin == Origin::User => (ShiftStatus::User, U_USER),
            ("", _) => (ShiftStatus::Memory, U_GENERAL),
            _ => return Err(row.fault(check, "R2, R1, memory, definition, or an empty cell")),
        };
        let written = row.text(source);
        let source = if written.is_empty() && self.origin == Origin::User { "user" } else { written };
        Ok((Arc::from(source), status, u))
    }

    /// Resolves `partners`, such as `CH2=7.0;OH=5`, once all groups are known.
    fn couple(
        &self,
        row: &Row<'_>,
        compounds: &mut [Compound],
        known: &HashMap<String, usize>,
    ) -> Result<(), MatchError> {
        let entries = row.list(&self.columns.partners);
        let Some((compound, at)) = self.find(row, compounds, known) else { return Ok(()) };
        let mut partners = Vec::with_capacity(entries.len());
        for entry in entries {
            let fault = || row.fault(&self.columns.partners, "`group=Hz` of groups of the same compound");
            let (name, j) = entry.rsplit_once('=').ok_or_else(fault)?;
            let group = compound.groups.iter().position(|group| group.name == name).ok_or_else(fault)?;
            let j = j.trim().parse::<f64>().ok().filter(|j| j.is_finite() && *j > 0.0).ok_or_else(fault)?;
            if group == at {
                return Err(fault());
            }
            partners.push(super::Partner { group, j: Hertz(j) });
        }
        if !partners.is_empty() {
            compound.groups[at].partners = partners;
        }
        Ok(())
    }

    /// A compound must not have more protons than its formula.
    fn check(
        &self,
        row: &Row<'_>,
        compounds: &mut [Compound],
        known: &HashMap<String, usize>,
    ) -> Result<(), MatchError> {
        let Some((compound, _)) = self.find(row, compounds, known) else { return Ok(()) };
        let Some(formula) = &compound.formula else { return Ok(()) };
        let listed: u32 = compound.groups.iter().filter_map(|group| group.protons).sum();
        let allowed = formula.count("H");
        if listed > allowed {
            let text = format!("at most {allowed} protons in all groups of {formula}, not {listed}");
            return Err(row.fault(&self.columns.protons, text));
        }
        let missing = compound.groups.iter().any(|group| group.protons.is_none());
        if missing && compound.class == Class::Volatile {
            return Err(row.fault(&self.columns.protons, "the number of protons of the group"));
        }
        Ok(())
    }

    fn find<'a>(
        &self,
        row: &Row<'_>,
        compounds: &'a mut [Compound],
        known: &HashMap<String, usize>,
    ) -> Option<(&'a mut Compound, usize)> {
        let at = *known.get(&plain_name(row.text(&self.columns.compound)))?;
        let compound = compounds.get_mut(at)?;
        let group = compound.groups.iter().position(|group| group.name == row.text(&self.columns.group))?;
        Some((compound, group))
    }
}

fn table_shift(range: (f64, f64), status: ShiftStatus, u: f64, source: &Arc<str>) -> TableShift {
    TableShift { low: Ppm(range.0), high: Ppm(range.1), status, u: Ppm(u), source: Arc::clone(source) }
}
