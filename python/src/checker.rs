//! From bytes to checks.

use std::collections::BTreeMap;
use std::sync::Arc;

use lees_core::check::Check as Inner;
use lees_core::{MassFraction, Product};
use lees_engine::Job;
use lees_report::tables::Rows;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyList};

use crate::check::Check;
use crate::error::{Error, error};
use crate::source::{Source, text};

/// Checks spectra against one product; may be shared by threads.
#[pyclass(frozen, module = "lees")]
pub(crate) struct Checker {
    job: Arc<Job>,
}

#[pymethods]
impl Checker {
    /// product: a product file's path, or its TOML text; without it amounts are mole ratios among the volatiles.
    /// limits: "ich-q3c", or a dict such as {"total": "0.5 wt%", "2-propanol": "600 ppm"}.
    /// solvent: NMR solvent, when the file does not say. settings: dict of setting names and values.
    #[new]
    #[pyo3(signature = (product = None, *, limits = None, solvent = None, settings = None, strict = false))]
    fn new(
        product: Option<&Bound<'_, PyAny>>,
        limits: Option<&Bound<'_, PyAny>>,
        solvent: Option<&str>,
        settings: Option<&Bound<'_, PyDict>>,
        strict: bool,
    ) -> PyResult<Self> {
        let mut job = Job::default();
        job.read.strict = strict;
        job.product = product.map(parse_product).transpose()?;
        if let Some(name) = solvent {
            let known = job.tables.require_nmr_solvent(name).map_err(error)?;
            job.settings.matching.solvent = Some(known.name.clone());
        }
        for (name, value) in settings.into_iter().flatten() {
            job.settings.change(&format!("{name}={value}")).map_err(error)?;
        }
        if let Some(limits) = limits {
            set_limits(&mut job, limits)?;
        }
        lees_engine::Checker::new(&job).map_err(error)?;
        Ok(Self { job: Arc::new(job) })
    }

    /// Checks every proton spectrum or FID of a file.
    ///
    /// source: a path, or bytes. name: used in messages and results; the path when not given.
    /// errors: "raise" raises the first lees.Error; "return" puts it into the list in place of the spectrum that
    /// failed, so that the others are not lost (a file that cannot be read at all always raises).
    #[pyo3(signature = (source, *, name = None, errors = "raise"))]
    fn check<'py>(
        &self,
        py: Python<'py>,
        source: &Bound<'py, PyAny>,
        name: Option<String>,
        errors: &str,
    ) -> PyResult<Bound<'py, PyList>> {
        let keep = match errors {
            "raise" => false,
            "return" => true,
            other => return Err(error(format!("errors={other}: allowed are \"raise\" and \"return\""))),
        };
        let source = Source::new(source)?;
        let name = source.name(name);
        let job = Arc::clone(&self.job);
        let results = source.with_bytes(py, &name, |bytes| run(&job, bytes, &name))?.map_err(error)?;
        let list = PyList::empty(py);
        for result in results {
            match result {
                Ok(check) => list.append(Bound::new(py, Check::new(py, check))?)?,
                Err(fault) if keep => list.append(Error::new_err(fault).into_value(py))?,
                Err(fault) => return Err(error(fault)),
            }
        }
        Ok(list)
    }

    /// Hash of version, tables, settings and product: the same hash and bytes give the same result.
    #[getter]
    fn identity(&self) -> PyResult<String> {
        let provenance = self.job.provenance().map_err(error)?;
        Ok([provenance.version, provenance.tables, provenance.settings].join("-"))
    }
}

type Each = Vec<Result<Inner, String>>;

fn run(job: &Job, bytes: &[u8], name: &str) -> Result<Each, String> {
    let mut checker = lees_engine::Checker::new(job).map_err(|fault| fault.to_string())?;
    let results = checker.check(bytes, name).map_err(|fault| fault.to_string())?;
    Ok(results.into_iter().map(|result| result.map_err(|fault| fault.to_string())).collect())
}

fn parse_product(given: &Bound<'_, PyAny>) -> PyResult<Product> {
    let (text, name) = text(given)?;
    let product = lees_format::product::parse(&text, &name).map_err(error)?;
    lees_format::product::require_signals(&product, &name).map_err(error)?;
    Ok(product)
}

fn set_limits(job: &mut Job, limits: &Bound<'_, PyAny>) -> PyResult<()> {
    if let Ok(name) = limits.extract::<String>() {
        job.settings.matching.limits = Some(name);
        return Ok(());
    }
    let given: BTreeMap<String, String> = limits.extract()?;
    let product = job.product.as_mut().ok_or_else(|| error("limits: own limits need a product"))?;
    for (name, value) in given {
        let fraction: MassFraction = value.parse().map_err(|fault| error(format!("limits: {name}: {fault}")))?;
        match name.as_str() {
            "total" => product.limits.total = Some(fraction),
            _ => {
                product.limits.each.insert(name, fraction);
            }
        }
    }
    Ok(())
}

/// Checks every proton spectrum or FID of a file; for many files keep a Checker.
///
/// >>> import lees
/// >>> check, = lees.check("batch.jdx", product="dye.toml")    # doctest: +SKIP
/// >>> check.verdict, check.total_wt_percent                   # doctest: +SKIP
/// ('needs_drying', (2.41, 2.27, 2.55))
#[pyfunction]
#[pyo3(signature = (source, product = None, *, limits = None, solvent = None, settings = None, strict = false, name = None, errors = "raise"))]
#[expect(clippy::too_many_arguments, reason = "keyword arguments of a Python function")]
pub(crate) fn check<'py>(
    py: Python<'py>,
    source: &Bound<'py, PyAny>,
    product: Option<&Bound<'py, PyAny>>,
    limits: Option<&Bound<'py, PyAny>>,
    solvent: Option<&str>,
    settings: Option<&Bound<'py, PyDict>>,
    strict: bool,
    name: Option<String>,
    errors: &str,
) -> PyResult<Bound<'py, PyList>> {
    Checker::new(product, limits, solvent, settings, strict)?.check(py, source, name, errors)
}

/// Columns of the tables: a list of (name, kind, unit, meaning) for rows="findings" or rows="spectra"; the kind is
/// "text", "number" or "count".
#[pyfunction]
#[pyo3(signature = (rows = "findings"))]
pub(crate) fn columns(rows: &str) -> PyResult<Vec<(&'static str, &'static str, &'static str, &'static str)>> {
    let rows = match rows {
        "findings" => Rows::Findings,
        "spectra" => Rows::Spectra,
        other => return Err(error(format!("rows={other}: allowed are \"findings\" and \"spectra\""))),
    };
    let kind = |kind| match kind {
        lees_report::tables::Kind::Text => "text",
        lees_report::tables::Kind::Number => "number",
        lees_report::tables::Kind::Count => "count",
    };
    Ok(rows.columns().iter().map(|c| (c.name, kind(c.kind), c.unit, c.about)).collect())
}
