//! The uncertainty budget: what moves a result, how far, and what would shrink it.
//!
//! Combination by the law of propagation of uncertainty (GUM, JCGM 100:2008, section 5): relative effects of one
//! cause on product and volatile are first subtracted, since they are common to a ratio, then independent causes
//! are added in quadrature.

use lees_core::check::Contribution;

use crate::interval::{Z95, bisect, normal_cdf};

/// The law a cause follows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// Many small things: normal.
    Normal,
    /// Anything between two ends is as likely: rectangular (standard uncertainty = half-width / sqrt 3).
    Rectangular,
}

/// One cause of uncertainty of a ratio of volatile to product.
#[derive(Debug, Clone, PartialEq)]
pub struct Effect {
    /// The cause, such as `noise and overlap`.
    pub source: String,
    /// Relative change of the volatile's amount for one standard uncertainty of the cause (0.01 is 1 %).
    pub on_volatile: f64,
    /// Relative change of the product's amount for the same; a common cause has the same sign and cancels.
    pub on_product: f64,
    /// Its law.
    pub shape: Shape,
    /// What would shrink it.
    pub remedy: String,
}

impl Effect {
    /// A cause that moves only the volatile.
    ///
    /// ```
    /// use lees_match::uncertainty::{Effect, Shape};
    /// let noise = Effect::of_volatile("noise and overlap", 0.03, Shape::Normal, "more scans");
    /// assert_eq!((noise.on_volatile, noise.on_product), (0.03, 0.0), "3 %");
    /// ```
    #[must_use]
    pub fn of_volatile(source: &str, relative: f64, shape: Shape, remedy: &str) -> Self {
        Self {
            source: source.to_owned(),
            on_volatile: relative,
            on_product: 0.0,
            shape,
            remedy: remedy.to_owned(),
        }
    }

    /// A cause that moves only the product.
    ///
    /// ```
    /// use lees_match::uncertainty::{Effect, Shape};
    /// let signals = Effect::of_product("product signals", 0.02, Shape::Normal, "cleaner signals");
    /// assert_eq!((signals.on_volatile, signals.on_product), (0.0, 0.02), "2 %");
    /// ```
    #[must_use]
    pub fn of_product(source: &str, relative: f64, shape: Shape, remedy: &str) -> Self {
        Self {
            source: source.to_owned(),
            on_volatile: 0.0,
            on_product: relative,
            shape,
            remedy: remedy.to_owned(),
        }
    }

    /// Relative standard uncertainty of the ratio.
    #[must_use]
    pub(crate) fn on_ratio(&self) -> f64 {
        (self.on_volatile - self.on_product).abs()
    }
}

/// A combined uncertainty.
#[derive(Debug, Clone, PartialEq)]
pub struct Combined {
    /// Relative standard uncertainty of the ratio.
    pub relative: f64,
    /// Two-sided 95 % coverage factor for its law.
    pub factor: f64,
    /// The budget, largest first.
    pub budget: Vec<Contribution>,
}

/// Adds effects in quadrature and lists them, largest first.
///
/// ```
/// use lees_match::uncertainty::{Effect, Shape, combine};
/// let combined = combine(&[
///     Effect::of_volatile("noise and overlap", 0.03, Shape::Normal, "more scans"),
///     Effect::of_product("product signals", 0.04, Shape::Normal, "cleaner signals"),
/// ]);
/// assert!((combined.relative - 0.05).abs() < 1e-12);
/// assert_eq!(combined.budget[0].source, "product signals");
/// ```
#[must_use]
pub fn combine(effects: &[Effect]) -> Combined {
    let mut budget: Vec<Contribution> = effects
        .iter()
        .map(|effect| Contribution {
            source: effect.source.clone(),
            percent: 100.0 * effect.on_ratio(),
            remedy: effect.remedy.clone(),
        })
        .filter(|entry| entry.percent > 0.0)
        .collect();
    budget.sort_by(|a, b| b.percent.total_cmp(&a.percent));
    let relative = quadrature(effects.iter().map(Effect::on_ratio));
    Combined { relative, factor: factor_of(effects), budget }
}

/// Root of the sum of squares.
#[must_use]
pub(crate) fn quadrature(terms: impl IntoIterator<Item = f64>) -> f64 {
    terms.into_iter().map(|term| term * term).sum::<f64>().sqrt()
}

