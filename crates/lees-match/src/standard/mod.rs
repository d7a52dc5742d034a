//! Absolute purity by an internal standard.
//!
//! P(x) = (I(x)/I(s)) (N(s)/N(x)) (M(x)/M(s)) (m(s)/m(x)) P(s): Malz and Jancke, J. Pharm. Biomed. Anal. 2005, 38, 813; Pauli et al.,
//! J. Med. Chem. 2014, 57, 9220.

mod find;
mod others;
mod settings;
mod tube;

use lees_core::check::{AbsolutePurity, Estimate};
use serde::{Deserialize, Serialize};

use crate::MatchError;
use crate::uncertainty::{Effect, Shape, combine};

pub use settings::WeighedSettings;
pub use tube::InternalStandard;
pub(crate) use tube::Tube;

/// What was weighed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Weighing {
    /// Mass of the standard in mg.
    pub standard_mg: f64,
    /// Mass of the sample in mg.
    pub sample_mg: f64,
    /// Standard uncertainty of one weighing in mg.
    pub balance_u_mg: f64,
    /// Purity of the standard as mass fraction, 0.998 for 99.8 %.
    pub standard_purity: f64,
    /// Standard uncertainty of that purity, as mass fraction.
    pub standard_purity_u: f64,
}

/// Most of either that a tube holds and solvent dissolves, mg; more is a mass in another unit (common practice, no source: stock
/// solutions of a gram are weighed, of which a part goes into the tube).
const MOST_MG: f64 = 10_000.0;

impl Weighing {
    /// Masses in mg and the standard's purity in per cent by mass, with the uncertainties that are assumed.
    ///
    /// ```
    /// use lees_match::standard::{WeighedSettings, Weighing};
    /// let weighed = Weighing::of(5.12, 20.4, 99.8, &WeighedSettings::default());
    /// assert!(weighed.check().is_ok() && (weighed.standard_purity - 0.998).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn of(standard_mg: f64, sample_mg: f64, purity_percent: f64, assumed: &WeighedSettings) -> Self {
        Self {
            standard_mg,
            sample_mg,
            balance_u_mg: assumed.balance_u_mg,
            standard_purity: purity_percent / 100.0,
            standard_purity_u: assumed.standard_purity_u_percent / 100.0,
        }
    }

    /// Whether the numbers can be meant.
    ///
    /// # Errors
    /// A mass that is not positive, a purity that is no mass fraction over 0, an uncertainty below 0.
    ///
    /// ```
    /// use lees_match::standard::{WeighedSettings, Weighing};
    /// let assumed = WeighedSettings::default();
    /// assert!(Weighing::of(5.12, 20.4, 99.8, &assumed).check().is_ok());
    /// assert!(Weighing::of(5.12, 20.4, 998.0, &assumed).check().is_err(), "no standard is 998 % pure");
    /// ```
    pub fn check(&self) -> Result<(), MatchError> {
        for (what, mass) in [("the standard's mass", self.standard_mg), ("the sample's mass", self.sample_mg)]
        {
            positive(what, mass, "mg")?;
            if mass > MOST_MG {
                return Err(value(what, mass, &format!("mg, up to {MOST_MG} mg")));
            }
        }
        if !(self.standard_purity > 0.0 && self.standard_purity <= 1.0) {
            return Err(value("the standard's purity", self.standard_purity, "a mass fraction, over 0 to 1"));
        }
        for (what, u) in [
            ("the uncertainty of a weighing", self.balance_u_mg),
            ("the uncertainty of the standard's purity", self.standard_purity_u),
        ] {
            if !(u.is_finite() && u >= 0.0) {
                return Err(value(what, u, "a number from 0"));
            }
        }
        Ok(())
    }
}

/// A measured signal and the molecule it belongs to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Side {
    /// Area per proton, any unit common to both sides.
    pub area_per_proton: f64,
    /// Relative standard uncertainty of it.
    pub relative_u: f64,
    /// Molar mass in g/mol.
    pub molar_mass: f64,
}

