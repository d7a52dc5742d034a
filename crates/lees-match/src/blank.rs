//! Water and the like that come with the NMR solvent: measured in a blank, subtracted from the sample.
//!
//! The residual line of the NMR solvent links the two spectra: what stands beside one proton of it in the blank stands beside
//! one proton of it in the sample. Chloroform in CDCl3 cannot be told apart this way, for there it is the residual line itself.

use lees_core::check::Estimate;
use serde::{Deserialize, Serialize};

use crate::interval::nonnegative;
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
}

/// How much the blank's water may differ between two tubes of one bottle, relative (common practice, no source:
/// water is picked up while filling).
pub const TUBE_TO_TUBE: f64 = 0.15;

impl BlankRatio {
    /// From amounts (areas per proton) in the blank.
    ///
    /// # Errors
    /// When the residual line has no positive amount.
    pub fn of(name: &str, compound: Measured, residual: Measured) -> Result<Self, MatchError> {
        if residual.value.is_nan() || residual.value <= 0.0 {
            return Err(MatchError::NotEnough(format!(
                "the blank shows no residual line of the NMR solvent, so {name} cannot be related to it"
            )));
        }
        let value = compound.value / residual.value;
        let u = quadrature([compound.u / residual.value, value * residual.u / residual.value]);
        Ok(Self { name: name.to_owned(), per_residual: Measured { value, u } })
    }

    /// What the NMR solvent brings into a sample that shows this much residual line, and what is left for the batch.
    ///
    /// The rest may be negative within its uncertainty. Tube-to-tube scatter of [`TUBE_TO_TUBE`] is added.
    ///
    /// ```
    /// use lees_match::blank::{BlankRatio, Measured};
    /// let exact = |value| Measured { value, u: 0.0 };
    /// let blank = BlankRatio::of("water", exact(0.50), exact(1.00))?;
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
            brought * TUBE_TO_TUBE,
        ]);
        Measured { value: sample.value - brought, u: quadrature([sample.u, brought_u]) }
    }
}

/// What the NMR solvent alone shows, per mole of its residual species.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Blank {
    /// The file it was measured from.
    pub name: String,
    /// The residual line that links blank and sample, such as `CHCl3 in CDCl3`.
    pub residual: String,
    /// Everything else that was seen.
    pub ratios: Vec<BlankRatio>,
}

impl Blank {
    /// From the spectrum of the NMR solvent alone, matched without product; `name` is used in sentences.
    ///
    /// # Errors
    /// When the blank shows no residual line of its NMR solvent.
    pub fn of(explained: &Explained, name: &str) -> Result<Self, MatchError> {
        let residual = explained.amounts.iter().filter(|a| a.residual);
        let residual =
            residual.max_by(|a, b| a.per_proton.value.total_cmp(&b.per_proton.value)).ok_or_else(|| {
                MatchError::NotEnough(format!(
                    "{name} shows no residual line of its NMR solvent, so it is no use as a blank"
                ))
            })?;
        let others = explained.amounts.iter().filter(|a| !a.residual);
        let ratios = others.map(|a| BlankRatio::of(&a.name, a.per_proton, residual.per_proton));
        Ok(Self {
            name: name.to_owned(),
            residual: residual.name.clone(),
            ratios: ratios.collect::<Result<_, _>>()?,
        })
    }

    /// What it says of a compound.
    #[must_use]
    pub fn ratio(&self, compound: &str) -> Option<&BlankRatio> {
        self.ratios.iter().find(|ratio| ratio.name == compound)
    }
}

/// A rest as an estimate of a non-negative amount.
#[must_use]
pub fn rest(measured: Measured) -> Estimate {
    nonnegative(measured.value, measured.u)
}

#[cfg(test)]
mod tests {
    use super::*;
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
            let blank = BlankRatio::of("water", noisy(0.80, 0.01, z()), noisy(2.0, 0.02, z())).unwrap();
            let tube = blank_ratio * (1.0 + TUBE_TO_TUBE * z());
            let sample = noisy(truth + tube * residual, 0.01, z());
            let left = rest(blank.subtract(sample, noisy(residual, 0.02, z())));
            covered += u32::from(left.low <= truth && truth <= left.high);
        }
        assert_abs_diff_eq!(f64::from(covered) / f64::from(draws), 0.955, epsilon = 0.02);
    }

    #[test]
    fn a_blank_without_residual_line_is_refused() {
        let none = Measured { value: 0.0, u: 0.1 };
        assert!(BlankRatio::of("water", none, none).is_err());
    }
}
