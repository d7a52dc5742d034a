//! Columns for what the sheet says of a file.

use lees_core::rack::Tags;

use super::column::{Column, number, text};
use super::value::{self, Value};

pub(super) const COLUMNS: [Column; 4] = [
    text("batch", "batch, from the sheet"),
    text("fraction", "fraction, from the sheet"),
    number("drying_hours", "h", "time under drying, from the sheet"),
    number("mass_g", "g", "mass the spectrum stands for, from the sheet"),
];

pub(super) fn cells(tags: &Tags) -> [Value; 4] {
    [
        value::words(tags.batch.as_deref()),
        value::words(tags.fraction.as_deref()),
        value::number(tags.drying_hours),
        value::number(tags.mass_g),
    ]
}
