//! Formulae in running text: which of its digits are lowered.

/// Symbols of the elements that formulae in these tables are made of, deuterium with them; the longer ones first.
const ELEMENTS: [&str; 17] =
    ["Br", "Cl", "Li", "Mg", "Na", "Si", "B", "C", "D", "F", "H", "I", "K", "N", "O", "P", "S"];

/// A text in pieces, in order, each with whether it is to be lowered: the digits of words that read as formulae of two
/// elements or more, such as `CDCl3` and `N(CH3)2`, not those of `C12`, `7.26` or `2H`.
pub(crate) fn pieces(text: &str) -> Vec<(&str, bool)> {
    let mut pieces = Vec::new();
    let mut rest = text;
    while !rest.is_empty() {
        let is_part = |c: char| c.is_alphanumeric() || c == '(' || c == ')';
        let first = rest.starts_with(is_part);
        let end = rest.find(|c| is_part(c) != first).unwrap_or(rest.len());
        let (word, after) = rest.split_at(end);
        if first && is_formula(word) {
            pieces.extend(runs(word).map(|run| (run, run.starts_with(digit))));
        } else {
            pieces.push((word, false));
        }
        rest = after;
    }
    pieces
}

/// The text with those digits as subscripts.
pub(crate) fn lowered(text: &str) -> String {
    let each = |(piece, low): (&str, bool)| -> String {
        if low { piece.chars().map(subscript).collect() } else { piece.to_owned() }
    };
    pieces(text).into_iter().map(each).collect()
}

/// A digit below the line; any other sign as it is.
pub(crate) fn subscript(c: char) -> char {
    c.to_digit(10).and_then(|digit| char::from_u32(0x2080 + digit)).unwrap_or(c)
}

fn digit(c: char) -> bool {
    c.is_ascii_digit()
}

/// Runs of digits and of other signs, in order.
fn runs(word: &str) -> impl Iterator<Item = &str> {
    let mut rest = word;
    std::iter::from_fn(move || {
        let first = rest.starts_with(digit);
        let end = rest.find(|c| digit(c) != first).unwrap_or(rest.len());
        let (run, after) = rest.split_at(end);
        rest = after;
        (!run.is_empty()).then_some(run)
    })
}

/// Whether a word is symbols, brackets and digits behind them, with two elements and a number at least.
fn is_formula(word: &str) -> bool {
    let (mut elements, mut counted, mut open) = (std::collections::BTreeSet::new(), false, false);
    let mut rest = word;
    while let Some(c) = rest.chars().next() {
        if let Some(element) = ELEMENTS.into_iter().find(|element| rest.starts_with(element)) {
            elements.insert(element);
            rest = &rest[element.len()..];
            open = true;
        } else if digit(c) && open {
            counted = true;
            rest = rest.trim_start_matches(digit);
            open = false;
        } else if c == '(' || c == ')' {
            rest = &rest[1..];
            open = c == ')';
        } else {
            return false;
        }
    }
    counted && elements.len() > 1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_of_formulae_are_lowered() {
        for (text, wanted) in [
            ("CHCl3 in CDCl3", "CHCl\u{2083} in CDCl\u{2083}"),
            ("C15H17NO3, 259.30 g/mol", "C\u{2081}\u{2085}H\u{2081}\u{2087}NO\u{2083}, 259.30 g/mol"),
            ("N(CH3)2", "N(CH\u{2083})\u{2082}"),
            ("in D2O (H2O, 4.79)", "in D\u{2082}O (H\u{2082}O, 4.79)"),
            ("lies under CH3.", "lies under CH\u{2083}."),
        ] {
            assert_eq!(lowered(text), wanted);
        }
    }

    #[test]
    fn other_digits_stay() {
        for text in [
            "7.26 (d, J = 9.0 Hz, 1H)",
            "LD-7 batch 3",
            "T1",
            "C12",
            "2,6-CH",
            "500 MHz",
            "DMSO-d6",
            "3-methyl-1-butanol",
            "a\u{b2}1",
            "",
        ] {
            assert_eq!(lowered(text), text);
        }
    }

    #[test]
    fn nothing_is_lost() {
        for text in ["CHCl3 in CDCl3 (7.26)", "((CH3)3Si)2O", "\u{3b4} CH3\u{2083}", ")3CH("] {
            assert_eq!(pieces(text).into_iter().map(|piece| piece.0).collect::<String>(), text);
        }
    }
}
