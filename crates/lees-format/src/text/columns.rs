//! The numbers of a text.

use crate::clean::{decode, quoted};
use crate::error::{ErrorKind, FormatError};
use crate::lines::{Line, Lines, trim};
use crate::options::{Column, ReadOptions};
use crate::warnings::Warnings;

use super::header::COMMENT_SIGNS;
use super::layout::Layout;

/// Columns as read.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Columns {
    pub x: Option<Vec<f64>>,
    pub real: Vec<f64>,
    pub imaginary: Option<Vec<f64>>,
    /// Line of the first row.
    pub first_line: usize,
}

/// One row's values by meaning.
#[derive(Debug, Clone, Copy, Default)]
struct Row {
    x: f64,
    real: f64,
    imaginary: f64,
}

/// Reads all rows after the header.
///
/// # Errors
/// At a row that is not like the others, with its line and column.
pub(crate) fn read(
    bytes: &[u8],
    layout: &Layout,
    options: &ReadOptions,
    most: usize,
    warnings: &mut Warnings,
) -> Result<Columns, FormatError> {
    let has = |which: Column| layout.columns.contains(&which);
    let mut columns = Columns {
        x: has(Column::X).then(Vec::new),
        imaginary: has(Column::Imaginary).then(Vec::new),
        ..Columns::default()
    };
    for line in Lines::new(bytes, 1) {
        if line.text.len() > options.limits.line_bytes {
            let read = format!("a line of {} bytes", line.text.len());
            let allowed = format!("at most {}", options.limits.line_bytes);
            return Err(FormatError::new(ErrorKind::Limit, read, allowed).on_line(line.number));
        }
        let text = decode(trim(line.text));
        if text.is_empty() || text.starts_with(COMMENT_SIGNS) {
            continue;
        }
        match row(&text, layout) {
            Ok(_) if columns.real.len() >= most => {
                let allowed = format!("at most {most}");
                return Err(FormatError::new(ErrorKind::Limit, "too many rows", allowed).on_line(line.number));
            }
            Ok(row) => columns.push(row, line.number),
            // Above the first row everything is header.
            Err(_) if columns.real.is_empty() => {}
            Err(error) => return columns.finish(line, bytes, layout, error, warnings),
        }
    }
    Ok(columns)
}

impl Columns {
    fn push(&mut self, row: Row, line: usize) {
        if self.real.is_empty() {
            self.first_line = line;
        }
        self.real.push(row.real);
        if let Some(x) = &mut self.x {
            x.push(row.x);
        }
        if let Some(imaginary) = &mut self.imaginary {
            imaginary.push(row.imaginary);
        }
    }

    /// A line that is no row: text after the table if no rows follow, else damage.
    fn finish(
        self,
        line: Line<'_>,
        bytes: &[u8],
        layout: &Layout,
        error: FormatError,
        warnings: &mut Warnings,
    ) -> Result<Self, FormatError> {
        let starts_like_one =
            trim(line.text).first().is_some_and(|b| b.is_ascii_digit() || b"+-.".contains(b));
        let after = &bytes[(line.start + line.text.len()).min(bytes.len())..];
        let more = Lines::new(after, line.number).any(|next| row(&decode(trim(next.text)), layout).is_ok());
        if more || starts_like_one {
            return Err(error.on_line(line.number));
        }
        warnings.on_line(line.number, "text after the table; ignored");
        Ok(self)
    }
}

fn row(text: &str, layout: &Layout) -> Result<Row, FormatError> {
    let fields = layout.fields(text);
    if fields.len() != layout.columns.len() {
        let read = format!("{} columns", fields.len());
        return Err(FormatError::new(
            ErrorKind::Damaged,
            read,
            format!("{} as before", layout.columns.len()),
        ));
    }
    let mut row = Row::default();
    for (field, column) in fields.iter().zip(&layout.columns) {
        if *column == Column::Skip {
            continue;
        }
        let value = layout.number(field).ok_or_else(|| {
            let at = 1 + field.as_ptr() as usize - text.as_ptr() as usize;
            FormatError::new(ErrorKind::Damaged, format!("`{}`", quoted(field, 40)), "a finite number")
                .at_column(at)
        })?;
        match column {
            Column::X => row.x = value,
            Column::Real => row.real = value,
            Column::Imaginary => row.imaginary = value,
            Column::Skip => {}
        }
    }
    Ok(row)
}
