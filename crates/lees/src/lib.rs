//! From the bytes of a proton NMR spectrum to a verdict on residual volatiles.
//!
//! ```
//! # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/wet_dye.rs")); }
//! # use made::*;
//! # let (bytes, text) = (wet_dye(), "formula = 'C16H16N2O2S'\nsignals = '8.79 (s, 1H), 3.46 (q, 4H), 1.25 (t, 6H)'");
//! // `text` is a product file, `bytes` a spectrum in JCAMP-DX or columns of numbers.
//! let product = lees_format::product::parse(text, "dye.toml")?;
//! let job = lees::Job { product: Some(product), ..lees::Job::default() };
//! let mut checker = lees::Checker::new(&job)?;
//! for check in checker.check(&bytes, "batch.jdx")? {
//!     let check = check?;
//!     println!("{}: {:?}", check.input.path, check.verdict);
//! }
//! # Ok::<(), lees::Error>(())
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
mod unlisted;
mod weighed;

pub use checker::{Checker, Traced};
pub use error::Error;
pub use job::Job;
pub use provenance::{VERSION, sha256};
pub use settings::Settings;
pub use weighed::Crude;
