//! Python bindings: thin shells around the Rust library, with arrays handed over instead of copied.

mod check;
mod checker;
mod error;
mod object;
mod read;
mod simulate;
mod source;

use pyo3::prelude::*;

/// Residual volatiles in a product from its proton NMR spectrum.
///
/// `check` gives verdict and amounts, `read` the numbers in a file, `simulate` a spectrum of known content. Work is
/// done with the interpreter lock released, so threads help. A result here is the same, digit for digit, as the
/// command line's.
#[pymodule]
fn lees(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add("__version__", env!("CARGO_PKG_VERSION"))?;
    module.add("Error", module.py().get_type::<error::Error>())?;
    module.add_class::<check::Check>()?;
    module.add_class::<checker::Checker>()?;
    module.add_class::<read::Measurement>()?;
    module.add_class::<simulate::Simulated>()?;
    module.add_function(wrap_pyfunction!(checker::check, module)?)?;
    module.add_function(wrap_pyfunction!(checker::columns, module)?)?;
    module.add_function(wrap_pyfunction!(read::read, module)?)?;
    module.add_function(wrap_pyfunction!(simulate::simulate, module)?)
}
