//! One block: its labels read, its tables decoded.

use lees_core::{Megahertz, Nucleus};

use crate::clean::clean_text;
use crate::document::Block;
use crate::error::{ErrorKind, FormatError};
use crate::options::ReadOptions;
use crate::unit::bare;
use crate::warnings::Warnings;

use super::kind::{Hints, Kind, decide};
use super::label::normalise;
use super::meta::Labels;
use super::ntuples::Attributes;
use super::reader::Draft;
use super::table::Table;
use super::tables;

/// Pages of a table that is not 1D NMR which are still decoded, so that they can be looked at.
const PAGES_SHOWN: usize = 6;

/// Share by which an asked frequency may differ from the stated one without a word: 400 for 400.13 MHz is the same instrument.
const FIELD_DIFFERENCE: f64 = 0.01;

/// Reads a block.
///
/// # Errors
/// When a table of 1D NMR data is damaged. Tables of other data only leave a warning.
pub(crate) fn build(draft: &Draft<'_>, options: &ReadOptions, room: usize) -> Result<Block, FormatError> {
    let limits = &options.limits;
    let labels = Labels { records: &draft.records, limits };
    let mut warnings = Warnings::up_to(limits.warnings);
    let (kind, guessed) = kind(&labels);
    let mut block = header(&labels, kind, draft);
    if let Some(field) = options.field {
        if let Some(stated) = block.field.filter(|stated| (stated.0 / field.0 - 1.0).abs() > FIELD_DIFFERENCE)
        {
            warnings.add(format!("the file states {stated}; {field} was asked for and is used"));
        }
        block.field = Some(field);
    }
    if guessed {
        warnings.on_line(
            draft.line,
            format!("DATA TYPE is missing or unusual; taken as a 1D NMR {}", kind.name()),
        );
    }
    let mut context =
        tables::Context { labels, draft, warnings: &mut warnings, room, most_tables: PAGES_SHOWN };
    if kind.is_measurable() {
        context.most_tables = usize::MAX;
    }
    match tables::read(&mut context, kind) {
        Ok(found) => place(&mut block, found, &mut warnings)?,
        Err(error) if kind.is_measurable() => return Err(error),
        Err(error) => warnings.add(format!("the table of block `{}` was not read: {error}", block.title)),
    }
    block.warnings = warnings.into_list();
    Ok(block)
}

fn kind(labels: &Labels<'_, '_>) -> (Kind, bool) {
    let stated = |label: &str| normalise(labels.text(&[label]).unwrap_or_default().as_bytes());
    let data_type = stated("DATATYPE");
    let ntuples = stated("NTUPLES");
    let x_unit = bare(&labels.text(&["XUNITS"]).unwrap_or_default());
    decide(Hints {
        data_type: &data_type,
        ntuples: &ntuples,
        dimensions: labels.number(&["NUMDIM"]),
        x_unit: &x_unit,
        has_atom_list: labels.has("ATOMLIST"),
        has_peak_table: labels.has("PEAKTABLE"),
        has_assignments: labels.has("PEAKASSIGNMENTS"),
        has_observe_frequency: labels.has(".OBSERVEFREQUENCY"),
    })
}

fn header(labels: &Labels<'_, '_>, kind: Kind, draft: &Draft<'_>) -> Block {
    let text =
        |names: &[&str]| labels.text(names).map(|text| clean_text(&text)).filter(|text| !text.is_empty());
    let field = labels.number(&[".OBSERVEFREQUENCY", "$SFO1", "$BF1", "$SF"]);
    let nucleus = text(&[".OBSERVENUCLEUS", ".NUCLEUS", "$NUC1", "$NUCLEUS"]);
    Block {
        number: draft.number.clone(),
        source: String::new(),
        title: text(&["TITLE"]).unwrap_or_default(),
        data_type: text(&["DATATYPE"]).or_else(|| text(&["NTUPLES"])).unwrap_or_default(),
        kind,
        nucleus: nucleus
            .filter(|name| !name.eq_ignore_ascii_case("off"))
            .map(|name| Nucleus::from_label(&name)),
        field: field.filter(|f| f.is_finite() && *f > 0.0).map(Megahertz),
        solvent: text(&[".SOLVENTNAME", "$SOLVENT"]),
        x_unit: text(&["XUNITS"]),
        tables: Vec::new(),
        real: None,
        imaginary: None,
        labels: labels.all(),
        warnings: Vec::new(),
        notes: Vec::new(),
        line: draft.line,
    }
}

/// Puts the tables into the block and finds the real and the imaginary one.
fn place(block: &mut Block, found: tables::Found, warnings: &mut Warnings) -> Result<(), FormatError> {
    if let Some(unit) = found.x_unit {
        block.x_unit = Some(clean_text(&unit));
    }
    let imaginary = |table: &Table| is_imaginary(table, &found.attributes);
    block.real = found.tables.iter().position(|table| !imaginary(table));
    block.imaginary = found.tables.iter().position(imaginary);
    if block.real.is_none() {
        block.real = block.imaginary.take();
    }
    block.tables = found.tables;
    if !block.kind.is_measurable() {
        block.imaginary = None;
        return Ok(());
    }
    let lengths = (block.real_table().map(|t| t.y.len()), block.imaginary_table().map(|t| t.y.len()));
    if let (Some(real), Some(imaginary)) = lengths
        && real != imaginary
    {
        let read = format!("{real} real and {imaginary} imaginary points");
        let line = block.imaginary_table().map_or(block.line, |table| table.line);
        return Err(
            FormatError::new(ErrorKind::Damaged, read, "as many of one as of the other").on_line(line)
        );
    }
    let used = usize::from(block.real.is_some()) + usize::from(block.imaginary.is_some());
    if block.tables.len() > used {
        warnings.on_line(
            block.line,
            format!("{} further tables of this block are not used", block.tables.len() - used),
        );
    }
    Ok(())
}

fn is_imaginary(table: &Table, attributes: &Attributes) -> bool {
    attributes.column(&table.symbol).is_some_and(super::ntuples::Column::is_imaginary)
}
