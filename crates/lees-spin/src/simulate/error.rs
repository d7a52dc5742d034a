//! What can be wrong with a recipe.

use thiserror::Error;

/// Why a recipe cannot be followed.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum RecipeError {
    /// The text is no recipe.
    #[error("line {line}, column {column}: {what}")]
    Text {
        /// Line, from 1.
        line: usize,
        /// Column, from 1.
        column: usize,
        /// What was read and what was allowed.
        what: String,
    },
    /// A setting lies outside its range.
    #[error("{name} is {value}; allowed is {allowed}")]
    Setting {
        /// Dotted name.
        name: &'static str,
        /// The value as read.
        value: f64,
        /// The range.
        allowed: &'static str,
    },
    /// A compound is not fully described.
    #[error("{compound}: {what}")]
    Compound {
        /// Its name.
        compound: String,
        /// What is missing or contradictory.
        what: String,
    },
}

impl RecipeError {
    pub(crate) fn compound(name: &str, what: impl Into<String>) -> Self {
        Self::Compound { compound: name.to_owned(), what: what.into() }
    }

    pub(crate) fn text(source: &str, error: &toml::de::Error) -> Self {
        let at = error.span().map_or(0, |span| span.start).min(source.len());
        let before = source.get(..at).unwrap_or_default();
        let line = before.matches('\n').count() + 1;
        let column = before.chars().rev().take_while(|c| *c != '\n').count() + 1;
        Self::Text { line, column, what: error.message().replace('\n', " ") }
    }
}
