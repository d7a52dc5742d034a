//! Water and the like that come with the NMR solvent: measured in a blank, subtracted from the sample.
//!
//! The residual line of the NMR solvent links the two spectra: what stands beside one proton of it in the blank stands beside
//! one proton of it in the sample. Chloroform in CDCl3 cannot be told apart this way, for there it is the residual line itself.

use lees_core::check::{Check, Contribution};
use serde::{Deserialize, Serialize};

use crate::uncertainty::quadrature;
use crate::{Explained, MatchError};

/// An amount with its standard uncertainty, in one unit (area per proton).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Measured {
    /// Best value.
    pub value: f64,
    /// Standard uncertainty.
    pub u: f64,
}

/// A substance that was seen, and how much of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Shown {
    /// Its name.
    pub name: String,
    /// Whether it is the NMR solvent's own residual species.
    pub residual: bool,
    /// Area of one of its protons.
    pub per_proton: Measured,
}

/// Moles of one compound per mole of residual species in the NMR solvent alone.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BlankRatio {
    /// The compound.
    pub name: String,
    /// Moles per mole of the residual species.
    pub per_residual: Measured,
    /// Scatter between two tubes of one bottle, as relative standard uncertainty: see
    /// [`WeighedSettings::tube_to_tube_percent`](crate::standard::WeighedSettings).
    pub tube_to_tube: f64,
}

/// The budget's name for everything that comes with a blank.
const BLANK: &str = "blank";
/// More of this, relative to one proton of the residual line, than the NMR solvent alone can have: product or the like.
const MOST_FOREIGN: f64 = 1.0;
/// Foreign signals from this share of one proton of the residual line are worth a word.
const SOME_FOREIGN: f64 = 0.05;

impl BlankRatio {
    /// From amounts (areas per proton) in the blank.
    ///
    /// # Errors
    /// When the residual line has no positive amount.
    ///
    /// ```
    /// use lees_match::blank::{BlankRatio, Measured};
    /// // Areas per proton: water 0.50 (u 0.01) beside 2.00 (u 0.02) of CHCl3 in the NMR solvent alone, 15 % between tubes.
    /// let water = BlankRatio::of("water", Measured { value: 0.50, u: 0.01 }, Measured { value: 2.00, u: 0.02 }, 0.15)?;
    /// assert_eq!(water.per_residual.value, 0.25);
    /// assert!(BlankRatio::of("water", Measured { value: 0.5, u: 0.1 }, Measured { value: 0.0, u: 0.1 }, 0.15).is_err());
    /// # Ok::<(), lees_match::MatchError>(())
    /// ```
    pub fn of(
        name: &str,
        compound: Measured,
        residual: Measured,
        tube_to_tube: f64,
    ) -> Result<Self, MatchError> {
        if residual.value.is_nan() || residual.value <= 0.0 {
            return Err(MatchError::NotEnough(format!(
                "the blank shows no residual line of the NMR solvent, so {name} cannot be related to it"
            )));
        }
        let value = compound.value / residual.value;
        let u = quadrature([compound.u / residual.value, value * residual.u / residual.value]);
        Ok(Self { name: name.to_owned(), per_residual: Measured { value, u }, tube_to_tube })
    }

    /// What the NMR solvent brings into a sample that shows this much residual line, and what is left for the batch.
    ///
    /// The rest may be negative within its uncertainty. Scatter between tubes is added.
    ///
    /// ```
    /// use lees_match::blank::{BlankRatio, Measured};
    /// let exact = |value| Measured { value, u: 0.0 };
    /// let blank = BlankRatio::of("water", exact(0.50), exact(1.00), 0.15)?;
    /// let rest = blank.subtract(exact(1.7), exact(2.0));
    /// assert!((rest.value - 0.7).abs() < 1e-12);
    /// assert!((rest.u - 0.15).abs() < 1e-12); // 15 % of the blank's 1.0
    /// # Ok::<(), lees_match::MatchError>(())
    /// ```
    #[must_use]
    pub fn subtract(&self, sample: Measured, residual: Measured) -> Measured {
        let brought = self.per_residual.value * residual.value;
        let brought_u = quadrature([
            self.per_residual.u * residual.value,
            self.per_residual.value * residual.u,
            brought * self.tube_to_tube,
        ]);
        Measured { value: sample.value - brought, u: quadrature([sample.u, brought_u]) }
    }

