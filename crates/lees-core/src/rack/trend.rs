//! One batch over its time under drying.

use crate::check::{Estimate, Verdict};

/// One spectrum of a drying batch.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// Time under drying, hours.
    pub hours: f64,
    /// Sum of all counted volatiles in wt%.
    pub total: Option<Estimate>,
    /// The verdict at that time.
    pub verdict: Verdict,
}

/// Whether the last step of drying still took something out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Motion {
    /// The content fell by more than its uncertainty.
    Falling,
    /// No change beyond the uncertainty.
    Still,
    /// It rose by more than its uncertainty: another sample, or moisture and solvent taken up.
    Rising,
    /// A content is not known.
    Unknown,
}

/// A batch followed over drying, in order of time.
#[derive(Debug, Clone, PartialEq)]
pub struct Trend {
    /// The batch; empty when the sheet names none.
    pub batch: String,
    /// Its spectra.
    pub points: Vec<Point>,
    /// What the last step did.
    pub last_step: Motion,
}
