//! Text from outside, made fit for a terminal and for one line.

/// The text without control characters and direction marks, runs of blanks squeezed, ends trimmed.
///
/// ```
/// assert_eq!(lees_format::clean_text("a\u{1b}[31m\tb\r\n\u{202e}c "), "a[31m b c");
/// ```
#[must_use]
pub fn clean_text(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if c.is_whitespace() {
            if !out.is_empty() && !out.ends_with(' ') {
                out.push(' ');
            }
        } else if !c.is_control() && !is_invisible(c) {
            out.push(c);
        }
    }
    out.truncate(out.trim_end().len());
    out
}

/// Characters that are drawn as nothing but change what is seen: direction marks, zero-width signs, BOM.
const fn is_invisible(c: char) -> bool {
    matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}')
}

/// Cleaned text, cut to at most `most` characters.
pub(crate) fn quoted(text: &str, most: usize) -> String {
    let cleaned = clean_text(text);
    if cleaned.chars().count() <= most {
        return cleaned;
    }
    let cut: String = cleaned.chars().take(most).collect();
    cut + "..."
}

/// Bytes as text: UTF-8 when they are, Latin-1 otherwise.
pub(crate) fn decode(bytes: &[u8]) -> String {
    match std::str::from_utf8(bytes) {
        Ok(text) => text.to_owned(),
        Err(_) => bytes.iter().map(|&b| char::from(b)).collect(),
    }
}

/// Bytes for an error message: cleaned and short.
pub(crate) fn sample(bytes: &[u8]) -> String {
    const MOST: usize = 40;
    quoted(&decode(&bytes[..bytes.len().min(4 * MOST)]), MOST)
}
