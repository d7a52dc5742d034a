//! From the bytes of a proton NMR spectrum to a verdict on residual volatiles.
//!
//! ```no_run
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let product = lees_format::product::parse(&std::fs::read_to_string("dye.toml")?, "dye.toml")?;
//! let job = lees::Job { product: Some(product), ..lees::Job::default() };
//! let mut checker = lees::Checker::new(&job)?;
//! for check in checker.check(&std::fs::read("batch.jdx")?, "batch.jdx")? {
//!     let check = check?;
//!     println!("{}: {:?}", check.input.path, check.verdict);
//! }
//! # Ok(())
//! # }
//! ```

pub mod batch;
mod blank;
mod checker;
pub mod drying;
mod error;
mod job;
mod provenance;
pub mod rack;
mod settings;
mod weighed;

pub use checker::{Checker, Traced};
pub use error::Error;
pub use job::Job;
pub use provenance::{VERSION, sha256};
pub use settings::Settings;
pub use weighed::Crude;
