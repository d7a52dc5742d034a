//! Signals of the standard that are not integrated, kept from being taken for anything else.

use lees_core::Ppm;

use super::find::{Cluster, aside};
use crate::fit::scene::Scene;
use crate::product::Region;
use crate::table::{NmrSolvent, Standard};

/// Shifts move this far with concentration, in ppm.
const SLACK: f64 = 0.06;
/// Such signals have at most this share over the area that their protons should have.
const MOST_SHARE: f64 = 1.2;
/// This near to a line of the NMR solvent, in ppm, a line is the NMR solvent's.
const SOLVENT: f64 = 0.03;

/// Sets the lines aside that lie where the standard has signals not fit for integration, largest first, as far as their
/// area goes with that of its other signals. Where the product has signals of its own, they stay.
pub(super) fn set_aside(
    scene: &mut Scene<'_>,
    standard: &Standard,
    solvent: &NmrSolvent,
    clusters: &[Cluster],
    occupied: &[Region],
    per_proton: f64,
) {
    for signal in standard.signals.iter().filter(|signal| !signal.quantify) {
        let places = signal.shifts_in(&solvent.name).unwrap_or_default();
        let low = places.iter().map(|place| place.0).fold(f64::INFINITY, f64::min) - SLACK;
        let high = places.iter().map(|place| place.0).fold(f64::NEG_INFINITY, f64::max) + SLACK;
        let inside = |c: &&Cluster| {
            let shift = scene.shift(c.centre).0;
            let near = |line: Ppm| (line.0 - shift).abs() < SOLVENT;
            let solvents =
                solvent.residual.iter().any(|line| near(line.shift)) || solvent.water.is_some_and(near);
            (low..=high).contains(&shift) && !solvents && !c.overlaps(occupied)
        };
        let mut own: Vec<&Cluster> = clusters.iter().filter(inside).collect();
        own.sort_by(|a, b| b.area.total_cmp(&a.area));
        let mut room = MOST_SHARE * per_proton * f64::from(signal.protons);
        for cluster in own {
            if cluster.area <= room {
                room -= cluster.area;
                aside(scene, cluster);
            }
        }
    }
}
