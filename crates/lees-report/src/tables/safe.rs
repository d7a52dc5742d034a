//! Cells that a spreadsheet must not run.

use std::borrow::Cow;

/// Characters at the front of a cell that make a spreadsheet read it as a formula, with their full-width forms.
///
/// After the OWASP page *CSV Injection* (read from memory, 2026).
const FORMULA_STARTS: [char; 10] =
    ['=', '+', '-', '@', '\t', '\r', '\u{ff1d}', '\u{ff0b}', '\u{ff0d}', '\u{ff20}'];

/// The text with an apostrophe in front when a spreadsheet would take it for a formula. Numbers need no such care.
pub(super) fn disarm(text: &str) -> Cow<'_, str> {
    if text.trim_start_matches([' ', '\u{a0}']).starts_with(FORMULA_STARTS) {
        Cow::Owned(format!("'{text}"))
    } else {
        Cow::Borrowed(text)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formulas_are_words_again() {
        for armed in ["=1+1", "+1", "-2+3", "@SUM(A1)", " =cmd|' /C calc'!A0", "\u{ff1d}1"] {
            assert!(disarm(armed).starts_with('\''), "{armed}");
        }
        for harmless in ["2-propanol", "a=b", "", "n-hexane"] {
            assert_eq!(disarm(harmless), harmless);
        }
    }
}
