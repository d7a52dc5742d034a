//! Labelled records: from `##LABEL=` to the next one.

use crate::clean::decode;
use crate::error::{ErrorKind, FormatError};
use crate::limits::Limits;
use crate::lines::{Lines, trim, without_comment};

use super::label::{Opening, opening};

/// One labelled record, its value still in the bytes of the file.
#[derive(Debug, Clone)]
pub(crate) struct Record<'a> {
    /// Normalised label.
    pub label: String,
    /// Line of the label, from 1.
    pub line: usize,
    /// The value on the label's own line.
    pub head: &'a [u8],
    /// The lines after it, up to the next record.
    pub body: &'a [u8],
    /// Whether an equals sign followed the label.
    pub equals: bool,
}

impl Record<'_> {
    /// The value: comments removed, lines joined, blanks at the ends and `<>` around it removed; at most
    /// `most` bytes of it.
    pub(crate) fn text(&self, most: usize) -> String {
        let mut out = decode(trim(without_comment(self.head)));
        for line in Lines::new(self.body, self.line + 1) {
            if out.len() >= most {
                break;
            }
            let text = trim(without_comment(line.text));
            if !text.is_empty() {
                if !out.is_empty() {
                    out.push('\n');
                }
                out.push_str(&decode(&text[..text.len().min(most)]));
            }
        }
        let cut = (0..=most.min(out.len())).rev().find(|&at| out.is_char_boundary(at)).unwrap_or(0);
        out.truncate(cut);
        match out.strip_prefix('<').and_then(|inner| inner.strip_suffix('>')) {
            Some(inner) => inner.trim().to_owned(),
            None => out,
        }
    }

    /// The value on the label's own line, without comment.
    pub(crate) fn first_line(&self) -> String {
        decode(trim(without_comment(self.head)))
    }
}

/// All records of a text, and what stood before the first.
#[derive(Debug)]
pub(crate) struct Records<'a> {
    pub list: Vec<Record<'a>>,
    /// Line of the first text before the first record, if any.
    pub preface: Option<usize>,
    /// Longest line in bytes and its number.
    pub longest: (usize, usize),
}

/// Splits a text into records.
///
/// # Errors
/// When a line or the number of records passes its limit.
pub(crate) fn split<'a>(bytes: &'a [u8], limits: &Limits) -> Result<Records<'a>, FormatError> {
    let mut records = Records { list: Vec::new(), preface: None, longest: (0, 0) };
    let mut open: Option<(Record<'a>, usize)> = None;
    for line in Lines::new(bytes, 1) {
        check_length(line.text.len(), line.number, limits)?;
        if line.text.len() > records.longest.0 {
            records.longest = (line.text.len(), line.number);
        }
        let Some(Opening { label, value, equals }) = opening(line.text) else {
            if open.is_none() && records.preface.is_none() && !trim(without_comment(line.text)).is_empty() {
                records.preface = Some(line.number);
            }
            continue;
        };
        close(&mut records.list, open.take(), bytes, line.start);
        if records.list.len() >= limits.records {
            let read = format!("more than {} records", limits.records);
            return Err(
                FormatError::new(ErrorKind::Limit, read, "fewer, or a raised limit").on_line(line.number)
            );
        }
        let body_start = line.start + line.text.len();
        open = Some((Record { label, line: line.number, head: value, body: &[], equals }, body_start));
    }
    close(&mut records.list, open, bytes, bytes.len());
    Ok(records)
}

fn close<'a>(list: &mut Vec<Record<'a>>, open: Option<(Record<'a>, usize)>, bytes: &'a [u8], end: usize) {
    if let Some((record, start)) = open
        && !record.label.is_empty()
    {
        let body = after_line_end(&bytes[start..end]);
        list.push(Record { body, ..record });
    }
}

fn after_line_end(bytes: &[u8]) -> &[u8] {
    match bytes {
        [b'\r', b'\n', rest @ ..] | [b'\r' | b'\n', rest @ ..] => rest,
        _ => bytes,
    }
}

fn check_length(length: usize, number: usize, limits: &Limits) -> Result<(), FormatError> {
    if length <= limits.line_bytes {
        return Ok(());
    }
    let read = format!("a line of {length} bytes");
    Err(FormatError::new(ErrorKind::Limit, read, format!("at most {}", limits.line_bytes)).on_line(number))
}
