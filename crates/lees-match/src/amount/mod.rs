//! From amounts per proton to mole ratio, mol % and wt %, with their covariance.
//!
//! Definitions, with n moles, M molar masses, p the product and sums over the counted volatiles:
//! mole ratio = n / n(p); mol % = 100 n / (n(p) + sum n); wt % = 100 n M / (n(p) M(p) + sum n M). A compound that is not
//! counted is given as if it alone were added to the sum.

mod mixture;

use lees_core::check::Estimate;
use nalgebra::DMatrix;

use self::mixture::Mixture;
use crate::MatchError;
use crate::interval::nonnegative_with;

/// Detection limit in standard uncertainties at zero amount (ICH Q2(R2): 3.3 sigma).
pub const DETECTION: f64 = 3.3;
/// Quantification limit in standard uncertainties at zero amount (ICH Q2(R2): 10 sigma).
pub const QUANTIFICATION: f64 = 10.0;

/// Moles of one compound per mole of product.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Amount {
    /// As measured; noise may make it negative.
    pub ratio: f64,
    /// Molar mass in g/mol; `None` for polymers and grease, which get no mol % or wt %.
    pub molar_mass: Option<f64>,
    /// Whether it enters the sums.
    pub counted: bool,
    /// Two-sided 95 % factor of its uncertainty (1.96 when normal).
    pub factor: f64,
    /// What else it may be: the rival that would change the mass of the sample most, or nothing (ratio 0).
    pub instead: Option<Instead>,
}

/// A rival of a compound: the same lines, read as another one, or as none of the volatiles.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Instead {
    /// Moles of it per mole of product.
    pub ratio: f64,
    /// Molar mass in g/mol.
    pub molar_mass: f64,
}

/// One compound's share of the sample.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shares {
    /// Moles per mole of product.
    pub mole_ratio: Estimate,
    /// Per cent of all moles counted.
    pub mol_percent: Option<Estimate>,
    /// Per cent of all mass counted.
    pub wt_percent: Option<Estimate>,
}

/// Shares of all compounds and their sum.
#[derive(Debug, Clone, PartialEq)]
pub struct Composition {
    /// In the order given.
    pub shares: Vec<Shares>,
    /// Sum of the counted mass fractions in wt%.
    pub total_wt_percent: Estimate,
}

/// Moles relative to a reference compound, from amounts (areas per proton) and their covariance.
///
/// Returns the ratios of all others in order, with their covariance; the uncertainty of the reference is common to
/// all and enters as such.
///
/// # Errors
/// When the reference is out of range or its amount is not positive, or the covariance has another size.
///
/// ```
/// use lees_match::amount::ratios;
/// use nalgebra::DMatrix;
/// let covariance = DMatrix::from_diagonal_element(2, 2, 0.0001);
/// let (ratio, _) = ratios(&[1.0, 0.0306], &covariance, 0)?;
/// assert!((ratio[0] - 0.0306).abs() < 1e-12);
/// # Ok::<(), lees_match::MatchError>(())
/// ```
pub fn ratios(
    amounts: &[f64],
    covariance: &DMatrix<f64>,
    reference: usize,
) -> Result<(Vec<f64>, DMatrix<f64>), MatchError> {
    let n = amounts.len();
    square(covariance, n)?;
    let base = amounts.get(reference).copied().unwrap_or(f64::NAN);
    if base.is_nan() || base <= 0.0 {
        return Err(MatchError::NotEnough(format!(
            "the amount of the reference compound is {base}; a ratio needs a positive one"
        )));
    }
    let others: Vec<usize> = (0..n).filter(|at| *at != reference).collect();
    let ratio: Vec<f64> = others.iter().map(|at| amounts[*at] / base).collect();
    let jacobian = DMatrix::from_fn(others.len(), n, |row, column| {
        if column == others[row] {
            1.0 / base
        } else if column == reference {
            -ratio[row] / base
        } else {
            0.0
        }
    });
    let propagated = &jacobian * covariance * jacobian.transpose();
    Ok((ratio, propagated))
}

