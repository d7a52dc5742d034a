//! Cutting a system into parts that do not couple, in hertz.

use lees_core::Megahertz;

use crate::exact;
use crate::{PartnerSpin, SpinSystem};

/// One coupled part of a system, frequencies in hertz.
#[derive(Debug, Clone)]
pub(crate) struct Component {
    /// Indices of its groups in the whole system.
    pub(crate) groups: Vec<usize>,
    /// Frequency of each group.
    pub(crate) frequencies: Vec<f64>,
    /// Protons of each group.
    pub(crate) protons: Vec<u32>,
    /// Coupling matrix, by position within the component.
    pub(crate) couplings: Vec<Vec<f64>>,
    /// Unseen nuclei.
    pub(crate) partners: Vec<Outsider>,
}

/// Unseen equivalent nuclei as a component sees them.
#[derive(Debug, Clone)]
pub(crate) struct Outsider {
    /// Spin of one nucleus.
    pub(crate) spin: PartnerSpin,
    /// How many.
    pub(crate) count: u32,
    /// Coupling to each group of the component.
    pub(crate) couplings: Vec<f64>,
}

/// A line before merging.
#[derive(Debug, Clone, Copy)]
pub(crate) struct RawLine {
    /// Frequency in hertz.
    pub(crate) frequency: f64,
    /// In protons.
    pub(crate) intensity: f64,
    /// Index of the group in the whole system.
    pub(crate) group: usize,
}

impl Component {
    /// Floating-point work of the exact solution, roughly.
    pub(crate) fn work(&self) -> f64 {
        exact::work(self)
    }
}

/// Splits a system into its coupled parts; groups without protons are left out.
pub(crate) fn components(system: &SpinSystem, field: Megahertz) -> Vec<Component> {
    let count = system.groups.len();
    let mut label: Vec<usize> = (0..count).collect();
    for (a, b) in links(system) {
        let (from, to) = (label[b], label[a]);
        label.iter_mut().filter(|l| **l == from).for_each(|l| *l = to);
    }
    let mut parts = Vec::new();
    for root in 0..count {
        let members: Vec<usize> =
            (0..count).filter(|&g| label[g] == root && system.groups[g].protons > 0).collect();
        if !members.is_empty() {
            parts.push(component(system, field, members));
        }
    }
    parts
}

/// Pairs of groups that a coupling, or a shared unseen partner, ties together.
fn links(system: &SpinSystem) -> Vec<(usize, usize)> {
    let known = |g: usize| g < system.groups.len() && system.groups[g].protons > 0;
    let direct = system.couplings.iter().filter(|c| c.2.0 != 0.0).map(|c| (c.0, c.1));
    let shared = system.partners.iter().flat_map(|p| p.couplings.windows(2).map(|w| (w[0].0, w[1].0)));
    direct.chain(shared).filter(|&(a, b)| a != b && known(a) && known(b)).collect()
}

fn component(system: &SpinSystem, field: Megahertz, groups: Vec<usize>) -> Component {
    let size = groups.len();
    let place = |g: usize| groups.iter().position(|&member| member == g);
    let mut couplings = vec![vec![0.0; size]; size];
    for &(a, b, j) in &system.couplings {
        if let (Some(a), Some(b)) = (place(a), place(b))
            && a != b
        {
            couplings[a][b] += j.0;
            couplings[b][a] += j.0;
        }
    }
    let partners = system.partners.iter().filter_map(|partner| {
        let mut row = vec![0.0; size];
        partner.couplings.iter().for_each(|&(g, j)| {
            if let Some(at) = place(g) {
                row[at] += j.0;
            }
        });
        let felt = partner.count > 0 && row.iter().any(|&j| j != 0.0);
        felt.then_some(Outsider { spin: partner.spin, count: partner.count, couplings: row })
    });
    Component {
        partners: partners.collect(),
        frequencies: groups.iter().map(|&g| system.groups[g].shift.to_hertz(field).0).collect(),
        protons: groups.iter().map(|&g| system.groups[g].protons).collect(),
        couplings,
        groups,
    }
}
