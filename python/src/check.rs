//! One checked spectrum.

use lees_core::check::{Check as Inner, Estimate, Verdict};
use lees_core::rack::Tags;
use lees_report::tables::{Rows, findings, spectrum};
use lees_report::terminal::Style;
use lees_report::{json, terminal};
use ndarray::Array1;
use numpy::{IntoPyArray, PyArray1};
use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::object;

/// What one spectrum told.
#[pyclass(frozen, module = "lees")]
pub(crate) struct Check {
    inner: Inner,
    intensity: Py<PyArray1<f64>>,
}

impl Check {
    /// Takes a check over; its spectrum's memory becomes the array's.
    pub(crate) fn new(py: Python<'_>, mut inner: Inner) -> Self {
        let intensity = std::mem::take(&mut inner.spectrum.real).into_pyarray(py).unbind();
        inner.spectrum.imaginary = None;
        Self { inner, intensity }
    }
}

#[pymethods]
impl Check {
    /// "dry", "needs_drying" or "undecided".
    #[getter]
    fn verdict(&self) -> &'static str {
        match self.inner.verdict {
            Verdict::Dry => "dry",
            Verdict::NeedsDrying => "needs_drying",
            Verdict::Undecided => "undecided",
        }
    }

    /// The input as given, with "#n" for the n-th spectrum of a file that has several.
    #[getter]
    fn path(&self) -> &str {
        &self.inner.input.path
    }

    /// Title in the file.
    #[getter]
    fn title(&self) -> &str {
        &self.inner.input.title
    }

    /// SHA-256 of the input's bytes.
    #[getter]
    fn sha256(&self) -> &str {
        &self.inner.input.sha256
    }

    /// Sum of all counted volatiles in wt%, as (value, low, high) with its 95 % interval; None without product.
    #[getter]
    fn total_wt_percent(&self) -> Option<(f64, f64, f64)> {
        self.inner.total.wt_percent.map(|Estimate { value, low, high, .. }| (value, low, high))
    }

    /// Why this verdict, the deciding sentence first.
    #[getter]
    fn reasons(&self) -> Vec<String> {
        self.inner.reasons.clone()
    }

    /// Things a careful reader should know.
    #[getter]
    fn warnings(&self) -> Vec<String> {
        self.inner.warnings.clone()
    }

    /// Shifts of the points, ppm, falling.
    #[getter]
    fn ppm<'py>(&self, py: Python<'py>) -> Bound<'py, PyArray1<f64>> {
        let axis = self.inner.spectrum.axis;
        (0..axis.points()).map(|i| axis.shift(i).0).collect::<Array1<f64>>().into_pyarray(py)
    }

    /// Intensities as they were quantified: phased, baseline removed. The array is not a copy.
    #[getter]
    fn intensity<'py>(&self, py: Python<'py>) -> Bound<'py, PyArray1<f64>> {
        self.intensity.bind(py).clone()
    }

    /// Standard deviation of one point's noise.
    #[getter]
    fn noise(&self) -> f64 {
        self.inner.noise
    }

    /// The whole result as one line of JSON, as `lees check --format json` prints it.
    fn to_json(&self) -> String {
        json::check(&self.inner)
    }

    /// The whole result as a dict.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        object::from_json(py, &json::check(&self.inner))
    }

    /// A dict for each compound, with the columns of `lees check --rows findings`.
    fn findings<'py>(&self, py: Python<'py>) -> PyResult<Vec<Bound<'py, PyDict>>> {
        let rows = findings(&self.inner, &Tags::default());
        rows.iter().map(|row| object::row(py, Rows::Findings, row)).collect()
    }

    /// A dict with the columns of `lees check --rows spectra`.
    fn row<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        object::row(py, Rows::Spectra, &spectrum(&self.inner, &Tags::default()))
    }

    /// The report to read, as the terminal shows it without colour.
    #[pyo3(signature = (width = 100))]
    fn text(&self, width: usize) -> String {
        terminal::check(&self.inner, &Style { width, ..Style::default() })
    }

    fn __repr__(&self) -> String {
        let total = self.inner.total.wt_percent;
        let total = total.map_or_else(String::new, |t| format!(", {:.3} ({:.3} to {:.3}) wt%", t.value, t.low, t.high));
        format!("<lees.Check {}: {}{total}>", self.inner.input.path, self.verdict())
    }
}
