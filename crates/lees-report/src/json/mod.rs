//! The machine-readable result: one JSON object a line, its own types, apart from the values inside.

mod check;
mod finding;
mod inspect;

use serde::Serialize;

pub use inspect::{InspectFile, inspect};

use lees_core::check::Check;

/// The name and version of the object written by [`check`].
pub const CHECK_SCHEMA: &str = "lees/check/1";

/// The check as one JSON object on one line, without a line break at the end.
///
/// Numbers carry the unit of their key; what is not known is `null`, never 0.
///
/// ```
/// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/checked_dye.rs")); }
/// # use made::*;
/// let line = lees_report::json::check(&checked_dye());
/// assert!(line.starts_with(r#"{"schema":"lees/check/1""#));
/// assert!(line.contains(r#""verdict":"needs_drying""#), "{line}");
/// ```
#[must_use]
pub fn check(check: &Check) -> String {
    line(&check::CheckOut::new(check))
}

/// Serialises; a failure becomes an object with the key `error` instead of half a line.
fn line(value: &impl Serialize) -> String {
    serde_json::to_string(value)
        .unwrap_or_else(|error| serde_json::json!({ "error": error.to_string() }).to_string())
}
