//! Spin systems of the tables' compounds.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use lees_core::{Hertz, Megahertz, Ppm};
use lees_spin::{SpinSystem, Transition};

use crate::table::{Compound, stem};

const BUNDLED: &str = include_str!("../../../../reference-tables/spin_systems.csv");

/// One set of equivalent protons of a system.
#[derive(Debug, Clone)]
pub(super) struct Spin {
    /// Its letter.
    pub label: String,
    /// The table group it belongs to.
    pub group: String,
    /// How many protons.
    pub protons: u32,
    /// Offset from the group's tabulated shift.
    pub offset: f64,
    /// Couplings by the other spin's letter, in hertz.
    pub couplings: Vec<(String, f64)>,
}

/// All systems by compound name.
static SYSTEMS: LazyLock<BTreeMap<String, Vec<Spin>>> = LazyLock::new(|| read(BUNDLED));

/// The spins of a compound; empty when the table has none.
pub(super) fn of(compound: &str) -> &'static [Spin] {
    SYSTEMS.get(compound).map_or(&[], Vec::as_slice)
}

/// Whether a group's protons couple with protons that exchange.
pub(super) fn couples_to_exchangeable(compound: &Compound, group: &str) -> bool {
    let spins = of(stem(&compound.name));
    let exchanges = |label: &str| {
        let partner = spins.iter().find(|spin| spin.label == label);
        partner.and_then(|spin| compound.group(&spin.group)).is_some_and(|group| group.exchangeable)
    };
    spins.iter().any(|spin| spin.group == group && spin.couplings.iter().any(|(label, _)| exchanges(label)))
}

/// Rows that cannot be read are left out; a test proves that the bundled table has none.
fn read(text: &str) -> BTreeMap<String, Vec<Spin>> {
    let mut systems: BTreeMap<String, Vec<Spin>> = BTreeMap::new();
    for record in csv::Reader::from_reader(text.as_bytes()).into_records().flatten() {
        if let Some((compound, spin)) = row(&record) {
            systems.entry(compound).or_default().push(spin);
        }
    }
    systems
}

fn row(record: &csv::StringRecord) -> Option<(String, Spin)> {
    let couplings = record
        .get(5)?
        .split(';')
        .filter(|part| !part.is_empty())
        .map(|part| {
            let (label, j) = part.split_once(':')?;
            Some((label.to_owned(), j.parse().ok()?))
        })
        .collect::<Option<Vec<_>>>()?;
    let spin = Spin {
        label: record.get(1)?.to_owned(),
        group: record.get(2)?.to_owned(),
        protons: record.get(3)?.parse().ok()?,
        offset: record.get(4)?.parse().ok()?,
        couplings,
    };
    Some((record.get(0)?.to_owned(), spin))
}

/// Lines of a system at a field; `shift` gives each table group's shift. Spins of groups without a shift (protons
/// that exchange fast) are left out. The result pairs each line with the table group's name.
pub(super) fn lines(
    spins: &[Spin],
    field: Megahertz,
    shift: impl Fn(&str) -> Option<Ppm>,
) -> Vec<(&str, Transition)> {
    let present: Vec<&Spin> = spins.iter().filter(|spin| shift(&spin.group).is_some()).collect();
    let mut system = SpinSystem::default();
    for spin in &present {
        let centre = shift(&spin.group).map_or(0.0, |s| s.0);
        system.add(&spin.label, Ppm(centre + spin.offset), spin.protons);
    }
    for (a, spin) in present.iter().enumerate() {
        for (label, j) in &spin.couplings {
            if let Some(b) = present.iter().position(|other| &other.label == label) {
                system.couple(a, b, Hertz(*j));
            }
        }
    }
    system.transitions(field).into_iter().map(|t| (present[t.group].group.as_str(), t)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::table::Tables;

    #[test]
    fn every_row_is_read_and_names_a_group_of_the_tables() {
        let rows = BUNDLED.lines().filter(|l| !l.is_empty()).count() - 1;
        assert_eq!(SYSTEMS.values().map(Vec::len).sum::<usize>(), rows);
        let tables = Tables::bundled();
        for (name, spins) in SYSTEMS.iter() {
            let compound = tables.compound(name).unwrap_or_else(|| panic!("{name} is in no table"));
            for spin in spins {
                assert!(compound.group(&spin.group).is_some(), "{name} has no group {}", spin.group);
                let known = |label: &String| spins.iter().any(|s| &s.label == label);
                assert!(spin.couplings.iter().all(|(label, _)| known(label)), "{name} {}", spin.label);
            }
            shares_agree(compound, spins);
        }
    }

    /// All groups of a system stand for the same share of the molecule (a half, a third).
    fn shares_agree(compound: &crate::table::Compound, spins: &[Spin]) {
        let mut ratios = Vec::new();
        for group in &compound.groups {
            let inside: u32 = spins.iter().filter(|s| s.group == group.name).map(|s| s.protons).sum();
            if let (Some(all), true) = (group.protons, inside > 0) {
                ratios.push(f64::from(all) / f64::from(inside));
            }
        }
        assert!(ratios.windows(2).all(|w| (w[0] - w[1]).abs() < 1e-9), "{}: {ratios:?}", compound.name);
    }
}
