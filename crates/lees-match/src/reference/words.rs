//! What is said about the NMR solvent and the shift axis.

use lees_core::{Ppm, ShiftAxis};
use lees_process::reference::ReferenceFound;

use super::WORTH_A_WORD;
use super::own::is_outside;
use crate::table::NmrSolvent;

/// An unsure reading that moves the axis further than this, in ppm, is no hint: it leans on chance.
const MOST_HINTED: f64 = 0.5;

/// What is said where no line of an NMR solvent sets the axis; nothing of the axis where the product `sets` it instead.
pub(super) fn unsure(
    named: Option<&NmrSolvent>,
    doubtful: Option<(&NmrSolvent, Ppm)>,
    axis: ShiftAxis,
    sets: bool,
) -> String {
    let left = if sets { "" } else { ": the shift axis was left as it came" };
    if let Some(solvent) = named.filter(|solvent| is_outside(solvent, axis)) {
        let place = solvent.residual.first().map_or(Ppm(0.0), |line| line.shift);
        return format!(
            "the recorded range does not reach the residual line of {} at {:.2} ppm{left}",
            solvent.name, place.0
        );
    }
    let near = doubtful.filter(|(_, offset)| offset.0.abs() < MOST_HINTED);
    let hint = near.map_or_else(String::new, |(solvent, offset)| {
        format!(
            "; the likeliest but unsure reading is {} with the axis moved by {:+.3} ppm",
            solvent.name, offset.0
        )
    });
    match named {
        Some(solvent) => format!(
            "no line of the spectrum could be told to be the residual signal of {}{left}{hint}",
            solvent.name
        ),
        None => format!("the NMR solvent could not be told from the spectrum: name it with --solvent{hint}"),
    }
}

/// Who names the NMR solvent.
pub(super) const LABEL: &str = "the file's label";
pub(super) const DESCRIPTION: &str = "the product's description";

pub(super) fn taken_from_description(solvent: &NmrSolvent) -> String {
    format!("the file names no NMR solvent: {} is taken from the product's description", solvent.name)
}

pub(super) fn fits(solvent: &NmrSolvent) -> String {
    format!("the NMR solvent is not stated; the spectrum fits {}", solvent.name)
}

pub(super) fn solvent_remark(
    named: Option<(&NmrSolvent, &str)>,
    chosen: Option<&NmrSolvent>,
    found: &ReferenceFound,
) -> Option<String> {
    match (named, chosen) {
        (None, None) => Some(format!(
            "the shift axis rests on {}, but the NMR solvent could not be told from the spectrum: name it with --solvent",
            found.name
        )),
        (None, Some(chosen)) => Some(fits(chosen)),
        (Some((label, source)), Some(chosen)) if label.index != chosen.index => Some(format!(
            "{source} says {}, but the spectrum fits {} (agreeing: {}), which was used; overrule it with --solvent",
            label.name,
            chosen.name,
            found.agreeing.join(", ")
        )),
        (Some((label, source)), _) => (source == DESCRIPTION).then(|| taken_from_description(label)),
    }
}

pub(super) fn axis_remark(found: &ReferenceFound) -> Option<String> {
    (found.offset.0.abs() > WORTH_A_WORD).then(|| {
        format!(
            "the shift axis was moved by {:+.3} ppm to put {} at {:.2} ppm (agreeing: {})",
            found.offset.0,
            found.name,
            found.expected.0,
            found.agreeing.join(", ")
        )
    })
}

/// TMS or a residual line that stands away from its tabulated place on an axis which another line fixed.
pub(super) fn residual_remark(solvent: &NmrSolvent, found: &ReferenceFound) -> Option<String> {
    let mut lines = found.agreeing.iter().zip(&found.seen);
    let away = |(expected, seen): &(Ppm, Ppm)| (*seen + found.offset - *expected).0;
    let (name, seen) = lines.find(|(name, seen)| {
        let fixed = *name == "TMS" || name.ends_with(&solvent.name);
        fixed && **name != found.name && away(seen).abs() > WORTH_A_WORD
    })?;
    Some(format!(
        "on the axis set by {}, {name} stands at {:.3} ppm, {:+.3} ppm from its tabulated place",
        found.name,
        (seen.1 + found.offset).0,
        away(seen)
    ))
}