/// The quotient of the formula, as a mass fraction.
///
/// ```
/// use lees_match::standard::{Side, purity};
/// // BIPM-2018/04: maleic acid by dimethyl sulfone in D2O, raw integrals; printed 0.9997
/// let x = Side { area_per_proton: 17834.0 / 1.9996, relative_u: 0.0, molar_mass: 116.080 };
/// let s = Side { area_per_proton: 97943.0 / 5.9988, relative_u: 0.0, molar_mass: 94.1284 };
/// assert!((purity(x, s, 2.3545, 3.5063, 0.9965) - 0.99968).abs() < 5e-5);
/// ```
#[must_use]
pub fn purity(product: Side, standard: Side, sample_mg: f64, standard_mg: f64, standard_purity: f64) -> f64 {
    (product.area_per_proton / standard.area_per_proton)
        * (product.molar_mass / standard.molar_mass)
        * (standard_mg / sample_mg)
        * standard_purity
}

/// Mass fraction of product with its budget. `extra` are further effects on the ratio, such as saturation.
///
/// # Errors
/// A mass, purity or area that is not positive, or a purity over 1.
pub(crate) fn absolute_purity(
    product: Side,
    standard: Side,
    weighing: &Weighing,
    names: (&str, &str),
    extra: &[Effect],
) -> Result<AbsolutePurity, MatchError> {
    weighing.check()?;
    positive("the standard's area per proton", standard.area_per_proton, "")?;
    positive("the standard's molar mass", standard.molar_mass, "g/mol")?;
    positive("the product's molar mass", product.molar_mass, "g/mol")?;
    let fraction =
        purity(product, standard, weighing.sample_mg, weighing.standard_mg, weighing.standard_purity);
    let mut effects = effects(product, standard, weighing);
    effects.extend(extra.iter().cloned());
    let combined = combine(&effects);
    let percent = 100.0 * fraction;
    let u = percent * combined.relative;
    let reach = combined.factor * u;
    Ok(AbsolutePurity {
        standard: names.0.to_owned(),
        standard_signal: names.1.to_owned(),
        // not cut at 100 %: a purity over 100 % says that something is wrong
        wt_percent: Estimate { value: percent, low: (percent - reach).max(0.0), high: percent + reach, u },
        budget: combined.budget,
    })
}

fn effects(product: Side, standard: Side, weighing: &Weighing) -> Vec<Effect> {
    let of = |source: &str, relative: f64, remedy: &str| {
        Effect::of_volatile(source, relative, Shape::Normal, remedy)
    };
    vec![
        of("product signals", product.relative_u, "more scans, cleaner signals"),
        of("standard's signal", standard.relative_u, "more scans, a signal that stands alone"),
        of("weighing the sample", weighing.balance_u_mg / weighing.sample_mg, "more sample, a finer balance"),
        of(
            "weighing the standard",
            weighing.balance_u_mg / weighing.standard_mg,
            "more standard, a finer balance",
        ),
        of(
            "purity of the standard",
            weighing.standard_purity_u / weighing.standard_purity,
            "a certified standard",
        ),
    ]
}

fn positive(what: &str, number: f64, unit: &str) -> Result<(), MatchError> {
    if number.is_finite() && number > 0.0 {
        return Ok(());
    }
    Err(value(what, number, &format!("a positive number{}{unit}", if unit.is_empty() { "" } else { " in " })))
}

/// Numbers from this on are written with a power of ten.
const WRITTEN_OUT: f64 = 1e9;

