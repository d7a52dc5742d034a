//! The answer.

use serde::{Deserialize, Serialize};

use super::{Estimate, LimitStatus};

/// Dry, needs drying, or the spectrum cannot tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Every limit is met with 95 % confidence.
    Dry,
    /// At least one limit is exceeded with 95 % confidence.
    NeedsDrying,
    /// Neither can be said.
    Undecided,
}

/// A volatile that was looked for and not found.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NotFound {
    /// Its usual name.
    pub name: String,
    /// Whether it is on every bench or has a limit of its own: then its absence matters.
    pub usual: bool,
    /// The smallest content that would have been seen, in wt%; `None` when that cannot be told.
    pub detection_limit_wt_percent: Option<f64>,
    /// The most that can be there by what stands at its places, in wt%, one-sided 95 %: no more than would have been seen where
    /// nothing stands. `None` when that cannot be told.
    pub at_most_wt_percent: Option<f64>,
}

/// The sum of all counted volatiles.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Total {
    /// Sum of the mass fractions in wt%; `None` without product. Its upper end reaches as far as usual volatiles
    /// could go unseen.
    pub wt_percent: Option<Estimate>,
    /// The limit in wt%, when set.
    pub limit_wt_percent: Option<f64>,
    /// Where the sum stands against it.
    pub status: LimitStatus,
}
