//! Journal lines: how papers list the signals of a 1H spectrum.
//!
//! `1H NMR (400 MHz, CDCl3) δ 7.35–7.28 (m, 5H), 4.12 (q, J = 7.1 Hz, 2H, OCH2), 1.25 (t, J = 7.1, 3H).`
//!
//! Order within the brackets is free; dashes of all sorts, decimal commas, `J` with and without `=` and `Hz`,
//! and text about the assignment are understood. The number of protons is required: without it a signal cannot
//! be quantified on.

mod item;
mod preamble;
mod token;

use lees_core::{ExpectedSignal, Ppm, ShiftRange};

use crate::clean::quoted;
use crate::error::{ErrorKind, FormatError};

use item::Items;

/// Longest line, in bytes.
const LONGEST: usize = 64 << 10;

/// Most signals of a line.
const MOST_SIGNALS: usize = 1000;

/// Shifts of protons, in ppm, with room for hydrides and strong hydrogen bonds.
const SHIFTS: std::ops::RangeInclusive<f64> = -60.0..=60.0;

/// Shifts of carbon-13 that no proton has, in ppm (common practice, no source).
const CARBON: std::ops::RangeInclusive<f64> = 60.0..=250.0;

/// Reads a journal line.
///
/// # Errors
/// Names the column at which the line stops making sense.
///
/// ```
/// let signals = lees_format::journal::parse("δ 4.12 (q, J = 7.1 Hz, 2H, OCH2), 1.25 (t, J = 7.1 Hz, 3H)")?;
/// assert_eq!(signals.len(), 2);
/// assert_eq!((signals[0].protons, signals[0].assignment.as_deref()), (2.0, Some("OCH2")));
/// # Ok::<(), lees_format::FormatError>(())
/// ```
pub fn parse(line: &str) -> Result<Vec<ExpectedSignal>, FormatError> {
    if line.len() > LONGEST {
        let read = format!("a line of {} bytes", line.len());
        return Err(FormatError::new(ErrorKind::Limit, read, format!("at most {LONGEST}")));
    }
    let line = preamble::proton_part(line);
    let mut rest = preamble::skip(line);
    let mut signals = Vec::new();
    loop {
        rest = token::skip_separators(rest);
        if rest.is_empty() {
            break;
        }
        if signals.len() >= MOST_SIGNALS {
            return Err(fault(line, rest, "too many signals", "at most 1000"));
        }
        let (after, signal) = signal(line, rest)?;
        signals.push(signal);
        rest = after;
    }
    if signals.is_empty() {
        return Err(fault(line, rest, "no signal", "signals such as `4.12 (q, J = 7.1 Hz, 2H)`"));
    }
    Ok(signals)
}

/// The NMR solvent that the line says before its first signal, as it stands there.
///
/// ```
/// use lees_format::journal::nmr_solvent;
/// assert_eq!(nmr_solvent("1H NMR (400 MHz, DMSO-d6, 298 K) δ 8.79 (s, 1H)").as_deref(), Some("DMSO-d6"));
/// assert_eq!(nmr_solvent("1H NMR, CDCl3, 400 MHz: 7.35 (m, 5H)").as_deref(), Some("CDCl3"));
/// assert_eq!(nmr_solvent("1H NMR (CDCl3) δ 8.79 (s, 1H)").as_deref(), Some("CDCl3"));
/// assert_eq!(nmr_solvent("1H NMR (300 MHz) δ 8.79 (s, 1H)"), None);
/// assert_eq!(nmr_solvent("8.79 (s, 1H), 1.25 (t, 6H)"), None);
/// ```
#[must_use]
pub fn nmr_solvent(line: &str) -> Option<String> {
    preamble::nmr_solvent(line).map(str::to_owned)
}

/// Reads a shift or a range of shifts, such as `7.3-7.5` or `2.17`.
///
/// # Errors
/// When it is neither.
///
/// ```
/// let range = lees_format::journal::range("7.3-7.5")?;
/// assert_eq!((range.high.0, range.low.0), (7.5, 7.3), "in either order");
/// assert!(lees_format::journal::range("7.3 to there").is_err());
/// # Ok::<(), lees_format::FormatError>(())
/// ```
pub fn range(text: &str) -> Result<ShiftRange, FormatError> {
    let (rest, range) = shifts(text, text.trim_start())?;
    let rest = token::skip_ppm(rest).trim_start();
    if rest.is_empty() {
        Ok(range)
    } else {
        Err(fault(text, rest, &quote(rest), "a shift or a range such as 9-0.5"))
    }
}

fn signal<'a>(line: &'a str, at: &'a str) -> Result<(&'a str, ExpectedSignal), FormatError> {
    let (rest, range) = shifts(line, at)?;
    let rest = token::skip_ppm(rest).trim_start();
    let Some((inside, after)) = token::bracketed(rest) else {
        let allowed = "a bracket with pattern and number of protons, such as `(s, 3H)`";
        let read = if rest.is_empty() { "the end of the line".to_owned() } else { quote(rest) };
        return Err(fault(line, rest, &read, allowed));
    };
    let items = Items::read(line, inside)?;
    let Some(protons) = items.protons else {
        return Err(fault(
            line,
            inside,
            &format!("`({})` without protons", quoted(inside, 40)),
            "a number such as `2H`",
        ));
    };
    let signal = ExpectedSignal {
        range,
        multiplicity: items.multiplicity,
        couplings: items.couplings,
        protons,
        assignment: (!items.assignment.is_empty()).then(|| items.assignment.join(", ")),
    };
    Ok((token::skip_ppm(after), signal))
}

fn shifts<'a>(line: &'a str, at: &'a str) -> Result<(&'a str, ShiftRange), FormatError> {
    let wrong = |rest: &str| fault(line, rest, &quote(rest), "a shift in ppm or a range such as `7.35-7.28`");
    let (rest, (first, second)) = token::range(at).map_err(|_| wrong(at))?;
    if !SHIFTS.contains(&first) || !second.is_none_or(|shift| SHIFTS.contains(&shift)) {
        let carbon = CARBON.contains(&first);
        let allowed = if carbon {
            "proton shifts from -60 to 60 ppm; this looks like a carbon-13 line"
        } else {
            "proton shifts from -60 to 60 ppm"
        };
        return Err(fault(line, at, &quote(&at[..at.len() - rest.len()]), allowed));
    }
    Ok((rest, ShiftRange::new(Ppm(first), Ppm(second.unwrap_or(first)))))
}

fn quote(text: &str) -> String {
    format!("`{}`", quoted(text, 30))
}

/// An error at the place of `rest` within `line`; columns count characters.
pub(crate) fn fault(line: &str, rest: &str, read: &str, allowed: &str) -> FormatError {
    let offset = (rest.as_ptr() as usize).saturating_sub(line.as_ptr() as usize).min(line.len());
    let column = 1 + line.get(..offset).map_or(0, |before| before.chars().count());
    FormatError::new(ErrorKind::Journal, read, allowed).at_column(column)
}

#[cfg(test)]
mod tests;
