//! One exception, with the text the command line prints.

use pyo3::create_exception;
use pyo3::exceptions::PyValueError;
use pyo3::prelude::*;

create_exception!(lees, Error, PyValueError, "An input, product or setting that cannot be used; one line says why.");

/// The exception for any fault of the library.
pub(crate) fn error(fault: impl std::fmt::Display) -> PyErr {
    Error::new_err(fault.to_string())
}
