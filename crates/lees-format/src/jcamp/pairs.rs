//! `(XY..XY)` tables: groups of plain numbers.

use crate::clean::sample;
use crate::error::{ErrorKind, FormatError};
use crate::lines::{Lines, is_blank, trim, without_comment};

/// Groups of numbers, column by column, before factors.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Groups {
    /// First number of each group.
    pub x: Vec<f64>,
    /// Second number of each group.
    pub y: Vec<f64>,
    /// First line of text after the table.
    pub trailing_text: Option<usize>,
}

/// Reads groups of `width` numbers separated by blanks, commas or semicolons.
///
/// # Errors
/// At a word that is no finite number, at an unfinished group, or beyond `most` groups.
pub(crate) fn read(
    table: &[u8],
    first_line: usize,
    width: usize,
    most: usize,
) -> Result<Groups, FormatError> {
    let mut groups = Groups::default();
    let mut place = 0;
    for line in Lines::new(table, first_line) {
        let text = without_comment(line.text);
        let words = text.split(|&b| is_blank(b) || b == b',' || b == b';').filter(|word| !word.is_empty());
        for word in words {
            let column = 1 + word.as_ptr() as usize - line.text.as_ptr() as usize;
            let Some(value) = number(word) else {
                if place == 0 && !groups.y.is_empty() && trim(text).starts_with(word) {
                    groups.trailing_text = Some(line.number);
                    return Ok(groups);
                }
                return Err(not_a_number(word).at(line.number, column));
            };
            match place {
                0 if groups.x.len() >= most => return Err(too_many(most).at(line.number, column)),
                0 => groups.x.push(value),
                1 => groups.y.push(value),
                _ => {}
            }
            place = (place + 1) % width;
        }
    }
    if place != 0 {
        let read = format!("the last group has {place} of {width} numbers");
        return Err(FormatError::new(ErrorKind::Damaged, read, "whole groups").on_line(first_line));
    }
    Ok(groups)
}

fn number(word: &[u8]) -> Option<f64> {
    let text = std::str::from_utf8(word).ok()?;
    let starts = text.trim_start_matches(['+', '-']).starts_with(|c: char| c.is_ascii_digit() || c == '.');
    text.parse::<f64>().ok().filter(|value| starts && value.is_finite())
}

fn not_a_number(word: &[u8]) -> FormatError {
    FormatError::new(ErrorKind::Damaged, format!("`{}`", sample(word)), "a finite number")
}

fn too_many(most: usize) -> FormatError {
    FormatError::new(ErrorKind::Limit, "too many points in one table", format!("at most {most}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn separators_of_pairs() {
        for table in ["1,2 3,4", "1 2\n3 4", "1, 2; 3, 4", "1\t2\n\n3\t4 $$ 5 6"] {
            let groups = read(table.as_bytes(), 1, 2, 10).unwrap();
            assert_eq!((groups.x, groups.y), (vec![1.0, 3.0], vec![2.0, 4.0]), "{table}");
        }
        assert_eq!(read(b"1 2 3\n4 5 6", 1, 3, 10).unwrap().y, [2.0, 5.0]);
    }

    #[test]
    fn damage_is_refused_in_place() {
        let error = read(b"1 2\n3 x", 7, 2, 10).unwrap_err();
        assert_eq!((error.line(), error.column()), (Some(8), Some(3)));
        assert!(read(b"1 2 3", 1, 2, 10).is_err());
        assert!(read(b"1 nan", 1, 2, 10).is_err());
        assert_eq!(read(b"1 2 3 4", 1, 2, 1).unwrap_err().kind(), ErrorKind::Limit);
    }
}
