//! Patterns to first order: every partner splits on its own.

use crate::PartnerSpin;
use crate::component::{Component, RawLine};
use crate::manifold::projections;

/// Neighbouring lines of a growing pattern closer than this (Hz) are one line; keeps large patterns small.
const SAME_LINE: f64 = 0.01;

/// All lines of a component, roof effects neglected.
pub(crate) fn lines(part: &Component) -> Vec<RawLine> {
    (0..part.groups.len()).flat_map(|at| group_lines(part, at)).collect()
}

fn group_lines(part: &Component, at: usize) -> Vec<RawLine> {
    let inside = (0..part.groups.len())
        .filter(|&other| other != at)
        .map(|other| (part.couplings[at][other], projections(PartnerSpin::Half, part.protons[other])));
    let outside = part.partners.iter().map(|p| (p.couplings[at], projections(p.spin, p.count)));
    let mut pattern = vec![(part.frequencies[at], f64::from(part.protons[at]))];
    for (coupling, rows) in inside.chain(outside).filter(|(coupling, _)| *coupling != 0.0) {
        pattern = collapse(
            pattern
                .iter()
                .flat_map(|&(f, weight)| {
                    rows.iter().map(move |(m, share)| (f + m * coupling, weight * share))
                })
                .collect(),
        );
    }
    let group = part.groups[at];
    pattern.into_iter().map(|(frequency, intensity)| RawLine { frequency, intensity, group }).collect()
}

fn collapse(mut pattern: Vec<(f64, f64)>) -> Vec<(f64, f64)> {
    pattern.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut out: Vec<(f64, f64)> = Vec::new();
    for (frequency, weight) in pattern {
        match out.last_mut() {
            Some(last) if frequency - last.0 < SAME_LINE => {
                let sum = last.1 + weight;
                last.0 += (frequency - last.0) * weight / sum;
                last.1 = sum;
            }
            _ => out.push((frequency, weight)),
        }
    }
    out
}
