//! Assessments that need not be made again: while molecules are named, most of the spectrum stays as it was.

use super::context::Context;
use super::partner::REACH_HZ;
use super::probe::{Assessment, assess, furthest};
use crate::fit::scene::Scene;
use crate::fit::template::extent;
use crate::pattern::Pattern;

/// What else stands this far from a group's outermost lines may matter to it, in ppm, at least in hertz, and in widths
/// beyond: the density of strangers, partners of a line, the margins of bands.
const CONCERN: (f64, f64, f64) = (0.16, REACH_HZ + 2.0, 3.0);

/// Assessments with what they rest on, by pattern.
pub(crate) struct Memory {
    concerns: Vec<Vec<(f64, f64)>>,
    known: Vec<Vec<(Vec<f64>, Option<Assessment>)>>,
}

impl Memory {
    /// Of no pattern anything is known.
    pub(crate) fn new(scene: &Scene<'_>, patterns: &[Pattern]) -> Self {
        let slack = (CONCERN.0 * scene.field()).max(CONCERN.1) + CONCERN.2 * scene.width;
        let concern = |pattern: &Pattern| {
            let of_group = |group: &crate::pattern::PatternGroup| {
                let (low, high) = extent(&group.sticks, 0.0);
                let (at, reach) = (scene.position(group.expected), furthest(scene, group) + slack);
                (at + low - reach, at + high + reach)
            };
            pattern.groups.iter().map(of_group).collect()
        };
        Self {
            concerns: patterns.iter().map(concern).collect(),
            known: patterns.iter().map(|_| Vec::new()).collect(),
        }
    }

    /// As [`assess`], from memory when nothing has changed that concerns the pattern.
    pub(crate) fn assess(
        &mut self,
        scene: &Scene<'_>,
        patterns: &[Pattern],
        index: usize,
        context: &Context,
    ) -> Option<Assessment> {
        let state = state(scene, context, &self.concerns[index]);
        if let Some((_, found)) = self.known[index].iter().find(|(at, _)| *at == state) {
            debug_assert_eq!(*found, assess(scene, &patterns[index], context), "{}", patterns[index].name);
            return found.clone();
        }
        let found = assess(scene, &patterns[index], context);
        self.known[index].push((state, found.clone()));
        found
    }
}

/// Everything within some stretches that naming a molecule may change: all that an assessment reads of it must be here.
fn state(scene: &Scene<'_>, context: &Context, stretches: &[(f64, f64)]) -> Vec<f64> {
    let mut state = Vec::new();
    for &(from, to) in stretches {
        let lines = &scene.lines[scene.lines_within(from, to)];
        state.extend(lines.iter().flat_map(|line| [line.left, line.taken]));
        let taken = scene.unseen.iter().filter(|u| u.0 <= to && from <= u.1);
        state.extend(taken.flat_map(|u| [u.0, u.1, u.2]));
        let met = context.occupied.iter().filter(|s| s.from <= to && from <= s.to);
        state.extend(met.flat_map(|s| [s.room, s.room_u]));
    }
    state
}
