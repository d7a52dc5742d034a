//! What a column holds.

/// The kind of a column's values.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Words.
    Text,
    /// A number in the column's unit.
    Number,
    /// A count.
    Count,
}

/// A column: its name, the unit of its numbers, what it means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column {
    /// The name in the header.
    pub name: &'static str,
    /// The kind of its values.
    pub kind: Kind,
    /// The unit, `1` for a ratio or a count, empty for words.
    pub unit: &'static str,
    /// One line of meaning.
    pub about: &'static str,
}

pub(super) const fn text(name: &'static str, about: &'static str) -> Column {
    Column { name, kind: Kind::Text, unit: "", about }
}

pub(super) const fn number(name: &'static str, unit: &'static str, about: &'static str) -> Column {
    Column { name, kind: Kind::Number, unit, about }
}

pub(super) const fn count(name: &'static str, about: &'static str) -> Column {
    Column { name, kind: Kind::Count, unit: "1", about }
}
