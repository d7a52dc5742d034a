//! Diagonalising a component's Hamiltonian block by block.

use nalgebra::{DMatrix, DVector, SymmetricEigen};

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
    for (shifts, share) in outside_states(part) {
        let frequencies: Vec<f64> =
            part.frequencies.iter().zip(&shifts).map(|(f, s)| f - centre + s).collect();
        for manifold in combinations(&part.protons) {
            let weight: f64 = manifold.iter().map(|m| m.weight).product();
            // A lone spin 1/2 gives one line of strength 1 from two states: hence the factor 2.
            let scale = share * weight * 2.0 / states;
            manifold_lines(part, &manifold, &frequencies, centre, scale, &mut out);
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

/// The states of one total Mz with their energies.
struct Block {
    /// Doubled Mz of each group, a row per basis state.
    states: Vec<Vec<i32>>,
    energies: DVector<f64>,
    vectors: DMatrix<f64>,
}

fn manifold_lines(
    part: &Component,
    spins: &[Manifold],
    frequencies: &[f64],
    centre: f64,
    scale: f64,
    out: &mut Vec<RawLine>,
) {
    let mut upper: Option<Block> = None;
    for states in blocks(spins) {
        let lower = diagonalise(part, spins, frequencies, states);
        if let Some(upper) = &upper {
            block_lines(part, spins, upper, &lower, centre, scale, out);
        }
        upper = Some(lower);
    }
}

/// Product states sorted by total Mz, highest first.
fn blocks(spins: &[Manifold]) -> Vec<Vec<Vec<i32>>> {
    let total: u32 = spins.iter().map(|m| m.twice_spin).sum();
    let mut sorted: Vec<Vec<Vec<i32>>> = vec![Vec::new(); total as usize + 1];
    let mut states = vec![(Vec::new(), 0usize)];
    for spin in spins {
        states = states
            .into_iter()
            .flat_map(|(state, lowered)| {
                (0..=spin.twice_spin).map(move |k| {
                    let m = spin.twice_spin as i32 - 2 * k as i32;
                    ([state.as_slice(), &[m]].concat(), lowered + k as usize)
                })
            })
            .collect();
    }
    for (state, lowered) in states {
        sorted[lowered].push(state);
    }
    sorted
}

fn diagonalise(part: &Component, spins: &[Manifold], frequencies: &[f64], states: Vec<Vec<i32>>) -> Block {
    let size = states.len();
    let mut matrix = DMatrix::zeros(size, size);
    for (i, state) in states.iter().enumerate() {
        matrix[(i, i)] = diagonal(part, frequencies, state);
        for (k, other) in states.iter().enumerate().skip(i + 1) {
            let element = flip_flop(part, spins, state, other);
            matrix[(i, k)] = element;
            matrix[(k, i)] = element;
        }
    }
    let eigen = SymmetricEigen::new(matrix);
    Block { states, energies: eigen.eigenvalues, vectors: eigen.eigenvectors }
}

fn diagonal(part: &Component, frequencies: &[f64], state: &[i32]) -> f64 {
    let m = |i: usize| f64::from(state[i]) / 2.0;
    let mut energy = 0.0;
    for (i, frequency) in frequencies.iter().enumerate() {
        energy += frequency * m(i);
        for k in 0..i {
            energy += part.couplings[i][k] * m(i) * m(k);
        }
    }
    energy
}

/// The element J/2 (F+ F- + F- F+) between two product states, zero unless exactly two groups differ.
fn flip_flop(part: &Component, spins: &[Manifold], a: &[i32], b: &[i32]) -> f64 {
    let mut raised = None;
    let mut lowered = None;
    for i in 0..a.len() {
        match b[i] - a[i] {
            0 => {}
            2 if raised.is_none() => raised = Some(i),
            -2 if lowered.is_none() => lowered = Some(i),
            _ => return 0.0,
        }
    }
    match (raised, lowered) {
        (Some(up), Some(down)) => {
            part.couplings[up][down] / 2.0
                * ladder(spins[up].twice_spin, b[up])
                * ladder(spins[down].twice_spin, a[down])
        }
        _ => 0.0,
    }
}

/// The lowering element sqrt(F(F+1) - m(m-1)) from doubled spin and doubled upper m.
fn ladder(twice_spin: u32, twice_upper: i32) -> f64 {
    let spin = f64::from(twice_spin) / 2.0;
    let upper = f64::from(twice_upper) / 2.0;
    (spin * (spin + 1.0) - upper * (upper - 1.0)).max(0.0).sqrt()
}

/// Lines between two neighbouring blocks.
fn block_lines(
    part: &Component,
    spins: &[Manifold],
    upper: &Block,
    lower: &Block,
    centre: f64,
    scale: f64,
    out: &mut Vec<RawLine>,
) {
    let moments: Vec<DMatrix<f64>> = (0..spins.len())
        .map(|group| lower.vectors.tr_mul(&lowering(spins, upper, lower, group)) * &upper.vectors)
        .collect();
    for u in 0..upper.states.len() {
        for l in 0..lower.states.len() {
            let total: f64 = moments.iter().map(|m| m[(l, u)]).sum();
            let intensity = total * total * scale;
            if intensity > 0.0 {
                let frequency = centre + upper.energies[u] - lower.energies[l];
                out.push(RawLine { frequency, intensity, group: part.groups[dominant(&moments, l, u)] });
            }
        }
    }
}

/// The lowering operator of one group in the product basis.
fn lowering(spins: &[Manifold], upper: &Block, lower: &Block, group: usize) -> DMatrix<f64> {
    DMatrix::from_fn(lower.states.len(), upper.states.len(), |l, u| {
        let (to, from) = (&lower.states[l], &upper.states[u]);
        let only = (0..to.len()).all(|i| to[i] == if i == group { from[i] - 2 } else { from[i] });
        if only { ladder(spins[group].twice_spin, from[group]) } else { 0.0 }
    })
}

/// Which group's operator weighs most in a transition.
fn dominant(moments: &[DMatrix<f64>], l: usize, u: usize) -> usize {
    let weigh = |g: usize| moments[g][(l, u)].abs();
    (1..moments.len()).fold(0, |best, g| if weigh(g) > weigh(best) { g } else { best })
}
