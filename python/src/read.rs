//! The numbers in a file.

use lees_core::{Acquisition, Measurement as Inner, Spectrum};
use lees_format::{Prefer, ReadOptions};
use ndarray::Array1;
use num_complex::Complex64;
use numpy::{IntoPyArray, PyArray1};
use pyo3::prelude::*;

use crate::error::error;
use crate::source::Source;

/// A spectrum or a free induction decay.
#[pyclass(frozen, module = "lees")]
pub(crate) struct Measurement {
    /// "spectrum" or "fid".
    #[pyo3(get)]
    kind: &'static str,
    /// Shifts in ppm, falling, of a spectrum; times in seconds of a FID.
    #[pyo3(get)]
    x: Py<PyArray1<f64>>,
    /// Real part of a spectrum; None for a FID.
    #[pyo3(get)]
    real: Option<Py<PyArray1<f64>>>,
    /// Imaginary part of a spectrum, when there is one.
    #[pyo3(get)]
    imaginary: Option<Py<PyArray1<f64>>>,
    /// Complex points of a FID, turning in the positive sense above the carrier; None for a spectrum.
    #[pyo3(get)]
    points: Option<Py<PyArray1<Complex64>>>,
    /// What the file warned of.
    #[pyo3(get)]
    warnings: Vec<String>,
    acquisition: Acquisition,
}

impl Measurement {
    /// Takes a measurement over; its memory becomes the arrays'.
    pub(crate) fn new(py: Python<'_>, inner: Inner, warnings: Vec<String>) -> Self {
        match inner {
            Inner::Spectrum(Spectrum { axis, real, imaginary, acquisition }) => Self {
                kind: "spectrum",
                x: array(py, (0..axis.points()).map(|i| axis.shift(i).0).collect()),
                real: Some(array(py, real)),
                imaginary: imaginary.map(|part| array(py, part)),
                points: None,
                warnings,
                acquisition,
            },
            Inner::Fid(fid) => Self {
                kind: "fid",
                x: array(py, (0..fid.points.len()).map(|i| fid.dwell.value() * i as f64).collect()),
                real: None,
                imaginary: None,
                points: Some(fid.points.into_pyarray(py).unbind()),
                warnings,
                acquisition: fid.acquisition,
            },
        }
    }
}

fn array(py: Python<'_>, values: Array1<f64>) -> Py<PyArray1<f64>> {
    values.into_pyarray(py).unbind()
}

#[pymethods]
impl Measurement {
    /// Title in the file.
    #[getter]
    fn title(&self) -> &str {
        &self.acquisition.title
    }

    /// Observe frequency, MHz.
    #[getter]
    fn field_mhz(&self) -> f64 {
        self.acquisition.field.0
    }

    /// Observed nucleus, such as "1H"; None when the file does not say.
    #[getter]
    fn nucleus(&self) -> Option<&str> {
        self.acquisition.nucleus.as_ref().map(|nucleus| nucleus.name())
    }

    /// NMR solvent as labelled in the file.
    #[getter]
    fn solvent(&self) -> Option<&str> {
        self.acquisition.solvent.as_deref()
    }

    fn __len__(&self, py: Python<'_>) -> PyResult<usize> {
        self.x.bind(py).len()
    }

    fn __repr__(&self) -> String {
        format!("<lees.Measurement {}: {} at {:.2} MHz>", self.acquisition.title, self.kind, self.field_mhz())
    }
}

/// Reads every proton spectrum and FID of a file: JCAMP-DX, columns of text, .gz or .zip of them.
///
/// source: a path, or bytes. name: used in messages. strict: refuse files that deviate from the format.
/// Raises lees.Error with name, line, column, what was read and what was allowed.
#[pyfunction]
#[pyo3(signature = (source, *, name = None, strict = false))]
pub(crate) fn read<'py>(
    py: Python<'py>,
    source: &Bound<'py, PyAny>,
    name: Option<String>,
    strict: bool,
) -> PyResult<Vec<Measurement>> {
    let source = Source::new(source)?;
    let name = source.name(name);
    let mut options = ReadOptions::default();
    options.strict = strict;
    let chosen = source.with_bytes(py, &name, |bytes| {
        let document = lees_format::read(bytes, &name, &options)?;
        document.measurements(Prefer::Both).map(|chosen| (chosen, document.warnings.clone()))
    })?;
    let (chosen, warnings) = chosen.map_err(error)?;
    let each = chosen.into_iter();
    Ok(each.map(|c| Measurement::new(py, c.measurement, [warnings.clone(), c.warnings].concat())).collect())
}
