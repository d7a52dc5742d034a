//! What a caller may give: a path, or bytes.

use std::path::PathBuf;

use pyo3::prelude::*;
use pyo3::types::PyBytes;

use crate::error::error;

/// An input.
pub(crate) enum Source<'py> {
    /// Bytes, borrowed from Python.
    Bytes(Bound<'py, PyBytes>),
    /// A file still to be read.
    Path(PathBuf),
}

impl<'py> Source<'py> {
    pub(crate) fn new(given: &Bound<'py, PyAny>) -> PyResult<Self> {
        if let Ok(bytes) = given.cast::<PyBytes>() {
            return Ok(Self::Bytes(bytes.clone()));
        }
        if let Ok(path) = given.extract::<PathBuf>() {
            return Ok(Self::Path(path));
        }
        // bytearray, memoryview, numpy and the like may change while the lock is released: copied.
        let builtins = given.py().import("builtins")?;
        let copy = builtins.getattr("bytes")?.call1((builtins.getattr("memoryview")?.call1((given,))?,))?;
        Ok(Self::Bytes(copy.cast_into::<PyBytes>()?))
    }

    /// The name for messages, unless another is given.
    pub(crate) fn name(&self, given: Option<String>) -> String {
        given.unwrap_or_else(|| match self {
            Self::Bytes(_) => "-".to_owned(),
            Self::Path(path) => path.display().to_string(),
        })
    }

    /// Runs `work` on the bytes with the interpreter lock released.
    pub(crate) fn with_bytes<T: Send>(
        &self,
        py: Python<'_>,
        name: &str,
        work: impl FnOnce(&[u8]) -> T + Send,
    ) -> PyResult<T> {
        match self {
            Self::Bytes(bytes) => {
                let bytes = bytes.as_bytes();
                Ok(py.detach(|| work(bytes)))
            }
            Self::Path(path) => py
                .detach(|| std::fs::read(path).map(|bytes| work(&bytes)))
                .map_err(|fault| error(format!("{name}: cannot read: {fault}"))),
        }
    }
}

/// The text of a small file (product, recipe) that is named or given as text: a text has a line break or an `=`.
pub(crate) fn text(given: &Bound<'_, PyAny>) -> PyResult<(String, String)> {
    if let Ok(text) = given.extract::<String>()
        && (text.contains('\n') || text.contains('='))
    {
        return Ok((text, "-".to_owned()));
    }
    let path: PathBuf = given.extract()?;
    let name = path.display().to_string();
    match std::fs::read_to_string(&path) {
        Ok(text) => Ok((text, name)),
        Err(fault) => Err(error(format!("{name}: cannot read: {fault}"))),
    }
}
