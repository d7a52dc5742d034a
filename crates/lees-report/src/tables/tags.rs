//! What the chemist's own list says of a file: which batch, which fraction, how long dried, how much of it.

use serde::{Deserialize, Serialize};

use super::column::{Column, number, text};
use super::value::{self, Value};

/// Facts beside the spectrum, by file.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Tags {
    /// The batch.
    pub batch: Option<String>,
    /// The fraction, such as `7` or `12-14`.
    pub fraction: Option<String>,
    /// Time under drying, hours.
    pub drying_hours: Option<f64>,
    /// Mass of what the spectrum stands for, g.
    pub mass_g: Option<f64>,
}

pub(super) const COLUMNS: [Column; 4] = [
    text("batch", "batch, from the sheet"),
    text("fraction", "fraction, from the sheet"),
    number("drying_hours", "h", "time under drying, from the sheet"),
    number("mass_g", "g", "mass the spectrum stands for, from the sheet"),
];

impl Tags {
    pub(super) fn cells(&self) -> [Value; 4] {
        [
            value::words(self.batch.as_deref()),
            value::words(self.fraction.as_deref()),
            value::number(self.drying_hours),
            value::number(self.mass_g),
        ]
    }
}
