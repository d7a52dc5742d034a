//! Text from files, made safe to print.

/// The text without control characters, line breaks and direction marks, white space runs as one blank.
///
/// Titles and solvent labels come from files; an escape sequence in one must not reach a terminal, and a
/// right-to-left override must not reorder a report.
///
/// ```
/// assert_eq!(lees_report::clean("batch\t7 \u{1b}[31mred\u{202e}"), "batch 7 [31mred");
/// ```
#[must_use]
pub fn clean(text: &str) -> String {
    let visible: String = text.chars().filter_map(visible).collect();
    visible.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn visible(c: char) -> Option<char> {
    match c {
        '\t' | '\n' | '\r' => Some(' '),
        '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{2069}' | '\u{feff}' => None,
        c if c.is_control() => None,
        c => Some(c),
    }
}
