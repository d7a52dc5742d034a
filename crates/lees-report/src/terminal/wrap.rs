//! Words into lines of a given width on the screen.

use unicode_width::UnicodeWidthStr;

/// Lines no wider than `width`; a word that is longer is cut.
pub(super) fn wrap(text: &str, width: usize) -> Vec<String> {
    let width = width.max(1);
    let mut lines = vec![String::new()];
    for word in text.split(' ').filter(|w| !w.is_empty()) {
        for piece in pieces(word, width) {
            push(&mut lines, piece, width);
        }
    }
    lines
}

fn push(lines: &mut Vec<String>, piece: &str, width: usize) {
    let Some(last) = lines.last_mut() else { return };
    if last.is_empty() {
        last.push_str(piece);
    } else if last.width() + 1 + piece.width() <= width {
        last.push(' ');
        last.push_str(piece);
    } else {
        lines.push(piece.to_owned());
    }
}

/// A word cut into pieces that fit, at a hyphen where one is in reach.
fn pieces(word: &str, width: usize) -> Vec<&str> {
    let mut rest = word;
    let mut out = Vec::new();
    while rest.width() > width {
        let at = cut(rest, width);
        let (head, tail) = rest.split_at(at);
        out.push(head);
        rest = tail;
    }
    out.push(rest);
    out
}

fn cut(word: &str, width: usize) -> usize {
    let fits = |at: usize| word[..at].width() <= width;
    let ends = word.char_indices().map(|(i, c)| (i + c.len_utf8(), c));
    let within: Vec<_> = ends.take_while(|&(at, _)| fits(at)).collect();
    let hyphen = within.iter().rev().find(|&&(_, c)| c == '-').map(|&(at, _)| at);
    let first = word.chars().next().map_or(1, char::len_utf8);
    hyphen.or(within.last().map(|&(at, _)| at)).unwrap_or(first)
}

/// Wrapped text with a first-line prefix; later lines are indented to match.
pub(super) fn hanging(prefix: &str, text: &str, width: usize) -> String {
    let indent = prefix.width();
    let lines = wrap(text, width.saturating_sub(indent));
    let gap = format!("\n{}", " ".repeat(indent));
    format!("{prefix}{}\n", lines.join(&gap))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_names_are_cut_at_a_hyphen() {
        assert_eq!(
            wrap("1,1,2-trichloro-1,2,2-trifluoroethane", 20),
            ["1,1,2-trichloro-", "1,2,2-", "trifluoroethane"]
        );
    }

    #[test]
    fn wide_characters_count_double() {
        assert_eq!(wrap("酢酸エチル", 6), ["酢酸エ", "チル"]);
    }

    #[test]
    fn no_line_is_wider_than_asked() {
        for width in 1..30 {
            for line in wrap("a bb ccc-dddd eeeeeeeeeee ffff, 溶媒 gg", width) {
                assert!(line.width() <= width.max(2), "{line:?} at {width}");
            }
        }
    }
}
