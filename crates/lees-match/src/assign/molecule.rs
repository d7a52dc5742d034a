//! From fitted group areas to amounts: generalised least squares over all molecules at once.

use nalgebra::{DMatrix, DVector};

use crate::fit::window::{LEVEL_U, Member, WindowFit};

/// Groups of one molecule agree with one another within this share: pulses, relaxation, pattern.
const GROUP_TOLERANCE: f64 = 0.006;

/// The same for a group whose lines run into one another: some of it lies outside, something else inside.
const DENSE_TOLERANCE: f64 = 0.02;

/// How far groups disagree where something else lies under all but one (common practice, no source: integrals of proton spectra
/// of mixtures are good to some per cent).
const ALONE_SPREAD: f64 = 0.03;

/// Where something lies under other groups of a molecule, something unseen may lie under its own: so much of the noise and overlap
/// comes on top (chosen on simulated samples).
const CROWDED_NOISE: f64 = 0.5;

/// What became of a molecule's other groups.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Others {
    /// All were fitted, or there are none.
    Fitted,
    /// Something lies under some of them.
    SomeHidden,
    /// Something lies under all of them.
    AllHidden,
}

/// A member and the molecule it belongs to.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Owner {
    /// Index of the molecule.
    pub molecule: usize,
    /// Protons of the group.
    pub protons: f64,
    /// Which of the molecule's other groups could be fitted, those that exchange left out.
    pub others: Others,
}

/// Standard uncertainties of one molecule's amount by source, in its own unit.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Sources {
    /// Noise and overlap.
    pub noise: f64,
    /// Baseline.
    pub baseline: f64,
    /// Phase.
    pub phase: f64,
    /// Line shape and pattern.
    pub shape: f64,
    /// Disagreement of the groups beyond all that.
    pub spread: f64,
}

impl Sources {
    /// All together.
    pub(crate) fn total(&self) -> f64 {
        [self.noise, self.baseline, self.phase, self.shape, self.spread]
            .iter()
            .map(|u| u * u)
            .sum::<f64>()
            .sqrt()
    }
}

/// Area of one proton of a molecule.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Amount {
    /// Area per proton.
    pub value: f64,
    /// Where its uncertainty comes from.
    pub sources: Sources,
}

/// Amounts of all molecules and their covariance, one row a molecule.
#[derive(Debug, Clone, Default)]
pub(crate) struct Amounts {
    /// `None` for a molecule without members.
    pub each: Vec<Option<Amount>>,
    /// Zero rows for molecules without members.
    pub covariance: DMatrix<f64>,
}

/// Amounts of all molecules from all fitted members; `shared` is the uncertainty of each area from what the product may have of
/// it.
pub(crate) fn amounts(
    members: &[Member],
    owners: &[Owner],
    fits: &[WindowFit],
    shared: &[f64],
    molecules: usize,
    phase_u: f64,
) -> Amounts {
    let n = members.len();
    let mut out = Amounts { each: vec![None; molecules], covariance: DMatrix::zeros(molecules, molecules) };
    let areas = DVector::from_iterator(n, members.iter().map(|m| m.area));
    let parts = Parts::new(members, fits, shared, phase_u);
    let total = &parts.noise + &parts.baseline + &parts.phase + &parts.shape;
    let present: Vec<usize> = (0..molecules).filter(|m| owners.iter().any(|o| o.molecule == *m)).collect();
    let design = DMatrix::from_fn(n, present.len(), |row, column| {
        if owners[row].molecule == present[column] { owners[row].protons } else { 0.0 }
    });
    let Some(weights) = weights(&design, &total) else {
        return out;
    };
    let values = &weights * &areas;
    let spread = &weights * &total * weights.transpose();
    let mut ratios = vec![1.0; present.len()];
    for (column, &molecule) in present.iter().enumerate() {
        let w = weights.row(column).transpose();
        let part = |v: &DMatrix<f64>| (w.transpose() * v * &w)[(0, 0)].max(0.0).sqrt();
        let mut sources = Sources {
            noise: part(&parts.noise),
            baseline: part(&parts.baseline),
            phase: part(&parts.phase),
            shape: part(&parts.shape),
            spread: 0.0,
        };
        let others = owners.iter().find(|o| o.molecule == molecule).map_or(Others::Fitted, |o| o.others);
        let known = sources.total().max(f64::MIN_POSITIVE);
        let crowd = CROWDED_NOISE * sources.noise / known;
        let birge = birge(&areas, &total, owners, molecule, values[column]);
        ratios[column] = match others {
            Others::Fitted => birge,
            Others::SomeHidden => libm::hypot(birge, crowd),
            Others::AllHidden => libm::hypot(libm::hypot(1f64, crowd), ALONE_SPREAD * values[column] / known),
        };
        sources.spread = sources.total() * (ratios[column] * ratios[column] - 1.0).max(0.0).sqrt();
        out.each[molecule] = Some(Amount { value: values[column], sources });
    }
    for (i, &a) in present.iter().enumerate() {
        for (j, &b) in present.iter().enumerate() {
            out.covariance[(a, b)] = spread[(i, j)] * ratios[i] * ratios[j];
        }
    }
    out
}