fn value(what: &str, number: f64, allowed: &str) -> MatchError {
    let read = if number.abs() < WRITTEN_OUT { number.to_string() } else { format!("{number:e}") };
    MatchError::Value { what: what.to_owned(), read, allowed: allowed.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// One printed budget: ratio of integrals, protons, molar masses, masses (mg), standard's purity, result.
    struct Printed {
        ratio: f64,
        protons: (f64, f64),
        masses: (f64, f64),
        weighed: (f64, f64),
        purity: f64,
        result: f64,
        tolerance: f64,
    }

    /// Published budgets of S. Westwood et al.: BIPM-2018/04 (maleic acid and dimethyl terephthalate by dimethyl sulfone),
    /// BIPM-2018/05 (maleic acid by potassium hydrogen phthalate), BIPM-2019/03 (dimethyl sulfone and benzoic acid by
    /// 1,4-bis(trimethylsilyl)benzene-d4). Proton counts allow for natural deuterium. Rounded ratios carry 4 digits.
    #[test]
    fn published_budgets() {
        let table = [
            (17834.0 / 97943.0, 1.9996, 5.9988, 116.080, 94.1284, 2.3545, 3.5063, 0.9965, 0.9997, 1e-4),
            (0.7154, 5.9988, 5.9988, 194.194, 94.1284, 8.5689, 5.8213, 0.9964, 0.9990, 2e-4),
            (11679.0 / 48569.0, 1.9996, 3.9992, 116.072, 204.222, 2.5469, 9.3139, 0.99991, 0.9995, 1e-4),
            (0.8173, 5.9988, 17.9964, 94.128, 226.5024, 2.6524, 2.5969, 0.9991, 0.9967, 2e-4),
            (1.5000, 4.9990, 17.9964, 122.123, 226.502, 6.4659, 2.2223, 0.9991, 0.9998, 2e-4),
        ];
        for (ratio, nx, ns, mx, ms, sample, standard, purity, result, tolerance) in table {
            let row = Printed {
                ratio,
                protons: (nx, ns),
                masses: (mx, ms),
                weighed: (sample, standard),
                purity,
                result,
                tolerance,
            };
            assert_abs_diff_eq!(computed(&row), row.result, epsilon = row.tolerance);
        }
    }

    fn computed(row: &Printed) -> f64 {
        let side = |area: f64, protons: f64, molar_mass: f64| Side {
            area_per_proton: area / protons,
            relative_u: 0.0,
            molar_mass,
        };
        let x = side(row.ratio, row.protons.0, row.masses.0);
        let s = side(1.0, row.protons.1, row.masses.1);
        purity(x, s, row.weighed.0, row.weighed.1, row.purity)
    }

    #[test]
    fn the_budget_is_listed_largest_first() {
        let weighing = Weighing {
            standard_mg: 5.0,
            sample_mg: 20.0,
            balance_u_mg: 0.05,
            standard_purity: 0.998,
            standard_purity_u: 0.002,
        };
        let product = Side { area_per_proton: 2.0, relative_u: 0.003, molar_mass: 300.0 };
        let standard = Side { area_per_proton: 1.6, relative_u: 0.003, molar_mass: 94.128 };
        let found = absolute_purity(product, standard, &weighing, ("dimethyl sulfone", "CH3"), &[]).unwrap();
        assert_eq!(found.budget[0].source, "weighing the standard");
        let relative = found.wt_percent.u / found.wt_percent.value;
        let expected: f64 = [0.003_f64, 0.003, 0.0025, 0.01, 0.002 / 0.998].iter().map(|u| u * u).sum();
        assert_abs_diff_eq!(relative, expected.sqrt(), epsilon = 1e-9);
        let wrong = Weighing { standard_purity: 99.8, ..weighing };
        assert!(absolute_purity(product, standard, &wrong, ("", ""), &[]).is_err());
    }

    #[test]
    fn what_is_weighed_and_measured_must_be_a_positive_number() {
        assert!(positive("the sample's mass", 12.5, "mg").is_ok());
        for wrong in [0.0, -1.0, f64::INFINITY, f64::NAN] {
            let refused = positive("the sample's mass", wrong, "mg");
            assert!(refused.is_err_and(|e| e.to_string().contains("positive number in mg")), "{wrong}");
        }
    }
}
