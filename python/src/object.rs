//! JSON and table rows as Python objects.

use lees_report::tables::{Row, Rows, Value};
use pyo3::prelude::*;
use pyo3::types::PyDict;

/// The Python object for a JSON text.
pub(crate) fn from_json<'py>(py: Python<'py>, json: &str) -> PyResult<Bound<'py, PyAny>> {
    py.import("json")?.call_method1("loads", (json,))
}

/// A row as a dict by column name; what is not known is None.
pub(crate) fn row<'py>(py: Python<'py>, kind: Rows, row: &Row) -> PyResult<Bound<'py, PyDict>> {
    let dict = PyDict::new(py);
    for (column, value) in kind.columns().iter().zip(row) {
        match value {
            Value::Unknown(()) => dict.set_item(column.name, py.None())?,
            Value::Count(n) => dict.set_item(column.name, n)?,
            Value::Number(x) => dict.set_item(column.name, x)?,
            Value::Text(words) => dict.set_item(column.name, words)?,
        }
    }
    Ok(dict)
}
