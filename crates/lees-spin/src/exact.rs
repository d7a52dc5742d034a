//! Diagonalising a component's Hamiltonian block by block.

use nalgebra::{DMatrix, SymmetricEigen};

use crate::basis::Basis;
use crate::component::{Component, RawLine};
use crate::manifold::{Manifold, manifolds, projections};

/// Most work (see [`work`]) spent on an exact solution: about half a second on a slow core.
pub(crate) const MAX_WORK: f64 = 5e8;

/// A cube of this size is charged to even the smallest block, for the cost of setting it up.
const SMALL_BLOCK: f64 = 6.0;

/// An upper bound of the multiplications: cubes of block sizes, for eigenvectors and operators.
pub(crate) fn work(part: &Component) -> f64 {
    let outside: f64 = part.partners.iter().map(|p| projections(p.spin, p.count).len() as f64).product();
    let combinations: f64 = part.protons.iter().map(|&n| f64::from(n / 2 + 1)).product();
    let mut sizes = vec![1.0];
    for &protons in &part.protons {
        sizes = spread(&sizes, protons as usize);
    }
    let cubes: f64 = sizes.iter().map(|n: &f64| n.max(SMALL_BLOCK).powi(3)).sum();
    cubes * (10.0 + part.groups.len() as f64) * outside * combinations
}

/// Block sizes after one more group of the given largest total spin (doubled) joins.
fn spread(sizes: &[f64], twice_spin: usize) -> Vec<f64> {
    let mut out = vec![0.0; sizes.len() + twice_spin];
    for (i, size) in sizes.iter().enumerate() {
        out[i..=i + twice_spin].iter_mut().for_each(|n| *n += size);
    }
    out
}

/// All lines of a component.
pub(crate) fn lines(part: &Component) -> Vec<RawLine> {
    let mut out = Vec::new();
    let centre = part.frequencies.iter().sum::<f64>() / part.frequencies.len() as f64;
    let states: f64 = part.protons.iter().map(|&n| 2f64.powi(n as i32)).product();
    let manifolds = combinations(&part.protons).into_iter().map(|spins| {
        let weight: f64 = spins.iter().map(|m| m.weight).product();
        (Basis::of(&spins), weight)
    });
    let manifolds: Vec<(Basis, f64)> = manifolds.collect();
    for (shifts, share) in outside_states(part) {
        let frequencies: Vec<f64> =
            part.frequencies.iter().zip(&shifts).map(|(f, s)| f - centre + s).collect();
        for (basis, weight) in &manifolds {
            // A lone spin 1/2 gives one line of strength 1 from two states: hence the factor 2.
            let scale = share * weight * 2.0 / states;
            manifold_lines(part, basis, &frequencies, centre, scale, &mut out);
        }
    }
    out
}

/// Every joint state of the unseen nuclei: what it adds to each group's frequency, and its probability.
fn outside_states(part: &Component) -> Vec<(Vec<f64>, f64)> {
    let mut states = vec![(vec![0.0; part.groups.len()], 1.0)];
    for partner in &part.partners {
        let rows = projections(partner.spin, partner.count);
        states = states
            .iter()
            .flat_map(|(shifts, share)| {
                rows.iter().map(move |(m, probability)| {
                    let moved = shifts.iter().zip(&partner.couplings).map(|(s, j)| s + m * j).collect();
                    (moved, share * probability)
                })
            })
            .collect();
    }
    states
}

/// Every choice of one total spin per group.
fn combinations(protons: &[u32]) -> Vec<Vec<Manifold>> {
    protons.iter().fold(vec![Vec::new()], |chosen, &count| {
        let next = manifolds(count);
        chosen
            .iter()
            .flat_map(|have: &Vec<Manifold>| next.iter().map(move |m| [have.as_slice(), &[*m]].concat()))
            .collect()
    })
}

/// The eigenvalues and eigenvectors of one total Mz.
type Block = SymmetricEigen<f64, nalgebra::Dyn>;

fn manifold_lines(
    part: &Component,
    basis: &Basis,
    frequencies: &[f64],
    centre: f64,
    scale: f64,
    out: &mut Vec<RawLine>,
) {
    let mut upper: Option<Block> = None;
    for level in 0..basis.levels.len() {
        let lower = SymmetricEigen::new(basis.hamiltonian(part, frequencies, level));
        if let Some(upper) = &upper {
            let below = lower.eigenvectors.transpose();
            let moment = |group| basis.lowering(group, level - 1, &below) * &upper.eigenvectors;
            let moments: Vec<DMatrix<f64>> = (0..part.groups.len()).map(moment).collect();
            block_lines(part, upper, &lower, &moments, centre, scale, out);
        }
        upper = Some(lower);
    }
}

/// Lines between two neighbouring blocks, by each group's lowering operator between their eigenvectors.
fn block_lines(
    part: &Component,
    upper: &Block,
    lower: &Block,
    moments: &[DMatrix<f64>],
    centre: f64,
    scale: f64,
    out: &mut Vec<RawLine>,
) {
    let mut whole = DMatrix::zeros(lower.eigenvalues.len(), upper.eigenvalues.len());
    moments.iter().for_each(|moment| whole += moment);
    let count = lower.eigenvalues.len();
    for (number, moment) in whole.as_slice().iter().enumerate() {
        let intensity = moment * moment * scale;
        if intensity > 0.0 {
            let frequency = centre + upper.eigenvalues[number / count] - lower.eigenvalues[number % count];
            out.push(RawLine { frequency, intensity, group: part.groups[dominant(moments, number)] });
        }
    }
}

/// Which group's operator weighs most in a transition.
fn dominant(moments: &[DMatrix<f64>], transition: usize) -> usize {
    let weigh = |(group, moment): (usize, &DMatrix<f64>)| (group, moment.as_slice()[transition].abs());
    let larger = |best: (usize, f64), next: (usize, f64)| if next.1 > best.1 { next } else { best };
    moments.iter().enumerate().map(weigh).reduce(larger).map_or(0, |best| best.0)
}
