//! The form of a data table as its header states it: `(X++(Y..Y))`, `(XY..XY)`, `(XYMWA)`.

/// How a table is laid out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Form {
    /// One abscissa a line, then evenly spaced ordinates.
    Steps { x: String, y: String },
    /// Groups of numbers, one for each symbol.
    Tuples { symbols: Vec<char> },
    /// Bracketed groups with a text in them.
    Assignments { symbols: Vec<char> },
}

/// A header as far as it was understood.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Header {
    pub form: Form,
    /// Whether a bracket was missing.
    pub incomplete: bool,
}

/// Reads a header such as `(X++(R..R)), XYDATA`; `None` when it has another form.
pub(crate) fn parse(header: &str) -> Option<Header> {
    let squeezed: String =
        header.chars().filter(|c| !c.is_whitespace()).map(|c| c.to_ascii_uppercase()).collect();
    let inner = squeezed.strip_prefix('(')?;
    match inner.split_once("++") {
        Some((x, rest)) => steps(x, rest),
        None => groups(inner),
    }
}

fn steps(x: &str, rest: &str) -> Option<Header> {
    let rest = rest.strip_prefix('(').unwrap_or(rest);
    let (y, end) = rest.split_once("..")?;
    let tail = end.strip_prefix(y)?;
    let symbol = |text: &str| !text.is_empty() && text.chars().all(|c| c.is_ascii_alphanumeric());
    if !symbol(x) || !symbol(y) {
        return None;
    }
    let incomplete = !tail.starts_with("))");
    Some(Header { form: Form::Steps { x: x.to_owned(), y: y.to_owned() }, incomplete })
}

fn groups(inner: &str) -> Option<Header> {
    let inside = inner.split([')', ',']).next().unwrap_or("");
    let incomplete = !inner.contains(')');
    if let Some((one, other)) = inside.split_once("..") {
        let symbols: Vec<char> = one.chars().collect();
        let sound = one == other && symbols.len() >= 2 && symbols.iter().all(char::is_ascii_alphabetic);
        return sound.then_some(Header { form: Form::Tuples { symbols }, incomplete });
    }
    let symbols: Vec<char> = inside.chars().collect();
    let sound = symbols.len() >= 2 && symbols.len() <= 8 && symbols.iter().all(char::is_ascii_alphabetic);
    sound.then_some(Header { form: Form::Assignments { symbols }, incomplete })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_forms_of_the_standard() {
        let steps = |x: &str, y: &str| Form::Steps { x: x.into(), y: y.into() };
        assert_eq!(parse("(X++(Y..Y))").unwrap().form, steps("X", "Y"));
        assert_eq!(parse(" (x++( r..r )) , XYDATA").unwrap().form, steps("X", "R"));
        assert_eq!(parse("(F2++(Y..Y)), PROFILE").unwrap().form, steps("F2", "Y"));
        assert_eq!(parse("(XY..XY)").unwrap().form, Form::Tuples { symbols: vec!['X', 'Y'] });
        assert_eq!(parse("(XYT..XYT), PEAKS").unwrap().form, Form::Tuples { symbols: vec!['X', 'Y', 'T'] });
        assert_eq!(parse("(XYMWA)").unwrap().form, Form::Assignments { symbols: "XYMWA".chars().collect() });
    }

    #[test]
    fn a_missing_bracket_is_noticed_and_nonsense_refused() {
        assert!(parse("(X++(Y..Y)").unwrap().incomplete);
        assert!(!parse("(X++(Y..Y))").unwrap().incomplete);
        assert_eq!(parse("(X++(Y..R))"), None);
        assert_eq!(parse("12 13"), None);
        assert_eq!(parse(""), None);
    }
}
