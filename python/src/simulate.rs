//! Spectra of known content.

use lees_core::Measurement as Inner;
use lees_format::write;
use lees_spin::simulate::{OutputKind, Recipe, simulate as make};
use pyo3::prelude::*;
use pyo3::types::PyBytes;

use crate::error::error;
use crate::object;
use crate::read::Measurement;
use crate::source::text;

/// A simulated recording and what is really in it.
#[pyclass(frozen, module = "lees")]
pub(crate) struct Simulated {
    /// The spectrum.
    #[pyo3(get)]
    spectrum: Py<Measurement>,
    /// The free induction decay.
    #[pyo3(get)]
    fid: Py<Measurement>,
    truth: String,
    file: Vec<u8>,
}

#[pymethods]
impl Simulated {
    /// What was planted, as a dict.
    #[getter]
    fn truth<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        object::from_json(py, &self.truth)
    }

    /// The file the recipe asks for (spectrum or FID) as JCAMP-DX bytes, ready for `check` and `read`.
    fn jcamp<'py>(&self, py: Python<'py>) -> Bound<'py, PyBytes> {
        PyBytes::new(py, &self.file)
    }
}

/// Simulates a recipe: a path or its TOML text. seed: replaces the recipe's.
#[pyfunction]
#[pyo3(signature = (recipe, *, seed = None))]
pub(crate) fn simulate(py: Python<'_>, recipe: &Bound<'_, PyAny>, seed: Option<u64>) -> PyResult<Simulated> {
    let (text, name) = text(recipe)?;
    let at = |fault: &dyn std::fmt::Display| error(format!("{name}: {fault}"));
    let mut recipe = Recipe::from_toml(&text).map_err(|fault| at(&fault))?;
    if let Some(seed) = seed {
        recipe.seed = seed;
    }
    let made = py.detach(|| make(&recipe)).map_err(|fault| at(&fault))?;
    let truth = made.truth.to_json().map_err(error)?;
    let (spectrum, fid) = (Inner::Spectrum(made.spectrum), Inner::Fid(made.fid));
    let wanted = if recipe.output.kind == OutputKind::Fid { &fid } else { &spectrum };
    let file = py.detach(|| write::jcamp(wanted, &write::WriteOptions::default()));
    Ok(Simulated {
        spectrum: Py::new(py, Measurement::new(py, spectrum, Vec::new()))?,
        fid: Py::new(py, Measurement::new(py, fid, Vec::new()))?,
        truth,
        file: file.bytes,
    })
}
