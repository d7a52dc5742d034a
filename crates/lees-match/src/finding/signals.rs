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
