//! The lines a sample should show in an NMR solvent.

use lees_core::{Multiplicity, Ppm, Product};
use lees_process::reference::{ReferenceCandidate, ReferenceRole};

use crate::table::{NmrSolvent, Tables};

/// Twice the scatter, in ppm, of a residual line and of TMS about their places.
const RESIDUAL_TOLERANCE: f64 = 0.02;
/// The same for exchanging residual lines (temperature, pH).
const EXCHANGING_TOLERANCE: f64 = 0.06;
/// The same for water.
const WATER_TOLERANCE: f64 = 0.14;
/// Room about a product signal, ppm.
const PRODUCT_ROOM: f64 = 0.02;

/// All known lines of a sample in a solvent.
pub(super) fn candidates(
    solvent: &NmrSolvent,
    product: Option<&Product>,
    tables: &Tables,
    temperature: Option<f64>,
) -> Vec<ReferenceCandidate> {
    let mut all = residual_lines(solvent, temperature);
    all.push(singlet("TMS", Ppm(0.0), RESIDUAL_TOLERANCE, ReferenceRole::Standard));
    let water_apart = solvent.residual.iter().any(|line| line.signal != "OH");
    if let Some(place) = solvent.water_at(temperature).filter(|_| water_apart) {
        all.push(singlet("water", place, WATER_TOLERANCE, ReferenceRole::Companion));
    }
    all.extend(silicone(solvent, tables));
    all.extend(product.iter().flat_map(|p| &p.signals).map(|signal| {
        let range = signal.range.widened(Ppm(PRODUCT_ROOM));
        let half = 0.5 * (range.high - range.low).0;
        singlet("product", range.centre(), half, ReferenceRole::Stretch)
    }));
    all
}

/// Residual lines; in alcohols and acids the exchanging one is water's and left to it.
fn residual_lines(solvent: &NmrSolvent, temperature: Option<f64>) -> Vec<ReferenceCandidate> {
    let only = solvent.residual.len() == 1;
    solvent
        .residual
        .iter()
        .filter(|line| line.signal != "OH" || only)
        .map(|line| {
            let exchanging = line.signal == "OH";
            let tolerance = if exchanging { EXCHANGING_TOLERANCE } else { RESIDUAL_TOLERANCE };
            let moved = solvent.water_at(temperature).filter(|_| exchanging);
            ReferenceCandidate {
                multiplicity: Some(line.multiplicity.clone()),
                coupling: line.j_hd,
                ..singlet(
                    &format!("{} in {}", line.species, solvent.name),
                    moved.unwrap_or(line.shift),
                    tolerance,
                    ReferenceRole::Residual,
                )
            }
        })
        .collect()
}

/// Silicone grease stands next to TMS and must not pass for it.
fn silicone(solvent: &NmrSolvent, tables: &Tables) -> Option<ReferenceCandidate> {
    let grease = tables.compounds().iter().find(|compound| compound.name.contains("silicone"))?;
    let place = grease.groups.first()?.shift_in(solvent)?.centre();
    Some(singlet("silicone grease", place, RESIDUAL_TOLERANCE, ReferenceRole::Occasional))
}

fn singlet(name: &str, expected: Ppm, tolerance: f64, role: ReferenceRole) -> ReferenceCandidate {
    ReferenceCandidate {
        name: name.to_owned(),
        expected,
        tolerance: Ppm(tolerance),
        multiplicity: "s".parse::<Multiplicity>().ok(),
        coupling: None,
        role,
    }
}
