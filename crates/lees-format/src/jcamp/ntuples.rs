//! The attribute table of NTUPLES: one column for each symbol.

use crate::error::{ErrorKind, FormatError};

use super::meta::Labels;
use super::number::leading;

/// One column of the attribute table.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Column {
    pub symbol: String,
    pub name: String,
    pub role: String,
    pub unit: Option<String>,
    pub points: Option<f64>,
    pub first: Option<f64>,
    pub last: Option<f64>,
    pub factor: Option<f64>,
}

/// The attribute table.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Attributes {
    pub columns: Vec<Column>,
}

/// Most columns worth reading.
const MOST_COLUMNS: usize = 64;

impl Attributes {
    /// Reads the attribute rows of a block.
    ///
    /// # Errors
    /// When there is no SYMBOL row.
    pub(crate) fn read(labels: &Labels<'_, '_>, line: usize) -> Result<Self, FormatError> {
        let symbols = row(labels, "SYMBOL");
        if symbols.is_empty() {
            let allowed = "a SYMBOL row before the data tables";
            return Err(FormatError::new(ErrorKind::Damaged, "pages without symbols", allowed).on_line(line));
        }
        let rows =
            ["VARNAME", "VARTYPE", "UNITS", "VARDIM", "FIRST", "LAST", "FACTOR"].map(|l| row(labels, l));
        let columns = symbols.into_iter().take(MOST_COLUMNS).enumerate().map(|(at, symbol)| {
            let text = |row: usize| rows[row].get(at).cloned().unwrap_or_default();
            let number = |row: usize| leading(&text(row)).map(|(number, _)| number.value);
            Column {
                symbol: symbol.to_ascii_uppercase(),
                name: text(0).to_ascii_uppercase(),
                role: text(1).to_ascii_uppercase(),
                unit: Some(text(2)).filter(|unit| !unit.is_empty()),
                points: number(3),
                first: number(4),
                last: number(5),
                factor: number(6),
            }
        });
        Ok(Self { columns: columns.collect() })
    }

    /// The column of a symbol.
    pub(crate) fn column(&self, symbol: &str) -> Option<&Column> {
        self.columns.iter().find(|column| column.symbol == symbol)
    }

    /// The first independent column: the abscissa when no table names one.
    pub(crate) fn abscissa(&self) -> Option<&Column> {
        self.columns.iter().find(|c| c.role.starts_with("INDEP")).or_else(|| self.columns.first())
    }
}

impl Column {
    /// Whether the ordinate is an imaginary part.
    pub(crate) fn is_imaginary(&self) -> bool {
        self.name.contains("IMAG") || (!self.name.contains("REAL") && self.symbol == "I")
    }
}

fn row(labels: &Labels<'_, '_>, label: &str) -> Vec<String> {
    let text = labels.text(&[label]).unwrap_or_default();
    if text.is_empty() {
        return Vec::new();
    }
    text.split(',').take(MOST_COLUMNS).map(|cell| cell.trim().to_owned()).collect()
}
