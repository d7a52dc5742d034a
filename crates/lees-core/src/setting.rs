//! Settings as they are written out with every result.

use std::collections::BTreeMap;
use std::fmt;

use serde::{Deserialize, Serialize};

/// One setting's value.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum SettingValue {
    /// Yes or no.
    Flag(bool),
    /// A number, in the unit of the setting's name.
    Number(f64),
    /// A word.
    Text(String),
    /// Not set: decided from the data.
    Unset(()),
}

/// Settings by dotted name, such as `process.line_broadening_hz`.
pub type SettingMap = BTreeMap<String, SettingValue>;

impl fmt::Display for SettingValue {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Flag(value) => write!(f, "{value}"),
            Self::Number(value) => write!(f, "{value}"),
            Self::Text(value) => f.write_str(value),
            Self::Unset(()) => f.write_str("auto"),
        }
    }
}
