//! The NMR solvent's own lines and water.

use lees_core::{Hertz, Megahertz, Multiplicity, Ppm};
use lees_spin::{PartnerSpin, SpinSystem};

use super::{Pattern, PatternGroup, Role};
use crate::fit::template::Stick;
use crate::table::{NmrSolvent, ResidualLine};

/// Spread of a residual line about its tabulated place once the axis is referenced to one of them.
const RESIDUAL_SPREAD: Ppm = Ppm(0.003);

/// The residual species' lines: one pattern for each, since their amounts differ.
pub(crate) fn of_residual(solvent: &NmrSolvent, field: Megahertz) -> Vec<Pattern> {
    solvent
        .residual
        .iter()
        .filter(|line| line.signal != "OH")
        .map(|line| Pattern {
            compound: None,
            name: format!("{} in {}", line.species, solvent.name),
            role: Role::Residual,
            prior: 3.0,
            slow_exchange: false,
            groups: vec![group(line, field)],
        })
        .collect()
}

fn group(line: &ResidualLine, field: Megahertz) -> PatternGroup {
    let sticks = line.j_hd.filter(|_| line.deuterons > 0).map_or_else(
        || vec![Stick { offset: 0.0, share: 1.0 }],
        |j| deuterium_sticks(line.deuterons, j, field),
    );
    PatternGroup {
        name: line.signal.clone(),
        protons: f64::from(line.protons),
        multiplicity: line.multiplicity.clone(),
        expected: line.shift,
        spread: RESIDUAL_SPREAD,
        sticks,
        resolved: true,
        exact: true,
        rough: false,
        exchangeable: false,
        doubt: None,
        drawn: std::sync::OnceLock::new(),
        crowd: std::sync::OnceLock::new(),
    }
}

/// 1:1:1 for one deuteron, 1:2:3:2:1 for two.
fn deuterium_sticks(deuterons: u8, j: Hertz, field: Megahertz) -> Vec<Stick> {
    let mut system = SpinSystem::default();
    let proton = system.add("H", Ppm(0.0), 1);
    system.split(proton, PartnerSpin::One, u32::from(deuterons), j);
    system
        .transitions(field)
        .iter()
        .map(|line| Stick { offset: -line.shift.0 * field.0, share: line.intensity })
        .collect()
}

/// Water as a single line, whose place is only roughly known.
pub(crate) fn of_water(solvent: &NmrSolvent, temperature_k: Option<f64>) -> Option<Pattern> {
    let expected = solvent.water_at(temperature_k)?;
    let group = PatternGroup {
        name: "OH".to_owned(),
        protons: 2.0,
        multiplicity: Multiplicity::singlet(),
        expected,
        spread: Ppm(0.05),
        sticks: vec![Stick { offset: 0.0, share: 1.0 }],
        resolved: true,
        exact: true,
        rough: false,
        exchangeable: true,
        doubt: None,
        drawn: std::sync::OnceLock::new(),
        crowd: std::sync::OnceLock::new(),
    };
    Some(Pattern {
        compound: None,
        name: "water".to_owned(),
        role: Role::Water,
        prior: 2.0,
        slow_exchange: false,
        groups: vec![group],
    })
}
