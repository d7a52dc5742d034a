//! What could be at this shift, and where does this solvent show?

use lees_core::{Hertz, Multiplicity, Ppm};
use serde::Serialize;

use crate::table::{Class, Compound, NmrSolvent, ShiftStatus, Tables};

/// A tabulated signal near a shift.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Candidate {
    /// The compound, or the NMR solvent's residual species.
    pub name: String,
    /// The group, such as `CH3`.
    pub group: String,
    /// Lower end of the tabulated place.
    pub low: Ppm,
    /// Upper end of the tabulated place.
    pub high: Ppm,
    /// How far the wanted shift lies outside it; 0 within.
    pub distance: Ppm,
    /// Protons of the group; `None` for polymers and grease.
    pub protons: Option<u32>,
    /// Its pattern.
    pub multiplicity: Multiplicity,
    /// Coupling constants.
    pub couplings: Vec<Hertz>,
    /// How far the place can be trusted, in words.
    pub trust: String,
    /// A remark from the table.
    pub note: String,
}

/// Search radius when none is given, ppm (tables hold to 0.02 when dilute; concentration adds).
pub const RADIUS: Ppm = Ppm(0.06);

/// Signals within `radius` of a shift, nearest first; among equally near ones the commoner compound first.
///
/// ```
/// use lees_core::Ppm;
/// use lees_match::{lookup, table::Tables};
/// let tables = Tables::bundled();
/// let solvent = tables.nmr_solvent("CDCl3").expect("known");
/// let found = lookup::at_shift(tables, Ppm(5.31), solvent, lookup::RADIUS);
/// assert_eq!(found[0].name, "dichloromethane");
/// ```
#[must_use]
pub fn at_shift(tables: &Tables, shift: Ppm, solvent: &NmrSolvent, radius: Ppm) -> Vec<Candidate> {
    let mut found: Vec<(f64, Candidate)> = residual(solvent).map(|line| (1.0, line)).collect();
    for compound in tables.compounds().iter().filter(|compound| !hidden(compound, solvent)) {
        found.extend(of_compound(compound, solvent).into_iter().map(|line| (compound.prior(), line)));
    }
    for (_, line) in &mut found {
        line.distance = Ppm((line.low.0 - shift.0).max(shift.0 - line.high.0).max(0.0));
    }
    found.retain(|(_, line)| line.distance.0 <= radius.0 + 1e-9);
    let hundredths = |line: &Candidate| (line.distance.0 * 100.0).round();
    found.sort_by(|(prior_a, a), (prior_b, b)| {
        hundredths(a).total_cmp(&hundredths(b)).then(prior_b.total_cmp(prior_a)).then(a.name.cmp(&b.name))
    });
    found.into_iter().map(|(_, line)| line).collect()
}

/// Whether a compound is already named as the NMR solvent's residual line.
fn hidden(compound: &Compound, solvent: &NmrSolvent) -> bool {
    let own = solvent.protio.as_deref() == Some(compound.name.as_str());
    own && matches!(solvent.name.as_str(), "CDCl3" | "D2O")
}

/// Where a compound shows in an NMR solvent; exchanging protons without a place are left out.
///
/// ```
/// use lees_match::{lookup, table::Tables};
/// let tables = Tables::bundled();
/// let (alcohol, solvent) = (tables.compound("IPA").expect("known"), tables.nmr_solvent("CDCl3").expect("known"));
/// let lines = lookup::of_compound(alcohol, solvent);
/// assert!(lines.iter().any(|line| line.group == "CH" && line.low.0 == 4.04), "the septet");
/// ```
#[must_use]
pub fn of_compound(compound: &Compound, solvent: &NmrSolvent) -> Vec<Candidate> {
    let lines = compound.groups.iter().filter_map(|group| {
        let shift = group.shift_in(solvent)?;
        Some(Candidate {
            name: compound.name.clone(),
            group: group.name.clone(),
            low: shift.low,
            high: shift.high,
            distance: Ppm(0.0),
            protons: group.protons,
            multiplicity: group.multiplicity.clone(),
            couplings: group.couplings.clone(),
            trust: trust(shift.status, compound.class).to_owned(),
            note: group.note.clone(),
        })
    });
    lines.collect()
}

/// The residual lines of an NMR solvent.
fn residual(solvent: &NmrSolvent) -> impl Iterator<Item = Candidate> + '_ {
    solvent.residual.iter().map(|line| Candidate {
        name: format!("{} in {}", line.species, solvent.name),
        group: line.signal.clone(),
        low: line.shift,
        high: line.shift,
        distance: Ppm(0.0),
        protons: Some(line.protons),
        multiplicity: line.multiplicity.clone(),
        couplings: line.j_hd.into_iter().collect(),
        trust: "residual line of the NMR solvent".to_owned(),
        note: String::new(),
    })
}

fn trust(status: ShiftStatus, class: Class) -> &'static str {
    match (status, class) {
        (_, Class::Water) => "moves with concentration, temperature and solutes",
        (ShiftStatus::TwoReprints, _) => "seen in two reprints of the published table",
        (ShiftStatus::OneReprint, _) => "seen in one reprint of the published table",
        (ShiftStatus::Memory, _) => "from memory",
        (ShiftStatus::Doubtful, _) => "printed value thought wrong, replaced",
        (ShiftStatus::Definition, _) => "by definition",
        (ShiftStatus::Borrowed, _) => "borrowed from another NMR solvent",
        (ShiftStatus::User, _) => "from your own table",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_residual_line_comes_first_in_its_place() {
        let tables = Tables::bundled();
        let solvent = tables.nmr_solvent("CDCl3").unwrap();
        let found = at_shift(tables, Ppm(7.26), solvent, RADIUS);
        assert_eq!(found[0].name, "CHCl3 in CDCl3");
        assert!(!found.iter().any(|line| line.name == "chloroform"));
        assert!(found.iter().any(|line| line.name == "toluene"));
        let methanol = tables.nmr_solvent("CD3OD").unwrap();
        let found = at_shift(tables, Ppm(3.31), methanol, RADIUS);
        assert_eq!(found[0].name, "CHD2OD in CD3OD");
        assert!(found.iter().any(|line| line.name == "methanol"), "CH3OH at 3.34");
    }

    #[test]
    fn ranges_count_as_places() {
        let tables = Tables::bundled();
        let solvent = tables.nmr_solvent("CD3CN").unwrap();
        let found = at_shift(tables, Ppm(7.22), solvent, Ppm(0.01));
        assert!(found.iter().any(|line| line.name == "toluene" && line.distance == Ppm(0.0)));
    }

    /// The printed 1.50 of 2-propanol in CD3OD must not mislead.
    #[test]
    fn doubtful_places_are_looked_up_where_they_are_matched() {
        let tables = Tables::bundled();
        let solvent = tables.nmr_solvent("CD3OD").unwrap();
        let names = |shift: f64| -> Vec<String> {
            at_shift(tables, Ppm(shift), solvent, Ppm(0.02)).into_iter().map(|line| line.name).collect()
        };
        assert!(!names(1.50).contains(&"2-propanol".to_owned()));
        assert!(names(1.15).contains(&"2-propanol".to_owned()));
    }
}
