//! `(XYA)`, `(XYWA)`, `(XYMA)` tables: one bracketed group for each peak.

use super::number::leading;

/// Positions and heights of an assignment list, before factors. Heights that are not given are NaN.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Peaks {
    pub x: Vec<f64>,
    pub y: Vec<f64>,
    /// Groups that could not be read.
    pub unread: usize,
}

/// Reads bracketed groups, at most `most`, with the columns named by `symbols`.
pub(crate) fn read(text: &str, symbols: &[char], most: usize) -> Peaks {
    let mut peaks = Peaks::default();
    for group in groups(text) {
        if peaks.x.len() >= most {
            break;
        }
        let fields = fields(group);
        let column = |symbol: char| {
            let at = symbols.iter().position(|s| *s == symbol)?;
            leading(fields.get(at)?).map(|(number, _)| number.value)
        };
        match column('X') {
            Some(x) => {
                peaks.x.push(x);
                peaks.y.push(column('Y').unwrap_or(f64::NAN));
            }
            None => peaks.unread += 1,
        }
    }
    peaks
}

/// The insides of `( ... )`, brackets within `< >` not counted.
fn groups(text: &str) -> impl Iterator<Item = &str> {
    let mut rest = text;
    std::iter::from_fn(move || {
        let start = rest.find('(')? + 1;
        let inner = &rest[start..];
        let mut quoted = false;
        let end = inner.find(|c| {
            match c {
                '<' => quoted = true,
                '>' => quoted = false,
                _ => {}
            }
            c == ')' && !quoted
        });
        let end = end.unwrap_or(inner.len());
        rest = inner.get(end + 1..).unwrap_or("");
        Some(&inner[..end])
    })
}

/// Fields at commas outside `< >`.
fn fields(group: &str) -> Vec<&str> {
    let mut quoted = false;
    group
        .split(|c| {
            match c {
                '<' => quoted = true,
                '>' => quoted = false,
                _ => {}
            }
            c == ',' && !quoted
        })
        .map(str::trim)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn groups_may_span_lines_and_hold_commas() {
        let peaks = read("(7.2, 3,\n<H-1, (a)>)\n( 1.1 , S, 4 , <x>)", &['X', 'Y', 'A'], 9);
        assert_eq!(peaks.x, [7.2, 1.1]);
        assert_eq!(peaks.y[0], 3.0);
        let peaks = read("(1, 2, T, 3, <3>)", &['X', 'Y', 'M', 'W', 'A'], 9);
        assert_eq!((peaks.x, peaks.y), (vec![1.0], vec![2.0]));
    }

    #[test]
    fn an_unreadable_group_is_counted() {
        assert_eq!(read("(a, b) (1, 2", &['X', 'Y'], 9).unread, 1);
    }
}