/// The factor for these effects: the largest rectangular one kept as it is, all others taken as normal.
fn factor_of(effects: &[Effect]) -> f64 {
    let largest = effects
        .iter()
        .filter(|effect| effect.shape == Shape::Rectangular)
        .map(Effect::on_ratio)
        .fold(0.0, f64::max);
    let total = quadrature(effects.iter().map(Effect::on_ratio));
    coverage_factor((total * total - largest * largest).max(0.0).sqrt(), largest)
}

/// Two-sided 95 % factor of the sum of a normal cause (standard uncertainty `normal`) and a rectangular one (standard
/// uncertainty `rectangular`), to be multiplied by their root sum of squares: 1.96 for a normal law, 1.65 for a rectangular.
///
/// ```
/// use lees_match::uncertainty::coverage_factor;
/// assert!((coverage_factor(1.0, 0.0) - 1.960).abs() < 1e-3);
/// assert!((coverage_factor(0.0, 1.0) - 1.645).abs() < 1e-3); // 0.95 sqrt 3
/// ```
#[must_use]
pub fn coverage_factor(normal: f64, rectangular: f64) -> f64 {
    let total = libm::hypot(normal, rectangular);
    let half_width = rectangular * 3f64.sqrt();
    if total <= 0.0 || half_width < 1e-3 * total {
        return Z95;
    }
    if normal < 1e-3 * total {
        return 0.95 * 3f64.sqrt();
    }
    let inside = |reach: f64| convolved_inside(reach, normal, half_width) - 0.95;
    bisect(0.0, 5.0 * total, inside) / total
}

/// Probability that normal + rectangular lies within `+-reach`.
fn convolved_inside(reach: f64, sigma: f64, half_width: f64) -> f64 {
    // the integral of the normal distribution function: z F(z) + f(z)
    let primitive = |x: f64| {
        let z = x / sigma;
        sigma * (z * normal_cdf(z) + libm::exp(-0.5 * z * z) / (2.0 * std::f64::consts::PI).sqrt())
    };
    let below = |x: f64| (primitive(x + half_width) - primitive(x - half_width)) / (2.0 * half_width);
    below(reach) - below(-reach)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, Normal};

    /// Combined relative uncertainties printed in BIPM-2018/04, 2018/05 and 2019/03 (S. Westwood et al.), from their
    /// components (in 1e-4) for ratio, two proton counts, two molar masses, two masses, purity of the standard.
    #[test]
    fn quadrature_agrees_with_published_budgets() {
        let printed = [
            ([1.75, 1.50, 0.50, 0.344, 0.661, 5.28, 3.54, 4.01], 7.92),
            ([1.28, 0.50, 0.50, 0.437, 0.661, 1.45, 2.13, 4.01], 5.05),
            ([1.80, 1.50, 0.75, 0.344, 0.290, 4.88, 1.33, 0.70], 5.69),
            ([1.49, 0.498, 0.166, 0.734, 0.552, 4.67, 4.77, 3.99], 7.97),
            ([1.95, 0.60, 0.167, 0.446, 0.554, 1.92, 5.59, 4.00], 7.44),
        ];
        for (components, total) in printed {
            // the printed components are rounded to three digits
            assert_abs_diff_eq!(quadrature(components), total, epsilon = 0.025);
        }
    }

    #[test]
    fn a_common_cause_cancels_in_the_ratio() {
        let common = Effect {
            source: "carbon-13".to_owned(),
            on_volatile: 0.011,
            on_product: 0.011,
            shape: Shape::Normal,
            remedy: String::new(),
        };
        let combined = combine(&[common, Effect::of_volatile("noise", 0.02, Shape::Normal, "")]);
        assert_abs_diff_eq!(combined.relative, 0.02, epsilon = 1e-12);
        assert_eq!(combined.budget.len(), 1);
    }

    /// The analytic factor against simulation: 95 % of 200 000 draws lie within.
    #[test]
    fn coverage_factor_agrees_with_simulation() {
        let mut rng = ChaCha8Rng::seed_from_u64(5);
        for (normal, rectangular) in [(1.0, 0.5), (0.5, 1.0), (0.2, 1.0), (1.0, 1.0)] {
            let law = Normal::new(0.0, normal).expect("a normal law");
            let reach = coverage_factor(normal, rectangular) * libm::hypot(normal, rectangular);
            let half_width = rectangular * 3f64.sqrt();
            let draws = 200_000;
            let inside = (0..draws)
                .filter(|_| {
                    let flat: f64 = rng.random_range(-half_width..half_width);
                    (law.sample(&mut rng) + flat).abs() <= reach
                })
                .count();
            assert_abs_diff_eq!(inside as f64 / f64::from(draws), 0.95, epsilon = 0.003);
        }
    }
}