    /// The blank's part of a budget, in per cent of the result, by its two causes.
    fn causes(&self, percent: f64) -> [Contribution; 2] {
        let measured = if self.per_residual.value > 0.0 {
            self.per_residual.u / self.per_residual.value
        } else {
            f64::INFINITY
        };
        let whole = libm::hypot(measured, self.tube_to_tube);
        let share = |part: f64| if part.is_finite() { part / whole } else { 1.0 };
        let between = if measured.is_finite() { percent * share(self.tube_to_tube) } else { 0.0 };
        [
            Contribution {
                source: "blank: its own measurement".to_owned(),
                percent: percent * share(measured),
                remedy: "more scans of the blank".to_owned(),
            },
            Contribution {
                source: format!(
                    "blank: {:.0} % between tubes (assumed)",
                    100.0 * self.tube_to_tube
                ),
                percent: between,
                remedy: "a drier NMR solvent, a blank filled beside the sample; blanks of your own tell the scatter \
                         (match.weighed.tube_to_tube_percent)"
                    .to_owned(),
            },
        ]
    }
}

/// Writes the two causes of the blank's uncertainty into the budgets, in place of their sum.
///
/// ```
/// use lees_core::Measurement;
/// use lees_match::{Beside, Settings, blank::{Blank, itemise}, explain, explain_beside, table::Tables};
/// use lees_process::{Workspace, process};
/// use lees_spin::simulate::{Recipe, simulate};
/// let wet = Recipe::wet_dye();
/// let only = Recipe { product: None, volatile: Vec::new(), ..wet.clone() };
/// let (tables, settings) = (Tables::bundled(), Settings::default());
/// let processed = |recipe: &Recipe| {
///     let made = simulate(recipe).expect("a sound recipe");
///     process(&Measurement::Spectrum(made.spectrum), &Default::default(), &mut Workspace::new()).expect("a spectrum")
/// };
/// let blank = Blank::of(&explain(&processed(&only), None, tables, &settings)?, "CDCl3 alone", "", 0.15)?;
/// let beside = Beside { blank: Some(blank.clone()), standard: None };
/// let mut check = explain_beside(&processed(&wet), None, tables, &settings, &beside)?.check;
/// itemise(&mut check, &blank);
/// assert!(check.volatiles.iter().flat_map(|f| &f.budget).all(|cause| cause.source != "blank"), "told apart");
/// # Ok::<(), lees_match::MatchError>(())
/// ```
pub fn itemise(check: &mut Check, blank: &Blank) {
    for finding in &mut check.volatiles {
        let Some(ratio) = blank.ratio(&finding.name) else { continue };
        let Some(at) = finding.budget.iter().position(|entry| entry.source == BLANK) else { continue };
        let whole = finding.budget.remove(at);
        finding.budget.extend(ratio.causes(whole.percent).into_iter().filter(|cause| cause.percent > 0.0));
        finding.budget.sort_by(|a, b| b.percent.total_cmp(&a.percent));
    }
}

/// What the NMR solvent alone shows, per mole of its residual species.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Blank {
    /// The file it was measured from.
    pub name: String,
    /// SHA-256 of that file, lower-case hexadecimal: a blank is never taken off itself.
    pub sha256: String,
    /// The residual line that links blank and sample, such as `CHCl3 in CDCl3`.
    pub residual: String,
    /// Everything else that was seen.
    pub ratios: Vec<BlankRatio>,
    /// What speaks against its being the NMR solvent alone.
    pub doubts: Vec<String>,
}

