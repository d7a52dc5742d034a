//! Shifts for NMR solvents in which a group has no tabulated value.

use lees_core::Ppm;

use super::nmr_solvent::Family;
use super::{Group, NmrSolvent, ShiftStatus, TableShift, Tables};

/// Root mean square difference between two NMR solvents of one family, ppm, over the groups of the bundled table
/// that have both (0.037 to 0.07 measured; dipolar pairs reach 0.11).
const SAME_FAMILY: f64 = 0.07;
/// The same between families, aromatic ones apart (0.06 to 0.18 measured).
const OTHER_FAMILY: f64 = 0.14;
/// The same between an aromatic and any other NMR solvent (0.25 to 0.50 measured).
const AROMATIC: f64 = 0.46;

impl Tables {
    /// Where to look for a group: its tabulated value, else one borrowed from the most similar NMR solvent with a
    /// spread to match ([`ShiftStatus::Borrowed`]). `None` when the group has no value anywhere.
    ///
    /// ```
    /// use lees_match::table::{ShiftStatus, Tables};
    /// let tables = Tables::bundled();
    /// let nitrile = tables.nmr_solvent("CD3CN").expect("tabulated");
    /// let group = tables.compound("anisole").and_then(|c| c.group("OCH3")).expect("tabulated");
    /// assert!(group.shift_in(nitrile).is_none());
    /// let borrowed = tables.expected_shift(group, nitrile).expect("from a similar solvent");
    /// assert_eq!(borrowed.status, ShiftStatus::Borrowed);
    /// assert!(borrowed.u.value() > 0.05);
    /// ```
    #[must_use]
    pub fn expected_shift(&self, group: &Group, solvent: &NmrSolvent) -> Option<TableShift> {
        if let Some(known) = group.shift_in(solvent) {
            return Some(known.clone());
        }
        self.nmr_solvents()
            .iter()
            .filter_map(|other| Some((spread(solvent.family, other.family), group.shift_in(other)?)))
            .min_by(|(a, _), (b, _)| a.total_cmp(b))
            .map(|(spread, shift)| TableShift {
                status: ShiftStatus::Borrowed,
                u: Ppm(libm::hypot(spread, shift.u.value())),
                ..shift.clone()
            })
    }
}

fn spread(wanted: Family, given: Family) -> f64 {
    match (wanted, given) {
        _ if wanted == given => SAME_FAMILY,
        (Family::Aromatic, _) | (_, Family::Aromatic) => AROMATIC,
        _ => OTHER_FAMILY,
    }
}
