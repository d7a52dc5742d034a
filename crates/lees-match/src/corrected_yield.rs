//! The yield after taking off what is not product.

use lees_core::check::{Check, CorrectedYield, Estimate, Finding, ProductFound, YieldBasis};

use crate::MatchError;
use crate::digits::{content, with_interval};
use crate::table::{Class, Tables};

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

/// A content by difference with what it leaves open.
#[derive(Debug, Clone, PartialEq)]
pub struct Difference {
    /// Content of product in wt%: best value as if nothing but the counted volatiles lay beside it.
    pub content: Estimate,
    /// What the interval covers only by a guess, or not at all, in sentences.
    pub not_known: Vec<String>,
}

/// The content of product by difference from everything that was seen; `None` when the product could not be measured.
///
/// The lower end reaches down to where water and other substances beside the product that do not count, unexplained
/// signals (as heavy per proton as the product) and usual volatiles that could hide under its signals all belong to the
/// batch. What no proton spectrum shows is not in it: the upper end is an upper bound, the lower end is none.
///
/// ```
/// use lees_core::Measurement;
/// use lees_match::{Settings, corrected_yield::difference, identify, table::Tables};
/// use lees_process::{Workspace, process};
/// use lees_spin::simulate::{Recipe, simulate};
/// let text = "formula = 'C16H16N2O2S'\nsignals = '8.79 (s, 1H), 7.87 (d, 1H), 7.47 (d, 1H), 7.41 (d, 1H), \
///             6.66 (dd, 1H), 6.55 (d, 1H), 3.46 (q, 4H), 1.25 (t, 6H)'";
/// let dye = lees_format::product::parse(text, "dye.toml").expect("a product");
/// let made = Measurement::Spectrum(simulate(&Recipe::wet_dye()).expect("a sound recipe").spectrum);
/// let processed = process(&made, &Default::default(), &mut Workspace::new()).expect("a spectrum");
/// let check = identify(&processed, Some(&dye), Tables::bundled(), &Settings::default())?;
/// let product = difference(&check, Tables::bundled()).expect("the product was measured");
/// assert!((product.content.value - 98.3).abs() < 0.3, "1.4 wt% 2-propanol and 0.3 wt% dichloromethane are off");
/// assert!(product.content.low < 98.0 && !product.not_known.is_empty(), "water may belong to the batch");
/// # Ok::<(), lees_match::MatchError>(())
/// ```
#[must_use]
pub fn difference(check: &Check, tables: &Tables) -> Option<Difference> {
    let product = check.product.as_ref().filter(|product| product.area_per_proton.is_some())?;
    let total = check.total.wt_percent?;
    let mut open = Open::default();
    open.seen(check, product, tables);
    open.unexplained(check, product);
    let hidden = open.hidden(check);
    open.said.push(
        "Salts, silica, solvents without protons and whatever stayed undissolved are not seen and count as product."
            .to_owned(),
    );
    let most = (total.value + libm::hypot(total.high - total.value, hidden)).max(total.high).min(100.0);
    let share = 1.0 - most / 100.0;
    let low = if share > 0.0 { 100.0 / (share.recip() + open.per_product) } else { 0.0 };
    let plain = by_difference(&total);
    // anything from none to all of it as likely: a rectangular law (JCGM 100:2008, 4.3.7)
    let u = libm::hypot(plain.u, (plain.low - low) / 12f64.sqrt());
    Some(Difference { content: Estimate { low, u, ..plain }, not_known: open.said })
}

/// What may or may not belong to the batch.
#[derive(Debug, Default)]
struct Open {
    /// Mass per mass of product, at most.
    per_product: f64,
    said: Vec<String>,
}

impl Open {
    /// Substances that were named but do not count.
    fn seen(&mut self, check: &Check, product: &ProductFound, tables: &Tables) {
        for finding in check.not_counted.iter().map(|entry| &entry.finding) {
            let class = tables.compound(&finding.name).map(|compound| compound.class);
            let (Some(wt), Some(most)) = (&finding.wt_percent, most_per_product(finding, product)) else {
                continue;
            };
            if matches!(class, Some(Class::Reference | Class::Gas)) {
                continue;
            }
            self.per_product += most;
            let hint = if finding.name == "water" {
                "a blank tells which".to_owned()
            } else if tables.standard(&finding.name).is_some() {
                "if it was weighed in as a standard, say so with --standard".to_owned()
            } else {
                "the batch or the tube".to_owned()
            };
            self.said.push(format!(
                "Whether the {}, {}, belongs to the batch is not known ({hint}): the interval reaches from none to all of it.",
                finding.name,
                with_interval(wt)
            ));
        }
    }

