//! The groups of a finding: where each was seen and whether the amount rests on it.

use lees_core::ShiftRange;
use lees_core::check::FoundSignal;

use super::Sources;
use crate::assign::probe::GroupFit;
use crate::fit::scene::Scene;
use crate::fit::template::extent;
use crate::pattern::PatternGroup;

/// All groups of a named molecule, in table order.
pub(super) fn signals(sources: &Sources<'_>, named: usize) -> Vec<FoundSignal> {
    let accepted = &sources.named[named];
    let pattern = &sources.patterns[accepted.pattern];
    pattern
        .groups
        .iter()
        .enumerate()
        .map(|(k, group)| {
            let seen = accepted.found.groups.iter().find(|g| g.group == k);
            let member = sources.fitted.member(named, k);
            let at = member.map(|m| m.pose.at).or(seen.map(|g| g.at));
            let at = at.unwrap_or_else(|| sources.scene.position(group.expected));
            FoundSignal {
                group: group.name.clone(),
                shift: sources.scene.shift(at),
                range: range(sources.scene, group, at),
                protons: pattern.compound.map(|_| group.protons),
                multiplicity: group.multiplicity.clone(),
                area: member.map(|m| m.area),
                used: member.is_some(),
                note: note(group, seen, member.is_some()),
            }
        })
        .collect()
}

/// The stretch of a group's lines, a width wider on both sides.
fn range(scene: &Scene<'_>, group: &PatternGroup, at: f64) -> ShiftRange {
    let (low, high) = extent(&group.sticks, 0.0);
    ShiftRange::new(scene.shift(at + low - scene.width), scene.shift(at + high + scene.width))
}

fn note(group: &PatternGroup, seen: Option<&GroupFit>, used: bool) -> Option<String> {
    let why = match seen {
        _ if used => None,
        None if !group.resolved => Some("its structure is not known line by line".to_owned()),
        None => Some("it lies outside the spectrum".to_owned()),
        Some(fit) if fit.gain <= 0.0 => Some("not seen".to_owned()),
        Some(_) => Some("covered by other signals".to_owned()),
    };
    match (why, &group.doubt) {
        (Some(why), Some(doubt)) => Some(format!("{why}; {doubt}")),
        (why, doubt) => why.or_else(|| doubt.clone()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::scene::tests::wet_dye;
    use crate::pattern::tests::group;

    #[test]
    fn the_stretch_of_a_group_holds_its_lines_and_a_width_beyond() {
        let processed = wet_dye();
        let scene = Scene::of(&processed, processed.spectrum.axis);
        let triplet = group(2.0, 3.0, &[(-7.0, 0.25), (0.0, 0.5), (7.0, 0.25)]);
        let range = range(&scene, &triplet, scene.position(triplet.expected));
        let half = (7.0 + scene.width) / scene.field();
        assert!((range.high.0 - (2.0 + half)).abs() < 1e-9, "{range:?}");
        assert!((range.low.0 - (2.0 - half)).abs() < 1e-9, "{range:?}");
    }

    #[test]
    fn a_group_that_was_not_looked_at_says_why() {
        let known = group(2.0, 3.0, &[(0.0, 1.0)]);
        let unknown = PatternGroup { resolved: false, ..known.clone() };
        assert_eq!(note(&known, None, false).as_deref(), Some("it lies outside the spectrum"));
        assert_eq!(note(&unknown, None, false).as_deref(), Some("its structure is not known line by line"));
        assert_eq!(note(&known, None, true), None, "one that is used needs no word");
    }
}
