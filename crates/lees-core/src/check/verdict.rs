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

/// The sum of all counted volatiles.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Total {
    /// Sum of the mass fractions in wt%; `None` without product.
    pub wt_percent: Option<Estimate>,
    /// The limit in wt%, when set.
    pub limit_wt_percent: Option<f64>,
    /// Where the sum stands against it.
    pub status: LimitStatus,
}