    /// Signals nobody answers for.
    fn unexplained(&mut self, check: &Check, product: &ProductFound) {
        let own = product.formula.as_ref().map_or(0.0, |formula| f64::from(formula.count("H")));
        let own = if own > 0.0 { own } else { product.signals.iter().map(|s| s.protons).sum() };
        let protons: f64 =
            check.unexplained.iter().filter_map(|s| s.relative_protons).map(|protons| protons.high).sum();
        if protons <= 0.0 || own <= 0.0 {
            return;
        }
        self.per_product += protons / own;
        self.said.push(format!(
            "Unexplained signals, up to {} H per molecule of product, have an unknown mass: the interval reaches from none to as much a proton as the product has.",
            content(protons)
        ));
    }

    /// Usual volatiles that were not found: the largest content, in wt%, that would not have been seen.
    fn hidden(&mut self, check: &Check) -> f64 {
        let usual = || check.not_found.iter().filter(|entry| entry.usual);
        let blind: Vec<&str> = usual()
            .filter(|entry| entry.at_most_wt_percent.is_none())
            .map(|entry| entry.name.as_str())
            .collect();
        if !blind.is_empty() {
            self.said.push(format!("How much {} could hide is not known.", blind.join(", ")));
        }
        let largest = usual()
            .filter_map(|entry| Some((entry.at_most_wt_percent?, entry.name.as_str())))
            .max_by(|a, b| a.0.total_cmp(&b.0));
        let Some((reach, name)) = largest else { return 0.0 };
        self.said.push(format!(
            "A volatile that was not found may be there: the interval reaches to {} wt%, which {name} could have unseen.",
            content(reach)
        ));
        reach
    }
}

/// Mass per mass of product, at most.
fn most_per_product(finding: &Finding, product: &ProductFound) -> Option<f64> {
    Some(finding.mole_ratio?.high * finding.molar_mass? / product.molar_mass)
}

/// Mass and yield of product in a crude mass (g), from its measured content (wt%) and the theoretical mass (g), if given.
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
        basis: YieldBasis::InternalStandard,
        crude_mass_g,
        product_mass_g,
        theoretical_mass_g,
        yield_percent: theoretical_mass_g.map(|mass| scaled(&product_mass_g, 100.0 / mass)),
        not_known: Vec::new(),
    })
}

/// The same by difference, with what it leaves open.
///
/// # Errors
/// A mass that is not positive.
///
/// ```
/// use lees_core::check::{Estimate, YieldBasis};
/// use lees_match::corrected_yield::{Difference, yield_by_difference};
/// let content = Estimate { value: 98.0, low: 96.0, high: 98.5, u: 0.6 };
/// let found = yield_by_difference(2.00, Difference { content, not_known: vec!["Salts are not seen.".into()] }, Some(2.80))?;
/// assert_eq!(found.basis, YieldBasis::Difference);
/// assert!((found.product_mass_g.value - 1.96).abs() < 1e-12);
/// assert!((found.yield_percent.expect("theory given").value - 70.0).abs() < 1e-9);
/// # Ok::<(), lees_match::MatchError>(())
/// ```
pub fn yield_by_difference(
    crude_mass_g: f64,
    found: Difference,
    theoretical_mass_g: Option<f64>,
) -> Result<CorrectedYield, MatchError> {
    let plain = corrected_yield(crude_mass_g, &found.content, theoretical_mass_g)?;
    Ok(CorrectedYield { basis: YieldBasis::Difference, not_known: found.not_known, ..plain })
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

    /// At most two moles of water a mole of product of 300 g/mol: 2 x 18.015 / 300.
    #[test]
    fn the_most_of_a_substance_a_mass_of_product_is_the_upper_end_of_its_moles_by_its_molar_mass() {
        let water = Finding {
            name: "water".to_owned(),
            cas: None,
            molar_mass: Some(18.015),
            mole_ratio: Some(Estimate { value: 1.5, low: 1.0, high: 2.0, u: 0.25 }),
            mol_percent: None,
            wt_percent: None,
            detection_limit_wt_percent: None,
            limit_wt_percent: None,
            status: lees_core::check::LimitStatus::NoLimit,
            conformance: None,
            signals: Vec::new(),
            evidence: 50.0,
            rivals: Vec::new(),
            budget: Vec::new(),
        };
        let product = ProductFound {
            name: "dye".to_owned(),
            formula: None,
            molar_mass: 300.0,
            signals: Vec::new(),
            relative_u: None,
            area_per_proton: Some(1.0),
        };
        let most = most_per_product(&water, &product).unwrap();
        assert_abs_diff_eq!(most, 0.1201, epsilon = 1e-12);
        let unknown = Finding { molar_mass: None, ..water };
        assert_eq!(most_per_product(&unknown, &product), None, "no mass, no content");
    }
}
