//! The product file: what the chemist says the sample is.

use std::collections::BTreeMap;

use lees_core::{ExpectedSignal, Formula, LimitSet, MassFraction, Product, ShiftRange};
use serde::Deserialize;
use toml::Spanned;

use crate::clean::quoted;
use crate::error::{ErrorKind, FormatError};
use crate::journal;

/// Largest difference between a given molar mass and that of the formula, in g/mol: rounding and older atomic
/// weights stay within it, another salt or a missing proton does not.
pub const MOLAR_MASS_TOLERANCE: f64 = 0.05;

/// Protons by which a journal line may exceed the formula: integrals given with decimals.
const PROTON_TOLERANCE: f64 = 0.5;

/// What a product file may hold.
const KEYS: &str = "name = \"...\", formula = \"...\" or molar_mass = 300.38, signals = \"...\", quantify = [\"8.7-8.9\"], \
                    and after them [limits] with total = \"0.5 wt%\" or names of volatiles, in quotation marks where they hold a blank: \"ethyl acetate\" = \"0.5 wt%\"";

/// What helps with the slips that a first product file has: part of the parser's message, and what is allowed.
const HINTS: [(&str, &str); 6] = [
    ("expected f64", "a bare number, such as molar_mass = 300.38"),
    ("floating point", QUOTED),
    ("integer", QUOTED),
    ("expected a map", "[limits] on a line of its own, under it lines such as total = \"0.5 wt%\""),
    ("unknown field `total`", "total = \"0.5 wt%\" under a line [limits]"),
    ("sequence, expected a string", "one text with commas between the signals, as in a journal"),
];

/// Where a bare number stands instead of a text.
const QUOTED: &str = "text in quotation marks, a limit with its unit, such as \"0.5 wt%\" or \"600 ppm\"";

/// Longest product file, in bytes.
const LONGEST: usize = 1 << 20;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    name: Option<String>,
    formula: Option<Spanned<String>>,
    molar_mass: Option<Spanned<f64>>,
    signals: Option<Spanned<String>>,
    quantify: Option<Vec<Spanned<String>>>,
    limits: Option<BTreeMap<String, Spanned<String>>>,
}

/// Reads a product file.
///
/// # Errors
/// Line and column of what cannot be understood: an unknown key, a formula, a signal, a limit in a unit that is no
/// mass fraction; neither formula nor molar mass; both, but more than [`MOLAR_MASS_TOLERANCE`] apart.
///
/// ```
/// let text = "name = 'coumarin'\nformula = 'C9H6O2'\nsignals = '7.71 (d, J = 9.5 Hz, 1H)'\n\
///     [limits]\ntotal = '0.5 wt%'\n";
/// let product = lees_format::product::parse(text, "product.toml")?;
/// assert_eq!(product.signals.len(), 1);
/// # Ok::<(), lees_format::FormatError>(())
/// ```
pub fn parse(text: &str, name: &str) -> Result<Product, FormatError> {
    read(text).map_err(|error| error.in_file(name))
}

/// Checks that a product has signals, where they are needed.
///
/// # Errors
/// When it has none.
///
/// ```
/// use lees_format::product::{parse, require_signals};
/// let bare = parse("formula = 'C9H6O2'", "product.toml")?;
/// let fault = require_signals(&bare, "product.toml").unwrap_err();
/// assert!(fault.allowed().starts_with("a journal line under `signals`"));
/// # Ok::<(), lees_format::FormatError>(())
/// ```
pub fn require_signals(product: &Product, name: &str) -> Result<(), FormatError> {
    if product.signals.is_empty() {
        let read = format!("product `{}` without signals", quoted(&product.name, 80));
        let allowed = "a journal line under `signals`, such as \"7.71 (d, J = 9.5 Hz, 1H)\"";
        return Err(fault(read, allowed).in_file(name));
    }
    Ok(())
}

/// Reads the text form of a stretch to quantify on, such as `7.3-7.5`.
///
/// # Errors
/// When it is no range of shifts.
pub(crate) fn range(text: &str) -> Result<ShiftRange, FormatError> {
    journal::range(text)
}

fn fault(read: impl Into<String>, allowed: &str) -> FormatError {
    FormatError::new(ErrorKind::Product, read, allowed)
}

fn read(text: &str) -> Result<Product, FormatError> {
    if text.len() > LONGEST {
        return Err(fault(format!("{} bytes", text.len()), "a product file of at most 1 MiB"));
    }
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    if text.trim_start().starts_with("##") && text.contains("JCAMP") {
        return Err(fault(
            "a JCAMP-DX file",
            "a product file (TOML), such as dye.toml; the spectrum stands apart from it",
        )
        .at(1, 1));
    }
    let file: File = toml::from_str(text).map_err(|error| toml_fault(text, &error))?;
    let (formula, molar_mass) = mass(text, &file)?;
    let mut signals = match &file.signals {
        Some(line) => journal::parse(line.get_ref()).map_err(|error| inside(text, line, &error))?,
        None => Vec::new(),
    };
    signals.sort_by(|a, b| b.range.centre().0.total_cmp(&a.range.centre().0));
    protons(text, &file, &signals, formula.as_ref())?;
    let quantify = file.quantify.iter().flatten().map(|item| stretch(text, item, &signals));
    let quantify = quantify.collect::<Result<_, _>>()?;
    Ok(Product {
        name: file.name.clone().unwrap_or_else(|| "product".to_owned()),
        formula,
        molar_mass,
        signals,
        nmr_solvent: file.signals.as_ref().and_then(|line| journal::nmr_solvent(line.get_ref())),
        quantify,
        limits: limits(text, file.limits.unwrap_or_default())?,
    })
}

