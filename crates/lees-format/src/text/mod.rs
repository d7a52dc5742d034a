//! Plain text: columns of numbers under a few header lines.
//!
//! The layout is guessed from the lines that look like numbers, said in [`crate::Block::notes`], and overridden
//! by [`crate::TextOptions`].

mod axis;
mod columns;
mod header;
mod layout;

use std::collections::BTreeMap;

use crate::document::Block;
use crate::error::{ErrorKind, FormatError};
use crate::jcamp::kind::Kind;
use crate::jcamp::table::{Abscissae, Table};
use crate::options::ReadOptions;
use crate::warnings::Warnings;

use columns::Columns;
use header::Header;
use layout::Layout;

/// Fewer rows of numbers are taken for chance in a text of another sort.
const FEWEST_ROWS: usize = 4;

/// Reads one spectrum or FID.
///
/// # Errors
/// When no columns of numbers are found, a row is damaged, or the abscissae are not even.
pub(crate) fn read(
    bytes: &[u8],
    options: &ReadOptions,
    room: &mut usize,
    warnings: &mut Warnings,
) -> Result<Block, FormatError> {
    let layout = Layout::guess(bytes, options)?;
    let columns = columns::read(bytes, &layout, options, (*room).min(options.limits.points), warnings)?;
    if columns.real.len() < FEWEST_ROWS {
        let read = format!("{} rows of numbers", columns.real.len());
        return Err(FormatError::new(ErrorKind::Damaged, read, "JCAMP-DX or columns of numbers"));
    }
    let header = Header::read(bytes, columns.first_line, &layout);
    let mut block = block(&header, &columns, options);
    axis::place(&mut block, columns, &header, options, warnings)?;
    block.notes.insert(0, layout.in_words());
    for note in &block.notes {
        warnings.add(note.clone());
    }
    *room -= block.tables.iter().map(|table| table.y.len()).sum::<usize>().min(*room);
    Ok(block)
}

fn block(header: &Header, columns: &Columns, options: &ReadOptions) -> Block {
    let labels: BTreeMap<String, String> = header.labels.clone();
    Block {
        number: "1".to_owned(),
        source: String::new(),
        title: header.title.clone().unwrap_or_default(),
        data_type: String::new(),
        kind: Kind::Spectrum,
        nucleus: header.nucleus.clone(),
        field: options.field.or(header.field),
        solvent: header.solvent.clone(),
        x_unit: None,
        tables: Vec::new(),
        real: None,
        imaginary: None,
        labels,
        warnings: Vec::new(),
        notes: Vec::new(),
        line: columns.first_line,
    }
}

/// The tables of a block from its ordinates.
fn tables(x: &Abscissae, real: Vec<f64>, imaginary: Option<Vec<f64>>, line: usize) -> Vec<Table> {
    let table = |symbol: &str, y| Table {
        symbol: symbol.to_owned(),
        page: None,
        form: "columns".to_owned(),
        x: x.clone(),
        stated: (None, None),
        y,
        line,
    };
    std::iter::once(table("R", real)).chain(imaginary.map(|y| table("I", y))).collect()
}
