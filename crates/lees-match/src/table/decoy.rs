//! Compounds that do not exist: what is named of them tells how often a name is chance.

use lees_core::Ppm;
use sha2::{Digest, Sha256};

use super::{Class, Compound, Group};

/// What the names of decoys begin with.
const PREFIX: &str = "decoy of ";
/// A decoy's groups stand this far from those of the compound it is made from, in ppm: further than any tolerance, near enough
/// to stay among signals of its kind.
const DISPLACEMENT: (f64, f64) = (0.08, 0.38);

/// The compound a name stands for: a decoy's own, or the name itself.
pub(crate) fn stem(name: &str) -> &str {
    name.strip_prefix(PREFIX).unwrap_or(name)
}

/// Whether a name is a decoy's.
pub(super) fn is_decoy(name: &str) -> bool {
    name.starts_with(PREFIX)
}

/// A decoy of each volatile: the same protons, patterns and couplings, each group at another place.
pub(super) fn decoys(compounds: &[Compound], seed: u64) -> Vec<Compound> {
    compounds
        .iter()
        .filter(|c| c.class == Class::Volatile && !is_decoy(&c.name))
        .map(|c| of(c, seed))
        .collect()
}

fn of(compound: &Compound, seed: u64) -> Compound {
    let mut decoy = compound.clone();
    decoy.name = format!("{PREFIX}{}", compound.name);
    decoy.aliases.clear();
    decoy.ich = None;
    for group in &mut decoy.groups {
        displace(group, &compound.name, seed);
    }
    decoy
}

fn displace(group: &mut Group, compound: &str, seed: u64) {
    let digest = Sha256::digest(format!("{seed}/{compound}/{}", group.name));
    let unit = f64::from(u16::from_be_bytes([digest[0], digest[1]])) / f64::from(u16::MAX);
    let (least, most) = DISPLACEMENT;
    let sign = if digest[2] & 1 == 0 { 1.0 } else { -1.0 };
    let by = sign * (least + unit * (most - least));
    for place in group.cells.iter_mut().filter_map(|cell| cell.matched.as_mut()) {
        place.low = Ppm(place.low.0 + by);
        place.high = Ppm(place.high.0 + by);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::table::Tables;

    #[test]
    fn every_place_of_a_decoy_is_moved_as_a_whole_and_to_either_side() {
        let compounds = Tables::bundled().compounds();
        let (mut up, mut down) = (0, 0);
        for decoy in decoys(compounds, 1) {
            let own = compounds.iter().find(|c| c.name == stem(&decoy.name)).expect("made from one");
            for (moved, group) in decoy.groups.iter().zip(&own.groups) {
                for (a, b) in moved.cells.iter().zip(&group.cells) {
                    let (Some(a), Some(b)) = (&a.matched, &b.matched) else { continue };
                    let by = a.low.0 - b.low.0;
                    assert!((a.high.0 - b.high.0 - by).abs() < 1e-9, "{}: {a:?} of {b:?}", decoy.name);
                    assert!((DISPLACEMENT.0..=DISPLACEMENT.1).contains(&by.abs()), "{}: {by}", decoy.name);
                    *if by > 0.0 { &mut up } else { &mut down } += 1;
                }
            }
        }
        assert!(up > 0 && down > 0, "{up} up, {down} down");
    }
}