/// `(N' V^-1 N)^-1 N' V^-1`.
fn weights(design: &DMatrix<f64>, covariance: &DMatrix<f64>) -> Option<DMatrix<f64>> {
    let inverse = covariance.clone().cholesky()?.inverse();
    let normal = design.transpose() * &inverse * design;
    Some(normal.cholesky()?.inverse() * design.transpose() * inverse)
}

/// Birge ratio of one molecule's groups.
fn birge(
    areas: &DVector<f64>,
    covariance: &DMatrix<f64>,
    owners: &[Owner],
    molecule: usize,
    value: f64,
) -> f64 {
    let own: Vec<usize> = (0..owners.len()).filter(|&k| owners[k].molecule == molecule).collect();
    if own.len() < 2 {
        return 1.0;
    }
    let chi2: f64 =
        own.iter().map(|&k| (areas[k] - value * owners[k].protons).powi(2) / covariance[(k, k)]).sum();
    (chi2 / (own.len() - 1) as f64).sqrt().max(1.0)
}

/// Covariance of all areas by source.
struct Parts {
    noise: DMatrix<f64>,
    baseline: DMatrix<f64>,
    phase: DMatrix<f64>,
    shape: DMatrix<f64>,
}

impl Parts {
    fn new(members: &[Member], fits: &[WindowFit], shared: &[f64], phase_u: f64) -> Self {
        let n = members.len();
        let mut parts = Self {
            noise: DMatrix::zeros(n, n),
            baseline: DMatrix::zeros(n, n),
            phase: DMatrix::zeros(n, n),
            shape: DMatrix::zeros(n, n),
        };
        for fit in fits {
            let all: f64 = fit.members.iter().map(|&k| members[k].area.abs()).sum();
            for (i, &a) in fit.members.iter().enumerate() {
                for (j, &b) in fit.members.iter().enumerate() {
                    parts.noise[(a, b)] = fit.covariance[(i, j)];
                    parts.baseline[(a, b)] = fit.by_level[i] * fit.by_level[j] * LEVEL_U * LEVEL_U;
                    parts.phase[(a, b)] = fit.by_phase[i] * fit.by_phase[j] * phase_u * phase_u;
                }
                let share = members[a].area.abs() / all.max(f64::MIN_POSITIVE);
                let beyond = (fit.left_over.0.abs() - 2.0 * fit.left_over.1).max(0.0) * share;
                parts.shape[(a, a)] = beyond * beyond
                    + (if fit.dense[i] { DENSE_TOLERANCE } else { GROUP_TOLERANCE } * members[a].area)
                        .powi(2)
                    + fit.satellites[i] * fit.satellites[i]
                    + shared[a] * shared[a];
            }
        }
        parts
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::template::{Pose, Stick};

    /// Area 10 for 2 protons: 5 a proton, 3 % of which is 0.15.
    #[test]
    fn a_group_that_no_other_bears_out_is_uncertain_by_what_groups_disagree() {
        let pose = Pose { at: 500.0, stretch: 1.0, factor: 1.0 };
        let member = Member { sticks: vec![Stick { offset: 0.0, share: 1.0 }], pose, area: 10.0 };
        let fit = || WindowFit {
            members: vec![0],
            covariance: DMatrix::from_element(1, 1, 0.0025),
            by_level: vec![0.0],
            by_phase: vec![0.0],
            left_over: (0.0, 1.0),
            satellites: vec![0.0],
            dense: vec![false],
            crowded: false,
        };
        let u = |others: Others| {
            let owner = Owner { molecule: 0, protons: 2.0, others };
            let found = amounts(std::slice::from_ref(&member), &[owner], &[fit()], &[0.0], 1, 0.0);
            let amount = found.each[0].expect("an amount");
            assert!((amount.value - 5.0).abs() < 1e-12);
            assert!((amount.sources.total().powi(2) - found.covariance[(0, 0)]).abs() < 1e-9);
            (amount.sources.spread, amount.sources.total())
        };
        let (noise, shape) = (0.05 / 2.0, GROUP_TOLERANCE * 5.0);
        assert_eq!(u(Others::Fitted).0, 0.0);
        assert!((u(Others::Fitted).1 - libm::hypot(noise, shape)).abs() < 1e-9);
        assert!((u(Others::SomeHidden).0 - 0.5 * noise).abs() < 1e-9, "{:?}", u(Others::SomeHidden));
        let both = libm::hypot(0.5 * noise, 0.15);
        assert!((u(Others::AllHidden).0 - both).abs() < 1e-9, "{:?}", u(Others::AllHidden));
    }
}