/// Adds one cause to a covariance of ratios: `relative[j]` is the relative change of ratio j for one standard
/// uncertainty of the cause, with its sign.
pub(crate) fn add_cause(covariance: &mut DMatrix<f64>, ratio: &[f64], relative: &[f64]) {
    let shift: Vec<f64> = ratio.iter().zip(relative).map(|(value, share)| value.max(0.0) * share).collect();
    for (row, a) in shift.iter().enumerate() {
        for (column, b) in shift.iter().enumerate() {
            covariance[(row, column)] += a * b;
        }
    }
}

/// Mole ratio, mol % and wt % of all compounds beside a product of molar mass `product_mass` (g/mol).
///
/// # Errors
/// When the covariance does not fit the amounts or the molar mass is not positive.
///
/// ```
/// use lees_match::amount::{Amount, composition};
/// use lees_match::interval::Z95;
/// use nalgebra::DMatrix;
/// // dichloromethane, 0.0100 mol per mol of a product of 250.00 g/mol
/// let amount =
///     Amount { ratio: 0.0100, molar_mass: Some(84.927), counted: true, factor: Z95, instead: None };
/// let found = composition(250.0, &[amount], &DMatrix::from_element(1, 1, 1e-8))?;
/// assert!((found.total_wt_percent.value - 0.3386).abs() < 5e-5);
/// # Ok::<(), lees_match::MatchError>(())
/// ```
pub fn composition(
    product_mass: f64,
    amounts: &[Amount],
    covariance: &DMatrix<f64>,
) -> Result<Composition, MatchError> {
    square(covariance, amounts.len())?;
    if !(product_mass.is_finite() && product_mass > 0.0) {
        return Err(MatchError::Value {
            what: "the product's molar mass".to_owned(),
            read: format!("{product_mass} g/mol"),
            allowed: "a positive number in g/mol".to_owned(),
        });
    }
    let ones: Vec<Option<f64>> = amounts.iter().map(|a| a.molar_mass.map(|_| 1.0)).collect();
    let masses: Vec<Option<f64>> = amounts.iter().map(|a| a.molar_mass).collect();
    let moles = Mixture { base: 1.0, weights: &ones, amounts, covariance, instead: |rival| rival.ratio };
    let by_mass = |rival: Instead| rival.ratio * rival.molar_mass;
    let mass = Mixture { base: product_mass, weights: &masses, amounts, covariance, instead: by_mass };
    let shares = (0..amounts.len())
        .map(|at| Shares {
            mole_ratio: nonnegative_with(
                amounts[at].ratio,
                covariance[(at, at)].max(0.0).sqrt(),
                amounts[at].factor,
            ),
            mol_percent: moles.share(at),
            wt_percent: mass.share(at),
        })
        .collect();
    Ok(Composition { shares, total_wt_percent: mass.total() })
}

/// Content in wt% of an amount given in moles per mole of product, with nothing else beside it.
///
/// ```
/// // S/N 45 at 0.20 wt%: detection limit 3.3/45 of that
/// let u0 = 0.20 / 45.0;
/// assert!((lees_match::amount::DETECTION * u0 - 0.0147).abs() < 1e-4);
/// assert!((lees_match::amount::wt_percent_alone(0.01, 84.927, 250.0) - 0.3386).abs() < 5e-5);
/// ```
#[must_use]
pub fn wt_percent_alone(ratio: f64, molar_mass: f64, product_mass: f64) -> f64 {
    100.0 * ratio * molar_mass / (product_mass + ratio * molar_mass)
}

