//! Fractions put together.

use super::Content;
use crate::check::Estimate;

/// Why a fraction stays out of a pool.
#[derive(Debug, Clone, PartialEq)]
pub struct LeftOut {
    /// Its index among the fractions given.
    pub index: usize,
    /// Why.
    pub why: String,
}

/// Which fractions to put together and what the pool would contain.
#[derive(Debug, Clone, PartialEq)]
pub struct Pool {
    /// Indices of the fractions to pool, in the order given.
    pub members: Vec<usize>,
    /// The others.
    pub left_out: Vec<LeftOut>,
    /// Mass of the pool in g; `None` when a member's mass is not known and equal masses are taken instead.
    pub mass_g: Option<f64>,
    /// Mass of product in it, g.
    pub product_g: Option<Estimate>,
    /// Predicted sum of volatiles in wt%.
    pub total: Option<Estimate>,
    /// The limit of the sum in wt%.
    pub total_limit: Option<f64>,
    /// Predicted content of each volatile seen in a member, largest first.
    pub contents: Vec<Content>,
}
