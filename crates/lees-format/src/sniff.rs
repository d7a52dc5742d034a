//! What sort of file some bytes are.

use std::borrow::Cow;

use crate::error::{ErrorKind, FormatError};
use crate::jcamp::label::opening;
use crate::lines::{Lines, trim};
use crate::warnings::Warnings;

/// A kind of content this crate reads.
#[derive(Debug)]
pub(crate) enum Content<'a> {
    /// Compressed with gzip.
    Gzip,
    /// An archive.
    Zip,
    /// Labelled records.
    Jcamp(Cow<'a, [u8]>),
    /// Columns of numbers.
    Columns(Cow<'a, [u8]>),
}

/// First bytes of files that are no text.
const SIGNATURES: [(&[u8], &str); 14] = [
    (b"\x89PNG", "a PNG image"),
    (b"\xff\xd8\xff", "a JPEG image"),
    (b"GIF8", "a GIF image"),
    (b"BM", "a bitmap image"),
    (b"II*\0", "a TIFF image"),
    (b"MM\0*", "a TIFF image"),
    (b"RIFF", "a RIFF file"),
    (b"%PDF", "a PDF document"),
    (b"\xd0\xcf\x11\xe0", "an office document"),
    (b"{\\rtf", "a formatted text"),
    (b"\x7fELF", "a program"),
    (b"MZ", "a program"),
    (b"\x89HDF", "an HDF5 file"),
    (b"SQLite format", "a database"),
];

const ALLOWED: &str = "JCAMP-DX or columns of numbers";

/// Decides what the bytes are.
///
/// # Errors
/// When they are empty or no text.
pub(crate) fn content(bytes: &[u8]) -> Result<Content<'_>, FormatError> {
    if bytes.is_empty() {
        return Err(FormatError::new(ErrorKind::Empty, "the file is empty", ALLOWED));
    }
    match bytes {
        [0x1f, 0x8b, ..] => return Ok(Content::Gzip),
        [b'P', b'K', 3 | 5, 4 | 6, ..] => return Ok(Content::Zip),
        _ => {}
    }
    let text = as_text(bytes)?;
    if trim_all(&text).is_empty() {
        return Err(FormatError::new(ErrorKind::Empty, "the file holds only blanks", ALLOWED));
    }
    Ok(if is_jcamp(&text) { Content::Jcamp(text) } else { Content::Columns(text) })
}

fn trim_all(text: &[u8]) -> &[u8] {
    trim(text).trim_ascii()
}

/// The text without byte order mark, UTF-16 turned into UTF-8.
fn as_text(bytes: &[u8]) -> Result<Cow<'_, [u8]>, FormatError> {
    match bytes {
        [0xef, 0xbb, 0xbf, rest @ ..] => return Ok(Cow::Borrowed(rest)),
        [0xff, 0xfe, rest @ ..] => return Ok(Cow::Owned(utf16(rest, u16::from_le_bytes))),
        [0xfe, 0xff, rest @ ..] => return Ok(Cow::Owned(utf16(rest, u16::from_be_bytes))),
        _ => {}
    }
    let not_text = |what: &str| Err(FormatError::new(ErrorKind::NotText, what, ALLOWED));
    let binary = looks_binary(bytes);
    if let Some((_, what)) = SIGNATURES.iter().find(|(mark, _)| bytes.starts_with(mark))
        && (binary || what.contains("document") || what.contains("formatted"))
    {
        return not_text(what);
    }
    if binary { not_text("a binary file") } else { Ok(Cow::Borrowed(bytes)) }
}

fn utf16(bytes: &[u8], from: fn([u8; 2]) -> u16) -> Vec<u8> {
    let units = bytes.chunks_exact(2).map(|pair| from([pair[0], pair[1]]));
    let text: String = char::decode_utf16(units).map(|c| c.unwrap_or(char::REPLACEMENT_CHARACTER)).collect();
    text.into_bytes()
}

/// Bytes at the start that are looked at.
const LOOKED_AT: usize = 4096;

/// More than one in fifty of the first bytes is a control character no text has.
fn looks_binary(bytes: &[u8]) -> bool {
    let head = &bytes[..bytes.len().min(LOOKED_AT)];
    let odd =
        head.iter().filter(|&&b| b < 0x20 && !matches!(b, b'\t' | b'\n' | b'\r' | 0x0b | 0x0c | 0x1a | 0x1b));
    odd.count() * 50 > head.len()
}

/// Whether one of the first lines opens a labelled record of the start of a block.
fn is_jcamp(text: &[u8]) -> bool {
    const LINES: usize = 200;
    let labels = ["TITLE", "JCAMPDX", "DATATYPE", "JCAMPCS", "ORIGIN", "OWNER", "DATACLASS", "END"];
    Lines::new(text, 1).take(LINES).any(|line| {
        opening(line.text)
            .is_some_and(|o| (o.equals && labels.contains(&o.label.as_str())) || o.label == "XYDATA")
    })
}

/// Remarks on the encoding of the text.
pub(crate) fn remarks(bytes: &[u8], warnings: &mut Warnings) {
    match bytes {
        [0x1f, 0x8b, ..] | [b'P', b'K', 3 | 5, 4 | 6, ..] => {}
        [0xef, 0xbb, 0xbf, ..] => warnings.add("a byte order mark at the start; ignored"),
        [0xff, 0xfe, ..] | [0xfe, 0xff, ..] => warnings.add("text in UTF-16; read as such"),
        _ if std::str::from_utf8(bytes).is_err() => warnings.add("bytes that are no UTF-8; read as Latin-1"),
        _ => {}
    }
}