fn square(covariance: &DMatrix<f64>, n: usize) -> Result<(), MatchError> {
    if covariance.nrows() == n && covariance.ncols() == n {
        return Ok(());
    }
    Err(MatchError::Value {
        what: "the covariance".to_owned(),
        read: format!("{} by {}", covariance.nrows(), covariance.ncols()),
        allowed: format!("{n} by {n}, one row an amount"),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::interval::Z95;
    use crate::table::Tables;
    use approx::assert_abs_diff_eq;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, Normal};

    fn amount(ratio: f64, molar_mass: f64) -> Amount {
        Amount { ratio, molar_mass: Some(molar_mass), counted: true, factor: Z95, instead: None }
    }

    /// University laboratory handout "Estimation of Crude Yield from NMR Data" (undated): CH2Cl2 6 mm for 2 H beside
    /// a product of 206.3 g/mol with 11 mm for 2 H: 35 and 65 mol %, 18 and 82 wt%.
    #[test]
    fn dichloromethane_in_a_crude_product() {
        let covariance = DMatrix::from_element(1, 1, 1e-6);
        let found = composition(206.3, &[amount(6.0 / 11.0, 84.9)], &covariance).unwrap();
        assert_abs_diff_eq!(found.shares[0].mol_percent.unwrap().value, 35.29, epsilon = 0.005);
        assert_abs_diff_eq!(found.shares[0].wt_percent.unwrap().value, 18.33, epsilon = 0.005);
    }

    /// Ten cases by the defining formula (arithmetic, worked apart): product 250.00 g/mol with a one-proton signal of 1.000.
    #[test]
    fn mol_percent_and_wt_percent_of_ten_solvents() {
        let cases = [
            ("dichloromethane", 2.0, 0.0200, 0.9901, 0.3386),
            ("chloroform", 1.0, 0.0100, 0.9901, 0.4752),
            ("ethyl acetate", 3.0, 0.0300, 0.9901, 0.3512),
            ("2-propanol", 6.0, 0.0600, 0.9901, 0.2398),
            ("N,N-dimethylformamide", 1.0, 0.0100, 0.9901, 0.2915),
            ("toluene", 3.0, 0.0015, 0.0500, 0.0184),
            ("tetrahydrofuran", 4.0, 0.0400, 0.9901, 0.2876),
            ("methanol", 3.0, 0.3000, 9.0909, 1.2655),
            ("water", 2.0, 0.1000, 4.7619, 0.3590),
            ("n-hexane", 6.0, 0.0120, 0.1996, 0.0689),
        ];
        for (name, protons, area, mol, wt) in cases {
            let molar_mass = Tables::bundled().compound(name).and_then(|c| c.molar_mass).unwrap();
            let covariance = DMatrix::from_element(1, 1, 1e-12);
            let found = composition(250.0, &[amount(area / protons, molar_mass)], &covariance).unwrap();
            assert_abs_diff_eq!(found.shares[0].mol_percent.unwrap().value, mol, epsilon = 5e-5);
            assert_abs_diff_eq!(found.shares[0].wt_percent.unwrap().value, wt, epsilon = 5e-5);
        }
    }

    /// Two solvents together (arithmetic): mol % 0.9804 each, wt% 0.3374 and 0.3500.
    #[test]
    fn two_solvents_share_one_sum() {
        let both = [amount(0.0100, 84.927), amount(0.0100, 88.106)];
        let found = composition(250.0, &both, &DMatrix::from_diagonal_element(2, 2, 1e-12)).unwrap();
        assert_abs_diff_eq!(found.shares[0].mol_percent.unwrap().value, 0.9804, epsilon = 5e-5);
        assert_abs_diff_eq!(found.shares[0].wt_percent.unwrap().value, 0.3374, epsilon = 5e-5);
        assert_abs_diff_eq!(found.shares[1].wt_percent.unwrap().value, 0.3500, epsilon = 5e-5);
        assert_abs_diff_eq!(100.0 - found.total_wt_percent.value, 99.3126, epsilon = 5e-5);
        // a compound outside the sums leaves them alone and is given as if added
        let water = Amount { counted: false, ..amount(0.05, 18.015) };
        let with = composition(250.0, &[both[0], both[1], water], &DMatrix::zeros(3, 3)).unwrap();
        assert_abs_diff_eq!(with.total_wt_percent.value, found.total_wt_percent.value, epsilon = 1e-12);
        assert_abs_diff_eq!(with.shares[2].wt_percent.unwrap().value, 0.35653, epsilon = 5e-5);
    }

    /// Acetic acid read as acetonitrile (arithmetic): 0.10 mol of 60.05 g/mol in place of 0.10 mol of 41.05 g/mol beside a product
    /// of 194.2 g/mol and 0.50 mol of 98.96 g/mol: 19.93 wt% become 19.42, the total 21.57 becomes 22.31.
    #[test]
    fn other_contents_reach_to_where_a_rival_would_put_them() {
        let plain = [amount(0.50, 98.96), amount(0.10, 41.05)];
        let rival = Instead { ratio: 0.10, molar_mass: 60.05 };
        let doubtful = [plain[0], Amount { instead: Some(rival), ..plain[1] }];
        let still = DMatrix::zeros(2, 2);
        let (sure, open) =
            (composition(194.2, &plain, &still).unwrap(), composition(194.2, &doubtful, &still).unwrap());
        let as_rival = composition(194.2, &[plain[0], amount(0.10, 60.05)], &still).unwrap();
        let (a, b) = (sure.shares[0].wt_percent.unwrap(), as_rival.shares[0].wt_percent.unwrap());
        let found = open.shares[0].wt_percent.unwrap();
        assert_eq!(found.value, a.value);
        assert_abs_diff_eq!(found.low, b.value, epsilon = 0.01);
        assert_abs_diff_eq!(open.total_wt_percent.high, as_rival.total_wt_percent.value, epsilon = 0.03);
        assert_eq!(
            open.shares[1].wt_percent, sure.shares[1].wt_percent,
            "its own content is given as its own"
        );
        assert_eq!(
            open.shares[0].mol_percent.unwrap().u,
            0.0,
            "as many moles of one as of the other leave mol % as it is"
        );
    }

    /// Propagation against simulation: areas with correlated noise, 40 000 draws.
    #[test]
    fn propagated_uncertainty_agrees_with_simulation() {
        let truth = [1.0, 0.30, 0.12];
        let covariance = DMatrix::from_row_slice(
            3,
            3,
            &[4.0e-4, 0.5e-4, 0.0, 0.5e-4, 1.0e-4, -0.4e-4, 0.0, -0.4e-4, 0.9e-4],
        );
        let masses = [150.0, 60.1, 84.9];
        let shares = |areas: &[f64]| {
            let (ratio, spread) = ratios(areas, &covariance, 0).unwrap();
            let amounts = [amount(ratio[0], masses[1]), amount(ratio[1], masses[2])];
            composition(masses[0], &amounts, &spread).unwrap()
        };
        let stated = shares(&truth);
        let factor = covariance.clone().cholesky().unwrap().l();
        let mut rng = ChaCha8Rng::seed_from_u64(3);
        let noise = Normal::new(0.0, 1.0).unwrap();
        let draws = 40_000;
        let mut sums = [[0.0; 2]; 3];
        for _ in 0..draws {
            let z = nalgebra::DVector::from_fn(3, |_, _| noise.sample(&mut rng));
            let moved = &factor * z;
            let areas: Vec<f64> = truth.iter().zip(moved.iter()).map(|(a, d)| a + d).collect();
            let found = shares(&areas);
            let values = [
                found.shares[0].wt_percent.unwrap().value,
                found.shares[1].mol_percent.unwrap().value,
                found.total_wt_percent.value,
            ];
            for (sum, value) in sums.iter_mut().zip(values) {
                sum[0] += value;
                sum[1] += value * value;
            }
        }
        let n = f64::from(draws);
        let sd = |sum: [f64; 2]| ((sum[1] - sum[0] * sum[0] / n) / (n - 1.0)).sqrt();
        let us = [
            stated.shares[0].wt_percent.unwrap().u,
            stated.shares[1].mol_percent.unwrap().u,
            stated.total_wt_percent.u,
        ];
        for (sum, u) in sums.into_iter().zip(us) {
            assert_abs_diff_eq!(sd(sum) / u, 1.0, epsilon = 0.02);
        }
    }

    /// 0.01 mol of dichloromethane, surely, and 0.25 mol of ethylene glycol, perhaps, beside 300 g of product: without the glycol the
    /// sum is 100 x 0.849 / 300.849 wt%, and that is where its interval ends; so does the content of dichloromethane.
    #[test]
    fn the_total_reaches_down_to_what_it_is_without_a_doubtful_name() {
        let still = DMatrix::zeros(2, 2);
        let nothing = Instead { ratio: 0.0, molar_mass: 62.068 };
        let perhaps = Amount { instead: Some(nothing), ..amount(0.25, 62.068) };
        let found = composition(300.0, &[amount(0.01, 84.927), perhaps], &still).unwrap();
        let alone = 100.0 * 0.84927 / 300.84927;
        assert_abs_diff_eq!(found.total_wt_percent.low, alone, epsilon = 1e-9);
        assert_abs_diff_eq!(found.shares[0].wt_percent.unwrap().high, alone, epsilon = 1e-9);
    }

    /// 0.10(1) mol of acetonitrile, or as much acetic acid (JCGM 100: 1.96 standard uncertainties on either side of either reading).
    #[test]
    fn the_interval_holds_about_either_reading() {
        let covariance = DMatrix::from_element(1, 1, 1e-4);
        let sure = |molar_mass: f64| {
            composition(250.0, &[amount(0.10, molar_mass)], &covariance).unwrap().total_wt_percent
        };
        let (nitrile, acid) = (sure(41.05), sure(60.05));
        let rival = Instead { ratio: 0.10, molar_mass: 60.05 };
        let doubtful = Amount { instead: Some(rival), ..amount(0.10, 41.05) };
        let open = composition(250.0, &[doubtful], &covariance).unwrap().total_wt_percent;
        assert_abs_diff_eq!(open.high, acid.value + (nitrile.high - nitrile.value), epsilon = 1e-9);
        assert_abs_diff_eq!(open.low, nitrile.low, epsilon = 1e-9);
    }

    /// A cause common to two ratios must not average out in their sum.
    #[test]
    fn common_causes_add_up_in_the_total() {
        let ratio = [0.1, 0.1];
        let mut common = DMatrix::zeros(2, 2);
        add_cause(&mut common, &ratio, &[0.05, 0.05]);
        let mut apart = DMatrix::zeros(2, 2);
        add_cause(&mut apart, &ratio, &[0.05, 0.0]);
        add_cause(&mut apart, &ratio, &[0.0, 0.05]);
        let both = [amount(0.1, 80.0), amount(0.1, 80.0)];
        let u = |covariance: &DMatrix<f64>| composition(300.0, &both, covariance).unwrap().total_wt_percent.u;
        assert_abs_diff_eq!(u(&common) / u(&apart), 2f64.sqrt(), epsilon = 1e-9);
    }

    #[test]
    fn nonsense_is_refused() {
        let one = DMatrix::zeros(1, 1);
        assert!(composition(0.0, &[amount(0.1, 80.0)], &one).is_err());
        assert!(composition(100.0, &[amount(0.1, 80.0); 2], &one).is_err());
        assert!(ratios(&[0.0, 1.0], &DMatrix::zeros(2, 2), 0).is_err());
        assert!(ratios(&[1.0], &one, 3).is_err());
    }

    /// ICH Q2: detection 3.3 sigma / slope, quantification 10 sigma / slope; sigma 0.0025, slope 1250 per ug/mL
    /// (worked in secondary texts): 6.6e-6 and 2.0e-5 ug/mL.
    #[test]
    fn detection_and_quantification_limits() {
        assert_abs_diff_eq!(DETECTION * 0.0025 / 1250.0, 6.6e-6, epsilon = 1e-9);
        assert_abs_diff_eq!(QUANTIFICATION * 0.0025 / 1250.0, 2.0e-5, epsilon = 1e-9);
    }
}
