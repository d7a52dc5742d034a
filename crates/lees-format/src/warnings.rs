//! Deviations that were tolerated, and what was done about each.

use crate::error::{ErrorKind, FormatError};

/// Collects warnings up to a limit.
#[derive(Debug, Clone, Default)]
pub(crate) struct Warnings {
    list: Vec<String>,
    most: usize,
    dropped: usize,
}

impl Warnings {
    pub(crate) const fn up_to(most: usize) -> Self {
        Self { list: Vec::new(), most, dropped: 0 }
    }

    pub(crate) fn add(&mut self, text: impl Into<String>) {
        let text = text.into();
        if self.list.contains(&text) {
            return;
        }
        if self.list.len() < self.most {
            self.list.push(text);
        } else {
            self.dropped += 1;
        }
    }

    pub(crate) fn on_line(&mut self, line: usize, text: impl AsRef<str>) {
        self.add(format!("line {line}: {}", text.as_ref()));
    }

    pub(crate) fn extend(&mut self, other: &[String]) {
        for text in other {
            self.add(text.clone());
        }
    }

    pub(crate) fn into_list(mut self) -> Vec<String> {
        if self.dropped > 0 {
            self.list.push(format!("{} further warnings of this file are not listed", self.dropped));
        }
        self.list
    }

    /// The first warning as an error, for strict reading.
    pub(crate) fn first_as_error(list: &[String]) -> Option<FormatError> {
        let first = list.first()?;
        Some(FormatError::new(ErrorKind::Strict, first.clone(), "no deviation from the standard (strict)"))
    }
}
