//! The one error of this crate: where it was, what was read, what was allowed.

use thiserror::Error;

use crate::clean::quoted;

/// What sort of thing went wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum ErrorKind {
    /// The input holds nothing.
    Empty,
    /// The input is no text: an image, a program, a binary file.
    NotText,
    /// The input is damaged or cut off: values would be wrong.
    Damaged,
    /// Recognised, but no one-dimensional NMR data.
    Refused,
    /// Something needed is absent: a frequency, an axis.
    Missing,
    /// A limit of [`crate::Limits`] was passed.
    Limit,
    /// A deviation that is only a warning unless strict reading was asked for.
    Strict,
    /// A journal line that cannot be understood.
    Journal,
    /// A product description that cannot be understood.
    Product,
}

/// Longer texts are cut in a message, in characters.
const LONGEST: usize = 300;

/// Why an input could not be read, on one line.
///
/// ```
/// let error = lees_format::read(b"", "empty.jdx", &Default::default()).unwrap_err();
/// assert_eq!(error.to_string(), "empty.jdx: the file is empty; allowed: JCAMP-DX or columns of numbers");
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{}", self.line_of_text())]
pub struct FormatError {
    kind: ErrorKind,
    name: String,
    line: Option<usize>,
    column: Option<usize>,
    read: String,
    allowed: String,
}

impl FormatError {
    /// An error with neither place nor file name yet.
    #[must_use]
    pub(crate) fn new(kind: ErrorKind, read: impl Into<String>, allowed: impl Into<String>) -> Self {
        Self {
            kind,
            name: String::new(),
            line: None,
            column: None,
            read: read.into(),
            allowed: allowed.into(),
        }
    }

    /// The same error, on a line (from 1).
    #[must_use]
    pub(crate) fn on_line(self, line: usize) -> Self {
        Self { line: self.line.or(Some(line)), ..self }
    }

    /// The same error, on a line and a column (both from 1, columns in bytes).
    #[must_use]
    pub(crate) fn at(self, line: usize, column: usize) -> Self {
        Self { line: Some(line), column: Some(column), ..self }
    }

    /// The same error, at a column of a text of one line.
    #[must_use]
    pub(crate) fn at_column(self, column: usize) -> Self {
        Self { column: Some(column), ..self }
    }

    /// The same error, in a named file.
    #[must_use]
    pub(crate) fn in_file(self, name: &str) -> Self {
        if self.name.is_empty() { Self { name: name.to_owned(), ..self } } else { self }
    }

    /// What sort of error it is.
    ///
    /// ```
    /// let mut options = lees_format::ReadOptions::default();
    /// options.limits.input_bytes = 10;
    /// let fault = lees_format::read(b"more than ten bytes", "a.txt", &options).unwrap_err();
    /// assert_eq!(fault.kind(), lees_format::ErrorKind::Limit);
    /// let fault = lees_format::product::parse("formula = 'C0'", "p.toml").unwrap_err();
    /// assert_eq!(fault.kind(), lees_format::ErrorKind::Product);
    /// ```
    #[must_use]
    pub const fn kind(&self) -> ErrorKind {
        self.kind
    }

    /// The name of the input, as given to the reader.
    ///
    /// ```
    /// let fault = lees_format::product::parse("formula = 'C0'", "dye.toml").unwrap_err();
    /// assert_eq!(fault.name(), "dye.toml");
    /// ```
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The line, counted from 1, when the error has a place.
    ///
    /// ```
    /// let fault = lees_format::product::parse("name = 'dye'\nmolar_mass = -3.0\n", "dye.toml").unwrap_err();
    /// assert_eq!((fault.line(), fault.column()), (Some(2), Some(14)));
    /// ```
    #[must_use]
    pub const fn line(&self) -> Option<usize> {
        self.line
    }

    /// The column, counted from 1 in bytes, when the error has one.
    ///
    /// ```
    /// let fault = lees_format::journal::parse("4.12 (q, J = 7.1 Hz)").unwrap_err();
    /// assert_eq!(fault.column(), Some(7), "the bracket that names no protons");
    /// ```
    #[must_use]
    pub const fn column(&self) -> Option<usize> {
        self.column
    }

    /// What was read.
    ///
    /// ```
    /// let fault = lees_format::product::parse("molar_mass = -3.0\n", "dye.toml").unwrap_err();
    /// assert_eq!(fault.read(), "molar mass -3");
    /// ```
    #[must_use]
    pub fn read(&self) -> &str {
        &self.read
    }

    /// What was allowed instead.
    ///
    /// ```
    /// let fault = lees_format::product::parse("molar_mass = -3.0\n", "dye.toml").unwrap_err();
    /// assert_eq!(fault.allowed(), "a positive number in g/mol");
    /// ```
    #[must_use]
    pub fn allowed(&self) -> &str {
        &self.allowed
    }

    fn line_of_text(&self) -> String {
        let mut text = quoted(&self.name, 200);
        if let Some(line) = self.line {
            text.push_str(&format!("{}line {line}", if text.is_empty() { "" } else { ", " }));
        }
        if let Some(column) = self.column {
            text.push_str(&format!("{}column {column}", if text.is_empty() { "" } else { ", " }));
        }
        if !text.is_empty() {
            text.push_str(": ");
        }
        // Causes from elsewhere quote the input as it is.
        text.push_str(&quoted(&self.read, LONGEST));
        if !self.allowed.is_empty() {
            text.push_str("; allowed: ");
            text.push_str(&quoted(&self.allowed, LONGEST));
        }
        text
    }
}
