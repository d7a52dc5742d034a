//! Causes of uncertainty that the spectrum itself shows.

use super::Sources;
use crate::uncertainty::{Effect, Shape};

const NOISE: &str = "noise and overlap";
const BASELINE: &str = "baseline";
const PHASE: &str = "phase";
const SHAPE: &str = "line shape and pattern";
const SPREAD: &str = "spread between groups";
const PRODUCT: &str = "product signals";
pub(super) const BLANK: &str = "blank";

/// Whether a cause is already in the covariance of the areas.
pub(super) fn is_measured(source: &str) -> bool {
    [NOISE, BASELINE, PHASE, SHAPE, SPREAD, PRODUCT, BLANK].contains(&source)
}

/// The causes for one named molecule, relative to its amount.
pub(super) fn of_fit(sources: &Sources<'_>, named: usize) -> Vec<Effect> {
    let mut effects = Vec::new();
    if let Some(amount) = sources.fitted.amounts.each[named].filter(|a| a.value > 0.0) {
        let parts = &amount.sources;
        let mut add = |source: &str, u: f64, remedy: &str| {
            effects.push(Effect::of_volatile(source, u / amount.value, Shape::Normal, remedy));
        };
        add(NOISE, parts.noise, "more scans (noise falls with their square root), or more sample");
        add(BASELINE, parts.baseline, "a longer delay before acquisition, a wider spectral window");
        add(PHASE, parts.phase, "phase the spectrum again, or give the FID");
        add(SHAPE, parts.shape, "better shimming");
        add(SPREAD, parts.spread, "another NMR solvent, in which no signals overlap");
    }
    if let Some(product) = sources.described.and_then(|d| d.per_proton.as_ref()) {
        let relative = product.u / product.value;
        let remedy = "name the cleanest signals with --quantify";
        effects.push(Effect::of_product(PRODUCT, relative, Shape::Normal, remedy));
    }
    effects
}
