//! Fitting all named molecules together, and the amount of each.

use super::molecule::{Amounts, Owner, amounts};
use super::search::{Accepted, is_clear};
use crate::fit::scene::Scene;
use crate::fit::template::Pose;
use crate::fit::window::{Member, WindowFit, fit};
use crate::pattern::Pattern;

/// A fitted group: which molecule, which of its groups, where and how large.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Slot {
    /// Index into the named molecules.
    pub named: usize,
    /// Index of the group in the pattern.
    pub group: usize,
}

/// The outcome of the joint fit.
pub(crate) struct Quantified {
    /// One entry per fitted group.
    pub slots: Vec<Slot>,
    /// The fitted groups, in the order of `slots`.
    pub members: Vec<Member>,
    /// The windows.
    pub fits: Vec<WindowFit>,
    /// Amount of each named molecule.
    pub amounts: Amounts,
}

impl Quantified {
    /// The fitted group of a molecule, if it was fitted.
    pub(crate) fn member(&self, named: usize, group: usize) -> Option<&Member> {
        let at = self.slots.iter().position(|s| s.named == named && s.group == group)?;
        self.members.get(at)
    }
}

/// A molecule whose fitted amount is less than this many times its noise is not there after all.
const LEAST_FITTED: f64 = 3.5;

/// Fits the named molecules, leaving out those that turn out not to be there.
pub(crate) fn quantify(
    scene: &Scene<'_>,
    patterns: &[Pattern],
    named: &mut Vec<Accepted>,
    phase_u: f64,
) -> Quantified {
    loop {
        let fitted = fit_all(scene, patterns, named, phase_u);
        let stays = |k: usize| {
            fitted.amounts.each[k].is_some_and(|a| a.value > LEAST_FITTED * a.sources.noise)
        };
        let keep: Vec<bool> = (0..named.len()).map(stays).collect();
        if keep.iter().all(|k| *k) {
            return fitted;
        }
        let mut each = keep.iter();
        named.retain(|_| *each.next().unwrap_or(&true));
    }
}

/// Fits every clear group of every named molecule.
fn fit_all(
    scene: &Scene<'_>,
    patterns: &[Pattern],
    named: &[Accepted],
    phase_u: f64,
) -> Quantified {
    let (mut slots, mut members, mut owners) = (Vec::new(), Vec::new(), Vec::new());
    for (index, accepted) in named.iter().enumerate() {
        let pattern = &patterns[accepted.pattern];
        for found in accepted.found.groups.iter().filter(|g| is_clear(g)) {
            let group = &pattern.groups[found.group];
            slots.push(Slot { named: index, group: found.group });
            owners.push(Owner { molecule: index, protons: group.protons });
            members.push(Member {
                sticks: group.sticks.clone(),
                pose: Pose { at: found.at, stretch: 1.0, factor: found.factor },
                area: accepted.found.amount * group.protons,
            });
        }
    }
    let fits = fit(scene, &mut members);
    let amounts = amounts(&members, &owners, &fits, named.len(), phase_u);
    Quantified { slots, members, fits, amounts }
}
