//! What produced a result: version, tables, settings, input.

use lees_core::check::Provenance;
use sha2::{Digest, Sha256};

use crate::{Error, Job};

/// Version of this library, as written into every result.
pub const VERSION: &str = env!("CARGO_PKG_VERSION");

/// Hexadecimal digits kept of a digest that only tells two requests apart.
const SHORT: usize = 16;

/// SHA-256 of some bytes in lower-case hexadecimal (FIPS 180-4).
///
/// ```
/// assert!(lees::sha256(b"").starts_with("e3b0c44298fc1c14"));
/// ```
#[must_use]
pub fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// The provenance of all results of a job.
pub(crate) fn of(job: &Job) -> Result<Provenance, Error> {
    let request = serde_json::to_vec(&job.request()).map_err(|fault| Error::Usage(fault.to_string()))?;
    let short = |digest: &str| digest.chars().take(SHORT).collect();
    Ok(Provenance {
        version: VERSION.to_owned(),
        tables: short(job.tables.digest()),
        settings: short(&sha256(&request)),
    })
}
