//! Groups of equivalent protons, their couplings, and the lines they give.

use lees_core::{Hertz, Megahertz, Ppm};
use serde::{Deserialize, Serialize};

use crate::{component, exact, first_order, merge};

/// Magnetically equivalent protons: one shift, and the same coupling to every other group.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SpinGroup {
    /// The name, such as `CH3`.
    pub name: String,
    /// The shift of the group without coupling.
    pub shift: Ppm,
    /// How many protons.
    pub protons: u32,
}

/// Spin of the nuclei that split protons without being seen themselves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum PartnerSpin {
    /// Spin 1/2, such as fluorine-19, or a proton group far away treated to first order.
    Half,
    /// Spin 1, such as deuterium.
    One,
}

/// Equivalent nuclei far off resonance: they split the groups they couple to, but show no line.
///
/// With one spin-1 partner a line becomes 1:1:1 (CHDCl2), with two 1:2:3:2:1 (CHD2).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Partner {
    /// Spin of one nucleus.
    pub spin: PartnerSpin,
    /// How many equivalent nuclei.
    pub count: u32,
    /// Couplings to groups by index.
    pub couplings: Vec<(usize, Hertz)>,
}

/// A molecule's proton groups and couplings.
///
/// ```
/// use lees_core::{Hertz, Megahertz, Ppm};
/// use lees_spin::SpinSystem;
/// let mut propanol = SpinSystem::default();
/// let methyl = propanol.add("CH3", Ppm(1.22), 6);
/// let methine = propanol.add("CH", Ppm(4.04), 1);
/// propanol.couple(methyl, methine, Hertz(6.1));
/// let lines = propanol.transitions(Megahertz(400.0));
/// let protons: f64 = lines.iter().map(|line| line.intensity).sum();
/// assert!((protons - 7.0).abs() < 1e-9);
/// ```
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct SpinSystem {
    /// The groups.
    pub groups: Vec<SpinGroup>,
    /// Scalar couplings between two different groups by index; an index without a group couples nothing.
    pub couplings: Vec<(usize, usize, Hertz)>,
    /// Unseen nuclei that split the groups.
    #[serde(default)]
    pub partners: Vec<Partner>,
}

/// One line of a spin system.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Transition {
    /// Where.
    pub shift: Ppm,
    /// How strong, in protons: all lines of a system sum to its protons.
    pub intensity: f64,
    /// The group whose lowering operator carries most of the transition.
    pub group: usize,
}

/// How lines were computed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Method {
    /// The full Hamiltonian was diagonalised.
    Exact,
    /// At least one part of the system was too large, and its patterns were taken to first order.
    FirstOrder,
}

/// Lines with the way they were found.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Solved {
    /// Lines by falling shift.
    pub transitions: Vec<Transition>,
    /// The less exact of the methods used for the parts of the system.
    pub method: Method,
}

impl SpinSystem {
    /// Adds a group and gives its index.
    ///
    /// ```
    /// # use lees_core::{Hertz, Megahertz, Ppm};
    /// # use lees_spin::SpinSystem;
    /// let mut ethyl = SpinSystem::default();
    /// assert_eq!(ethyl.add("CH2", Ppm(4.12), 2), 0);
    /// assert_eq!(ethyl.add("CH3", Ppm(1.26), 3), 1);
    /// ```
    pub fn add(&mut self, name: &str, shift: Ppm, protons: u32) -> usize {
        self.groups.push(SpinGroup { name: name.to_owned(), shift, protons });
        self.groups.len() - 1
    }

    /// Couples two groups.
    ///
    /// ```
    /// # use lees_core::{Hertz, Megahertz, Ppm};
    /// # use lees_spin::SpinSystem;
    /// let mut ethyl = SpinSystem::default();
    /// let (methylene, methyl) = (ethyl.add("CH2", Ppm(4.12), 2), ethyl.add("CH3", Ppm(1.26), 3));
    /// ethyl.couple(methylene, methyl, Hertz(7.1));
    /// assert!(ethyl.transitions(Megahertz(400.0)).len() > 7, "a quartet, a triplet and their second-order lines");
    /// ```
    pub fn couple(&mut self, a: usize, b: usize, coupling: Hertz) {
        self.couplings.push((a, b, coupling));
    }