impl Blank {
    /// From the spectrum of the NMR solvent alone, matched without product; `name` is used in sentences, `tube_to_tube` is the
    /// scatter between two tubes as relative standard uncertainty.
    ///
    /// # Errors
    /// When the blank shows no residual line of its NMR solvent, or as much of something unknown: then it is a sample.
    ///
    /// ```
    /// use lees_core::Measurement;
    /// use lees_match::{Settings, blank::Blank, explain, table::Tables};
    /// use lees_process::{Workspace, process};
    /// use lees_spin::simulate::{Recipe, simulate};
    /// let only = Recipe { product: None, volatile: Vec::new(), ..Recipe::wet_dye() };
    /// let made = Measurement::Spectrum(simulate(&only).expect("a sound recipe").spectrum);
    /// let processed = process(&made, &Default::default(), &mut Workspace::new()).expect("a spectrum");
    /// let explained = explain(&processed, None, Tables::bundled(), &Settings::default())?;
    /// let blank = Blank::of(&explained, "CDCl3 alone", "", 0.15)?;
    /// assert_eq!(blank.residual, "CHCl3 in CDCl3");
    /// let water = &blank.ratios[0];
    /// assert!((water.per_residual.value - 0.1 / 0.4).abs() < 0.02, "moles per mole of CHCl3, as in the recipe");
    /// # Ok::<(), lees_match::MatchError>(())
    /// ```
    pub fn of(
        explained: &Explained,
        name: &str,
        sha256: &str,
        tube_to_tube: f64,
    ) -> Result<Self, MatchError> {
        let residual = explained.amounts.iter().filter(|a| a.residual);
        let residual =
            residual.max_by(|a, b| a.per_proton.value.total_cmp(&b.per_proton.value)).ok_or_else(|| {
                MatchError::NotEnough(format!(
                    "{name} shows no residual line of its NMR solvent, so it is no use as a blank"
                ))
            })?;
        let doubts = foreign(&explained.check, name, residual.per_proton.value)?;
        let others = explained.amounts.iter().filter(|a| !a.residual);
        let ratios = others.map(|a| BlankRatio::of(&a.name, a.per_proton, residual.per_proton, tube_to_tube));
        Ok(Self {
            name: name.to_owned(),
            sha256: sha256.to_owned(),
            residual: residual.name.clone(),
            ratios: ratios.collect::<Result<_, _>>()?,
            doubts,
        })
    }

    /// What it says of a compound.
    #[must_use]
    pub(crate) fn ratio(&self, compound: &str) -> Option<&BlankRatio> {
        self.ratios.iter().find(|ratio| ratio.name == compound)
    }
}

/// What the NMR solvent alone does not show: a word of it, or a refusal when it is much.
fn foreign(check: &Check, name: &str, residual_per_proton: f64) -> Result<Vec<String>, MatchError> {
    let Some(largest) = check.unexplained.iter().max_by(|a, b| a.area.total_cmp(&b.area)) else {
        return Ok(Vec::new());
    };
    let share = check.unexplained.iter().map(|signal| signal.area).sum::<f64>() / residual_per_proton;
    let seen = format!(
        "{} signals that no solvent explains, the largest at {:.2} ppm",
        check.unexplained.len(),
        largest.shift.value()
    );
    if share > MOST_FOREIGN {
        return Err(MatchError::NotEnough(format!(
            "{name} shows {seen}: a blank is the NMR solvent alone, without product"
        )));
    }
    Ok((share > SOME_FOREIGN).then(|| format!("the blank {name} shows {seen}")).into_iter().collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::interval::nonnegative;
    use approx::assert_abs_diff_eq;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, Normal};

    /// The stated uncertainty against simulation with noise on all four areas and scatter between tubes.
    #[test]
    fn subtraction_covers() {
        let mut rng = ChaCha8Rng::seed_from_u64(21);
        let noise = Normal::new(0.0, 1.0).unwrap();
        let (truth, blank_ratio, residual) = (0.20, 0.40, 1.5);
        let draws = 4000;
        let mut covered = 0;
        for _ in 0..draws {
            let mut z = || noise.sample(&mut rng);
            let noisy = |value: f64, u: f64, z: f64| Measured { value: value + u * z, u };
            let blank = BlankRatio::of("water", noisy(0.80, 0.01, z()), noisy(2.0, 0.02, z()), 0.15).unwrap();
            let tube = blank_ratio * (1.0 + 0.15 * z());
            let sample = noisy(truth + tube * residual, 0.01, z());
            let rest = blank.subtract(sample, noisy(residual, 0.02, z()));
            let left = nonnegative(rest.value, rest.u);
            covered += u32::from(left.low <= truth && truth <= left.high);
        }
        assert_abs_diff_eq!(f64::from(covered) / f64::from(draws), 0.955, epsilon = 0.02);
    }

    #[test]
    fn a_blank_without_residual_line_is_refused() {
        let none = Measured { value: 0.0, u: 0.1 };
        assert!(BlankRatio::of("water", none, none, 0.15).is_err());
    }

    #[test]
    fn the_two_causes_of_a_blank_add_up_to_it() {
        let ratio =
            BlankRatio::of("water", Measured { value: 0.5, u: 0.1 }, Measured { value: 1.0, u: 0.0 }, 0.15)
                .unwrap();
        let [measured, between] = ratio.causes(5.0);
        assert_abs_diff_eq!(measured.percent, 4.0, epsilon = 1e-12); // 20 % of 25 %
        assert_abs_diff_eq!(between.percent, 3.0, epsilon = 1e-12); // 15 % of 25 %
    }
}
