//! What follows from weighed masses: is it asked for in a way that can be meant, and the corrected yield.

use lees_core::check::{Check, Estimate};
use lees_match::corrected_yield::{by_difference, corrected_yield};
use serde::{Deserialize, Serialize};

use crate::{Error, Job};

/// The weighed mass of a whole batch.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Crude {
    /// Mass as weighed, in g.
    pub mass_g: f64,
    /// Mass of product that the reaction can give at most, in g.
    pub theoretical_g: Option<f64>,
}

/// A corrected yield over this, in per cent, is worth a warning.
const MOST_YIELD: f64 = 100.0;

/// Whether the weighed part of a job can be meant.
pub(crate) fn validate(job: &Job) -> Result<(), Error> {
    let usage = |fault: &dyn std::fmt::Display| Error::Usage(fault.to_string());
    if let Some(given) = &job.beside.standard {
        if job.product.is_none() {
            return Err(usage(&"an internal standard gives the purity of a product: describe the product"));
        }
        job.tables.require_standard(&given.name).map_err(|fault| usage(&fault))?;
        given.weighing.check().map_err(|fault| usage(&fault))?;
    }
    if let Some(crude) = &job.crude {
        if job.product.is_none() {
            return Err(usage(&"a yield is that of a product: describe the product"));
        }
        let nothing = Estimate { value: 0.0, low: 0.0, high: 0.0, u: 0.0 };
        corrected_yield(crude.mass_g, &nothing, crude.theoretical_g).map_err(|fault| usage(&fault))?;
    }
    Ok(())
}

/// Writes the corrected yield: by absolute purity when it was measured, else by difference.
pub(crate) fn correct_yield(check: &mut Check, crude: &Crude) -> Result<(), Error> {
    let counted = check.product.as_ref().filter(|product| product.area_per_proton.is_some());
    let total = counted.and(check.total.wt_percent.or_else(|| nothing_found(check)));
    let content = match (&check.purity, total) {
        (Some(purity), _) => purity.wt_percent,
        (None, Some(total)) => {
            check.cautions.push(
                "The corrected yield takes everything but the counted volatiles for product: salts, silica, water and \
                 unexplained signals are in it. An internal standard would tell."
                    .to_owned(),
            );
            by_difference(&total)
        }
        (None, None) => {
            check.warnings.push("no corrected yield: the product could not be measured".to_owned());
            return Ok(());
        }
    };
    let found = corrected_yield(crude.mass_g, &content, crude.theoretical_g)
        .map_err(|fault| Error::Usage(fault.to_string()))?;
    if let Some(percent) = found.yield_percent.filter(|percent| percent.low > MOST_YIELD) {
        check.warnings.push(format!(
            "a corrected yield of {:.1} % cannot be: check the masses, or something that NMR does not show is in the batch",
            percent.value
        ));
    }
    check.corrected_yield = Some(found);
    Ok(())
}

/// The sum of no volatiles, when none was found beside a measured product.
fn nothing_found(check: &Check) -> Option<Estimate> {
    check.volatiles.is_empty().then_some(Estimate { value: 0.0, low: 0.0, high: 0.0, u: 0.0 })
}