    /// Adds unseen nuclei that split one group.
    ///
    /// ```
    /// use lees_core::{Hertz, Megahertz, Ppm};
    /// use lees_spin::{PartnerSpin, SpinSystem};
    /// let mut residual = SpinSystem::default();
    /// let group = residual.add("CHD2", Ppm(2.50), 1);
    /// residual.split(group, PartnerSpin::One, 2, Hertz(1.9));
    /// let lines = residual.transitions(Megahertz(400.0));
    /// let ninths: Vec<f64> = lines.iter().map(|line| (line.intensity * 9.0).round()).collect();
    /// assert_eq!(ninths, [1.0, 2.0, 3.0, 2.0, 1.0]);
    /// ```
    pub fn split(&mut self, group: usize, spin: PartnerSpin, count: u32, coupling: Hertz) {
        self.partners.push(Partner { spin, count, couplings: vec![(group, coupling)] });
    }

    /// All protons of the system.
    ///
    /// ```
    /// # use lees_core::{Hertz, Megahertz, Ppm};
    /// # use lees_spin::SpinSystem;
    /// let mut ethyl = SpinSystem::default();
    /// ethyl.add("CH2", Ppm(4.12), 2);
    /// ethyl.add("CH3", Ppm(1.26), 3);
    /// assert_eq!(ethyl.protons(), 5);
    /// ```
    #[must_use]
    pub fn protons(&self) -> u32 {
        self.groups.iter().map(|group| group.protons).sum()
    }

    /// The lines at a field, by falling shift; [`SpinSystem::solve`] also tells the method.
    ///
    /// ```
    /// # use lees_core::{Hertz, Megahertz, Ppm};
    /// # use lees_spin::SpinSystem;
    /// let mut ethyl = SpinSystem::default();
    /// ethyl.add("CH3", Ppm(2.10), 3);
    /// let lines = ethyl.transitions(Megahertz(400.0));
    /// assert_eq!((lines.len(), lines[0].intensity), (1, 3.0));
    /// ```
    #[must_use]
    pub fn transitions(&self, field: Megahertz) -> Vec<Transition> {
        self.solve(field).transitions
    }

    /// The lines at a field and how they were found.
    ///
    /// Uncoupled parts are solved apart. Each is diagonalised exactly: equivalent protons enter as their
    /// total spins with statistical weights (composite particles; Corio, *Structure of High-Resolution NMR
    /// Spectra*, 1966, chapter 5, from memory), and the Hamiltonian splits into blocks of equal total Mz.
    /// Unseen nuclei are secular: each of their Mz only moves the shifts. A part dearer than about half
    /// a second falls back to first order, which [`Solved::method`] says.
    ///
    /// Coincident lines of a group (within 0.002 Hz) are merged, lines under 1e-6 of all protons dropped,
    /// and the rest scaled so that the sum stays the number of protons. In strongly coupled systems a line belongs
    /// to several groups; the sum over the lines named after one group then only approaches its protons.
    ///
    /// ```
    /// # use lees_core::{Hertz, Megahertz, Ppm};
    /// # use lees_spin::SpinSystem;
    /// let mut ethyl = SpinSystem::default();
    /// use lees_spin::Method;
    /// ethyl.add("CH3", Ppm(2.10), 3);
    /// assert_eq!(ethyl.solve(Megahertz(400.0)).method, Method::Exact);
    /// ```
    #[must_use]
    pub fn solve(&self, field: Megahertz) -> Solved {
        let mut method = Method::Exact;
        let mut lines = Vec::new();
        for part in component::components(self, field) {
            if part.work() <= exact::MAX_WORK {
                lines.extend(exact::lines(&part));
            } else {
                method = Method::FirstOrder;
                lines.extend(first_order::lines(&part));
            }
        }
        let merged = merge::merge(&lines, f64::from(self.protons()));
        Solved { transitions: merge::transitions(&merged, field), method }
    }
}
