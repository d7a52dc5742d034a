//! What follows from weighed masses: is it asked for in a way that can be meant, and the corrected yield.

use lees_core::check::{Check, CorrectedYield, Estimate};
use lees_match::MatchError;
use lees_match::corrected_yield::{corrected_yield, difference, yield_by_difference};
use lees_match::table::Tables;
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
    job.settings.matching.weighed.check().map_err(|fault| usage(&fault))?;
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
pub(crate) fn correct_yield(check: &mut Check, crude: &Crude, tables: &Tables) -> Result<(), Error> {
    let found = corrected(check, crude, tables).map_err(|fault| Error::Usage(fault.to_string()))?;
    let Some(found) = found else {
        check.warnings.push("no corrected yield: the product could not be measured".to_owned());
        return Ok(());
    };
    if !found.not_known.is_empty() {
        check.cautions.push(format!(
            "The corrected yield is by difference, so an upper bound; an internal standard would tell. {}",
            found.not_known.join(" ")
        ));
    }
    if let Some(percent) = found.yield_percent.filter(|percent| percent.low > MOST_YIELD) {
        check.warnings.push(format!(
            "a corrected yield of {:.1} % cannot be: check the masses (both in g), or something that NMR does not show is in the batch",
            percent.value
        ));
    }
    check.corrected_yield = Some(found);
    Ok(())
}

fn corrected(check: &Check, crude: &Crude, tables: &Tables) -> Result<Option<CorrectedYield>, MatchError> {
    if let Some(purity) = &check.purity {
        return corrected_yield(crude.mass_g, &purity.wt_percent, crude.theoretical_g).map(Some);
    }
    let found = difference(check, tables);
    found.map(|found| yield_by_difference(crude.mass_g, found, crude.theoretical_g)).transpose()
}
