//! What stands before the first signal.

/// The line after `1H NMR (400 MHz, CDCl3) δ` and its variants.
pub(crate) fn skip(line: &str) -> &str {
    let line = line.trim_start();
    if let Some((_, rest)) = line.split_once(['δ', '\u{1d6ff}', '\u{1d739}']) {
        return after_delta(rest);
    }
    let lower = line.to_ascii_lowercase();
    let Some(at) = lower.find("nmr") else {
        return after_delta(line.trim_start_matches(|c: char| c == ':' || c.is_whitespace()));
    };
    let mut rest = line[at + "nmr".len()..].trim_start();
    while let Some((_, after)) = super::token::bracketed(rest) {
        rest = after.trim_start();
    }
    // `1H NMR, CDCl3, 400 MHz: 7.35 ...`
    if !rest.starts_with(|c: char| c.is_ascii_digit())
        && let Some((_, after)) = rest.split_once(':')
    {
        rest = after;
    }
    after_delta(rest)
}

/// Headings of what follows a proton line in an experimental part.
const NEXT: [&str; 7] = ["13C", "\u{b9}\u{b3}C", "19F", "31P", "δC", "HRMS", "IR ("];

/// The proton part of a line that goes on with other nuclei or methods. A heading that comes first stays: it is refused with its signals.
pub(crate) fn proton_part(line: &str) -> &str {
    let after_a_signal = |at: &usize| line[..*at].contains(')');
    let ends = NEXT.iter().filter_map(|heading| line.find(heading)).filter(after_a_signal);
    ends.min().map_or(line, |end| &line[..end])
}

/// The NMR solvent that a preamble such as `1H NMR (400 MHz, CDCl3, 298 K) δ` names: what is neither a frequency nor a
/// temperature.
pub(crate) fn nmr_solvent(line: &str) -> Option<&str> {
    let preamble = &line[..line.len() - skip(line).len()];
    let start = preamble.to_ascii_lowercase().find("nmr").map_or(0, |at| at + "nmr".len());
    let ends = [',', ';', '(', ')', '[', ']', ':'];
    let words = preamble[start..].split(|c| ends.contains(&c) || "δ\u{1d6ff}\u{1d739}".contains(c));
    words.map(str::trim).find(|word| is_name(word))
}

/// Whether a word of the preamble is neither a number with its unit nor a name of the scale.
fn is_name(word: &str) -> bool {
    let lower = word.to_ascii_lowercase();
    let is_measure = word.starts_with(|c: char| c.is_ascii_digit() || c == '-');
    word.len() > 2 && !is_measure && !lower.contains("mhz") && !lower.contains("ppm") && lower != "tms"
}

/// `H`, `(ppm)`, `/ppm`, `=` and the like between `δ` and the first shift.
fn after_delta(text: &str) -> &str {
    let mut rest = text;
    loop {
        if let Some((_, after)) = super::token::bracketed(rest.trim_start()) {
            rest = after; // a shift comes before its bracket
            continue;
        }
        let next =
            rest.trim_start_matches(|c: char| c.is_whitespace() || matches!(c, ':' | '=' | '/' | '_' | ','));
        let next = ["ppm", "H", "in"].iter().find_map(|p| next.strip_prefix(p)).unwrap_or(next);
        if next.len() == rest.len() {
            return next;
        }
        rest = next;
    }
}
