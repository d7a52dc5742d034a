//! Lines of a byte text, whatever their ends.

use memchr::memchr2;

/// One line without its end.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Line<'a> {
    /// Counted from 1 within the file.
    pub number: usize,
    /// Where it starts in the text given to [`Lines`].
    pub start: usize,
    /// Its bytes, end excluded.
    pub text: &'a [u8],
}

/// Iterates over lines ended by LF, CRLF or a lone CR.
#[derive(Debug, Clone)]
pub(crate) struct Lines<'a> {
    bytes: &'a [u8],
    at: usize,
    number: usize,
}

impl<'a> Lines<'a> {
    pub(crate) const fn new(bytes: &'a [u8], first_number: usize) -> Self {
        Self { bytes, at: 0, number: first_number }
    }
}

impl<'a> Iterator for Lines<'a> {
    type Item = Line<'a>;

    fn next(&mut self) -> Option<Line<'a>> {
        let rest = self.bytes.get(self.at..).filter(|rest| !rest.is_empty())?;
        let (length, end) = match memchr2(b'\n', b'\r', rest) {
            None => (rest.len(), 0),
            Some(at) if rest[at] == b'\r' && rest.get(at + 1) == Some(&b'\n') => (at, 2),
            Some(at) => (at, 1),
        };
        let line = Line { number: self.number, start: self.at, text: &rest[..length] };
        self.at += length + end;
        self.number += 1;
        Some(line)
    }
}

/// The line up to a `$$` comment.
pub(crate) fn without_comment(text: &[u8]) -> &[u8] {
    memchr::memmem::find(text, b"$$").map_or(text, |at| &text[..at])
}

/// Whether a byte separates words within a line. Ctrl-Z ended texts on old systems.
pub(crate) const fn is_blank(byte: u8) -> bool {
    matches!(byte, b' ' | b'\t' | 0x0b | 0x0c | 0x1a | 0)
}

/// The text without blanks at its start.
pub(crate) fn trim_start(text: &[u8]) -> &[u8] {
    let start = text.iter().position(|&b| !is_blank(b)).unwrap_or(text.len());
    &text[start..]
}

/// The text without blanks at either end.
pub(crate) fn trim(text: &[u8]) -> &[u8] {
    let text = trim_start(text);
    let end = text.iter().rposition(|&b| !is_blank(b)).map_or(0, |at| at + 1);
    &text[..end]
}
