//! The yield after taking off what is not product.

use lees_core::check::{CorrectedYield, Estimate};

use crate::MatchError;

/// The content of product in wt% by difference (100 % method) from the sum of counted volatiles. Blind to everything NMR does
/// not show.
///
/// ```
/// use lees_core::check::Estimate;
/// let total = Estimate { value: 18.33, low: 17.0, high: 19.7, u: 0.7 };
/// let product = lees_match::corrected_yield::by_difference(&total);
/// assert!((product.value - 81.67).abs() < 1e-9 && (product.low - 80.3).abs() < 1e-9);
/// ```
#[must_use]
pub fn by_difference(total: &Estimate) -> Estimate {
    Estimate { value: 100.0 - total.value, low: 100.0 - total.high, high: 100.0 - total.low, u: total.u }
}

/// Mass and yield of product in a crude mass (g), from its content (wt%) and the theoretical mass (g), if given.
///
/// # Errors
/// A mass that is not positive.
///
/// ```
/// use lees_core::check::Estimate;
/// use lees_match::corrected_yield::corrected_yield;
/// let content = Estimate { value: 81.67, low: 80.3, high: 83.0, u: 0.7 };
/// let found = corrected_yield(1.23, &content, Some(2.0602))?;
/// assert!((found.product_mass_g.value - 1.0045).abs() < 1e-4);
/// assert!((found.yield_percent.expect("theory given").value - 48.76).abs() < 0.005);
/// # Ok::<(), lees_match::MatchError>(())
/// ```
pub fn corrected_yield(
    crude_mass_g: f64,
    content_wt_percent: &Estimate,
    theoretical_mass_g: Option<f64>,
) -> Result<CorrectedYield, MatchError> {
    positive("the crude mass", crude_mass_g)?;
    if let Some(mass) = theoretical_mass_g {
        positive("the theoretical mass", mass)?;
    }
    let product_mass_g = scaled(content_wt_percent, crude_mass_g / 100.0);
    Ok(CorrectedYield {
        crude_mass_g,
        product_mass_g,
        theoretical_mass_g,
        yield_percent: theoretical_mass_g.map(|mass| scaled(&product_mass_g, 100.0 / mass)),
    })
}

fn scaled(estimate: &Estimate, factor: f64) -> Estimate {
    Estimate {
        value: estimate.value * factor,
        low: estimate.low * factor,
        high: estimate.high * factor,
        u: estimate.u * factor,
    }
}

fn positive(what: &str, grams: f64) -> Result<(), MatchError> {
    if grams.is_finite() && grams > 0.0 {
        return Ok(());
    }
    Err(MatchError::Value {
        what: what.to_owned(),
        read: format!("{grams} g"),
        allowed: "a positive mass in g".to_owned(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// University laboratory handout "Estimation of Crude Yield from NMR Data" (undated): 1.23 g crude with 18 wt% CH2Cl2; 1.50 g of a
    /// starting material of 150.22 g/mol, product 206.32 g/mol: theory 2.06 g, yield 49 %.
    #[test]
    fn yield_of_the_handout() {
        let theory = 1.50 / 150.22 * 206.32;
        assert_abs_diff_eq!(theory, 2.0602, epsilon = 1e-4);
        let solvent = 100.0 * 6.0 * 84.9 / (6.0 * 84.9 + 11.0 * 206.3);
        let total = Estimate { value: solvent, low: solvent - 1.0, high: solvent + 1.0, u: 0.5 };
        let found = corrected_yield(1.23, &by_difference(&total), Some(theory)).unwrap();
        assert_abs_diff_eq!(found.product_mass_g.value, 1.0045, epsilon = 1e-4);
        assert_abs_diff_eq!(found.yield_percent.unwrap().value, 48.76, epsilon = 5e-3);
    }

    #[test]
    fn masses_must_be_positive() {
        let content = Estimate { value: 90.0, low: 89.0, high: 91.0, u: 0.5 };
        assert!(corrected_yield(0.0, &content, None).is_err());
        assert!(corrected_yield(1.0, &content, Some(-1.0)).is_err());
    }
}
