//! What the chemist's own list says of a file.

use serde::{Deserialize, Serialize};

/// Facts beside the spectrum: which batch, which fraction, how long dried, how much of it.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Tags {
    /// The batch.
    pub batch: Option<String>,
    /// The fraction, such as `7` or `12-14`.
    pub fraction: Option<String>,
    /// Time under drying, hours.
    pub drying_hours: Option<f64>,
    /// Mass of what the spectrum stands for, g.
    pub mass_g: Option<f64>,
}
