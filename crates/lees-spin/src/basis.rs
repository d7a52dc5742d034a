//! Product states of groups of given total spins, and the operators between them.

use nalgebra::DMatrix;

use crate::component::Component;
use crate::manifold::Manifold;

/// Product states by number: how far each group is lowered from its highest Mz, the last group counting ones.
pub(crate) struct Basis {
    /// Doubled total spin of each group.
    spins: Vec<usize>,
    /// What lowering a group by one adds to a state's number.
    strides: Vec<usize>,
    /// The element of lowering by one, by group and how far it is lowered already.
    ladders: Vec<Vec<f64>>,
    /// The states of each total Mz, highest first.
    pub(crate) levels: Vec<Vec<usize>>,
    /// Where each state stands among those of its total Mz.
    places: Vec<usize>,
}

impl Basis {
    pub(crate) fn of(manifolds: &[Manifold]) -> Self {
        let spins: Vec<usize> = manifolds.iter().map(|m| m.twice_spin as usize).collect();
        let mut strides = vec![1; spins.len()];
        for group in (1..spins.len()).rev() {
            strides[group - 1] = strides[group] * (spins[group] + 1);
        }
        let ladder = |m: &Manifold| (0..m.twice_spin).map(|lowered| ladder(m.twice_spin, lowered)).collect();
        let count: usize = spins.iter().map(|spin| spin + 1).product();
        let mut basis = Self {
            levels: vec![Vec::new(); spins.iter().sum::<usize>() + 1],
            places: Vec::with_capacity(count),
            ladders: manifolds.iter().map(ladder).collect(),
            strides,
            spins,
        };
        for state in 0..count {
            let level: usize = (0..basis.spins.len()).map(|group| basis.lowered(state, group)).sum();
            basis.places.push(basis.levels[level].len());
            basis.levels[level].push(state);
        }
        basis
    }

    /// How far a group of a state is lowered.
    fn lowered(&self, state: usize, group: usize) -> usize {
        state / self.strides[group] % (self.spins[group] + 1)
    }

    /// The Hamiltonian among the states of one total Mz.
    pub(crate) fn hamiltonian(&self, part: &Component, frequencies: &[f64], level: usize) -> DMatrix<f64> {
        let states = &self.levels[level];
        let mut matrix = DMatrix::zeros(states.len(), states.len());
        let (mut lowered, mut m) = (vec![0; self.spins.len()], vec![0.0; self.spins.len()]);
        for (column, &state) in states.iter().enumerate() {
            for group in 0..self.spins.len() {
                lowered[group] = self.lowered(state, group);
                m[group] = self.spins[group] as f64 / 2.0 - lowered[group] as f64;
            }
            matrix[(column, column)] = energy(part, frequencies, &m);
            self.exchanged(part, state, &lowered, |other, element| {
                let row = self.places[other];
                if row < column {
                    matrix[(row, column)] = element;
                    matrix[(column, row)] = element;
                }
            });
        }
        matrix
    }

    /// The states that J/2 (F+ F- + F- F+) of each pair of groups makes of one, with their elements.
    fn exchanged(&self, part: &Component, state: usize, lowered: &[usize], mut take: impl FnMut(usize, f64)) {
        for down in 0..lowered.len() {
            if lowered[down] == self.spins[down] {
                continue;
            }
            for up in 0..lowered.len() {
                let coupling = part.couplings[up][down];
                if up != down && lowered[up] > 0 && coupling != 0.0 {
                    let other = state + self.strides[down] - self.strides[up];
                    let (fall, rise) = (self.ladders[down][lowered[down]], self.ladders[up][lowered[up] - 1]);
                    take(other, coupling / 2.0 * fall * rise);
                }
            }
        }
    }

    /// What a group's lowering operator makes of the states of one total Mz, times the eigenvectors (here rows, for speed: a column
    /// per state) of the next one down: a row per eigenvector, a column per state.
    pub(crate) fn lowering(&self, group: usize, level: usize, vectors: &DMatrix<f64>) -> DMatrix<f64> {
        let states = &self.levels[level];
        let mut out = DMatrix::zeros(vectors.nrows(), states.len());
        let columns = out.as_mut_slice().chunks_exact_mut(vectors.nrows());
        for (column, &state) in columns.zip(states) {
            let lowered = self.lowered(state, group);
            if lowered < self.spins[group] {
                let element = self.ladders[group][lowered];
                let below = vectors.column(self.places[state + self.strides[group]]);
                column.iter_mut().zip(below.as_slice()).for_each(|(out, v)| *out = v * element);
            }
        }
        out
    }
}

/// The diagonal of the Hamiltonian, by each group's Mz.
fn energy(part: &Component, frequencies: &[f64], m: &[f64]) -> f64 {
    let mut energy = 0.0;
    for (i, frequency) in frequencies.iter().enumerate() {
        energy += frequency * m[i];
        for (coupling, other) in part.couplings[i][..i].iter().zip(m) {
            energy += coupling * m[i] * other;
        }
    }
    energy
}

/// The lowering element sqrt(F(F+1) - m(m-1)) of a doubled spin that is lowered so far already.
fn ladder(twice_spin: u32, lowered: u32) -> f64 {
    let spin = f64::from(twice_spin) / 2.0;
    let upper = spin - f64::from(lowered);
    (spin * (spin + 1.0) - upper * (upper - 1.0)).max(0.0).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two spins 1/2 with a coupling J: singlet at -3 J / 4, triplets at J / 4, and lowering leads from one triplet to the next with
    /// an element of sqrt 2.
    #[test]
    fn two_coupled_protons_are_singlet_and_triplets() {
        let half = Manifold { twice_spin: 1, weight: 1.0 };
        let part = Component {
            groups: vec![0, 1],
            frequencies: vec![0.0, 0.0],
            protons: vec![1, 1],
            couplings: vec![vec![0.0, 8.0], vec![8.0, 0.0]],
            partners: Vec::new(),
        };
        let basis = Basis::of(&[half, half]);
        assert_eq!(basis.levels, [vec![0], vec![1, 2], vec![3]]);
        let middle = basis.hamiltonian(&part, &[0.0, 0.0], 1);
        assert_eq!(middle, DMatrix::from_row_slice(2, 2, &[-2.0, 4.0, 4.0, -2.0]));
        let r = 0.5f64.sqrt();
        let singlet_and_triplet = DMatrix::from_row_slice(2, 2, &[r, -r, r, r]);
        let both = basis.lowering(0, 0, &singlet_and_triplet) + basis.lowering(1, 0, &singlet_and_triplet);
        assert!((both - DMatrix::from_row_slice(2, 1, &[0.0, 2f64.sqrt()])).norm() < 1e-12);
    }
}
