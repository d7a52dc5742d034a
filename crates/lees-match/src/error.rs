//! What can go wrong on this floor.

use thiserror::Error;

/// Why a table, a name or a measurement could not be used.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum MatchError {
    /// A row of a reference table.
    #[error("{file}, line {line}, column `{column}`: read `{read}`; allowed: {allowed}")]
    Row {
        /// The table's name.
        file: String,
        /// Line, counted from 1, the header being line 1.
        line: u64,
        /// The column's name.
        column: String,
        /// What stood there.
        read: String,
        /// What may stand there.
        allowed: String,
    },
    /// A name that is in no table.
    #[error("`{name}` is no known {what}{hint}")]
    UnknownName {
        /// The name as given.
        name: String,
        /// What kind of thing was looked for, such as `NMR solvent`.
        what: String,
        /// A hint that completes the sentence, empty when there is none.
        hint: String,
    },
    /// A number that makes no sense where it stands.
    #[error("{what} is {read}; allowed: {allowed}")]
    Value {
        /// The quantity.
        what: String,
        /// What was given.
        read: String,
        /// What is allowed.
        allowed: String,
    },
    /// The data do not suffice for what was asked.
    #[error("{0}")]
    NotEnough(String),
}