/// A stretch to quantify on; where signals are listed it must hold one of them, else it would be passed over.
fn stretch(
    text: &str,
    item: &Spanned<String>,
    signals: &[ExpectedSignal],
) -> Result<ShiftRange, FormatError> {
    let found = range(item.get_ref()).map_err(|error| inside(text, item, &error))?;
    if signals.is_empty() || signals.iter().any(|signal| found.contains(signal.range.centre())) {
        return Ok(found);
    }
    let read = format!("`{}` where no signal of the product stands", quoted(item.get_ref(), 40));
    Err(place(text, item.span().start, fault(read, "a stretch that holds the centre of a listed signal")))
}

/// What to say of signals that have more protons together than the formula; `None` where they do not.
///
/// ```
/// use lees_format::{journal, product::protons_beyond};
/// let formula = "CH2Cl2".parse()?;
/// assert_eq!(protons_beyond(&formula, &journal::parse("5.30 (s, 2H)")?), None);
/// let said = protons_beyond(&formula, &journal::parse("5.30 (s, 3H)")?);
/// assert_eq!(said.as_deref(), Some("signals with 3 H together where CH2Cl2 has 2"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn protons_beyond(formula: &Formula, signals: &[ExpectedSignal]) -> Option<String> {
    let listed: f64 = signals.iter().map(|signal| signal.protons).sum();
    let most = f64::from(formula.count("H"));
    (listed > most + PROTON_TOLERANCE)
        .then(|| format!("signals with {listed} H together where {formula} has {most}"))
}

/// The journal line may leave protons out (those that exchange), but not have more than the formula.
fn protons(
    text: &str,
    file: &File,
    signals: &[ExpectedSignal],
    formula: Option<&Formula>,
) -> Result<(), FormatError> {
    let (Some(formula), Some(line)) = (formula, &file.signals) else { return Ok(()) };
    let Some(read) = protons_beyond(formula, signals) else { return Ok(()) };
    Err(place(text, line.span().start, fault(read, "no more protons than the formula has")))
}

fn mass(text: &str, file: &File) -> Result<(Option<Formula>, f64), FormatError> {
    let formula = match &file.formula {
        Some(item) => {
            let formula: Formula = item.get_ref().parse().map_err(|error: lees_core::FormulaError| {
                place(text, item.span().start, fault(error.to_string(), "a formula such as C16H13NO3"))
            })?;
            Some(formula)
        }
        None => None,
    };
    let given = file.molar_mass.as_ref().map(|item| (*item.get_ref(), item.span().start));
    if let Some((mass, at)) = given
        && !(mass.is_finite() && mass > 0.0)
    {
        return Err(place(text, at, fault(format!("molar mass {mass}"), "a positive number in g/mol")));
    }
    match (formula, given) {
        (None, None) => Err(fault("neither `formula` nor `molar_mass`", "one of them, or both in agreement")),
        (None, Some((mass, _))) => Ok((None, mass)),
        (Some(formula), None) if formula.molar_mass() <= 0.0 => {
            Err(fault(format!("formula `{formula}` without atoms"), "a formula such as C16H13NO3"))
        }
        (Some(formula), None) => {
            let mass = formula.molar_mass();
            Ok((Some(formula), mass))
        }
        (Some(formula), Some((mass, at))) if (formula.molar_mass() - mass).abs() > MOLAR_MASS_TOLERANCE => {
            let read = format!("molar mass {mass} where {formula} has {:.3}", formula.molar_mass());
            Err(place(text, at, fault(read, "values within 0.05 g/mol, or only one of the two")))
        }
        (Some(formula), Some((mass, _))) => Ok((Some(formula), mass)),
    }
}

fn limits(text: &str, entries: BTreeMap<String, Spanned<String>>) -> Result<LimitSet, FormatError> {
    let mut set = LimitSet::default();
    for (name, item) in entries {
        let fraction: MassFraction = item.get_ref().parse().map_err(|error: lees_core::FractionError| {
            place(text, item.span().start, fault(error.to_string(), "a limit by mass, such as \"0.5 wt%\""))
        })?;
        if name.eq_ignore_ascii_case("total") {
            set.total = Some(fraction);
        } else {
            set.each.insert(name, fraction);
        }
    }
    Ok(set)
}

/// An error inside a string value, moved to its place in the file.
fn inside(text: &str, item: &Spanned<String>, error: &FormatError) -> FormatError {
    const QUOTE: usize = 1;
    let offset = error.column().map_or(0, |column| QUOTE + column - 1);
    place(text, item.span().start + offset, fault(error.read(), error.allowed()))
}

/// An error at a byte of the file, as line and column.
fn place(text: &str, offset: usize, error: FormatError) -> FormatError {
    let before = &text.as_bytes()[..offset.min(text.len())];
    let line = 1 + before.iter().filter(|b| **b == b'\n').count();
    let column = 1 + before.iter().rev().take_while(|b| **b != b'\n').count();
    error.at(line, column)
}

fn toml_fault(text: &str, error: &toml::de::Error) -> FormatError {
    let message = error.message();
    let allowed = HINTS.iter().find(|(said, _)| message.contains(said)).map_or(KEYS, |(_, hint)| hint);
    let fault = fault(quoted(message, 200), allowed);
    match error.span() {
        Some(span) => place(text, span.start, fault),
        None => fault,
    }
}
