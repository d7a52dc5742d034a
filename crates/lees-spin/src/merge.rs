//! Merging coincident lines and dropping the faintest.

use lees_core::{Hertz, Megahertz};

use crate::Transition;
use crate::component::RawLine;

/// Lines of one group closer than this (Hz) are one: a hundredth of the sharpest line width met in practice.
const COINCIDENT: f64 = 0.002;

/// Lines under this share of all protons are dropped: a hundredth of the faintest content of interest (0.01 %).
const FAINTEST: f64 = 1e-6;

/// Merged lines by falling frequency, scaled to sum to `protons`.
pub(crate) fn merge(lines: &[RawLine], protons: f64) -> Vec<RawLine> {
    let mut merged: Vec<RawLine> = Vec::new();
    let mut start = f64::INFINITY;
    for line in sorted(lines) {
        match merged.last_mut() {
            Some(last) if last.group == line.group && start - line.frequency < COINCIDENT => {
                let sum = last.intensity + line.intensity;
                last.frequency += (line.frequency - last.frequency) * line.intensity / sum;
                last.intensity = sum;
            }
            _ => {
                start = line.frequency;
                merged.push(line);
            }
        }
    }
    merged.retain(|line| line.intensity >= FAINTEST * protons);
    merged.sort_by(|a, b| b.frequency.total_cmp(&a.frequency));
    let kept: f64 = merged.iter().map(|line| line.intensity).sum();
    merged.iter_mut().for_each(|line| line.intensity *= protons / kept);
    merged
}

/// The lines by group and falling frequency, those of equal frequency as they came.
fn sorted(lines: &[RawLine]) -> impl Iterator<Item = RawLine> {
    let groups = lines.iter().map(|line| line.group + 1).max().unwrap_or(0);
    let mut each: Vec<Vec<(i64, f64)>> = vec![Vec::new(); groups];
    for line in lines {
        each[line.group].push((rank(line.frequency.to_bits().cast_signed()), line.intensity));
    }
    each.into_iter().enumerate().flat_map(|(group, mut lines)| {
        lines.sort_by_key(|line| std::cmp::Reverse(line.0));
        let line = move |(rank_of, intensity)| {
            let frequency = f64::from_bits(rank(rank_of).cast_unsigned());
            RawLine { frequency, intensity, group }
        };
        lines.into_iter().map(line)
    })
}

/// From the bits of a number to a whole number that rises with it, and back: of negative ones all bits but the sign are turned, as
/// [`f64::total_cmp`] does.
const fn rank(bits: i64) -> i64 {
    bits ^ ((bits >> 63) & i64::MAX)
}

/// Lines on the shift scale.
pub(crate) fn transitions(lines: &[RawLine], field: Megahertz) -> Vec<Transition> {
    lines
        .iter()
        .map(|line| Transition {
            shift: Hertz(line.frequency).to_ppm(field),
            intensity: line.intensity,
            group: line.group,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_sorted_by_group_and_falling_frequency() {
        let frequencies = [3.0, -0.0, -7.5, 0.0, 2e9, f64::MIN_POSITIVE, -1e-3, 3.0];
        let lines: Vec<RawLine> = frequencies
            .into_iter()
            .enumerate()
            .map(|(k, frequency)| RawLine { frequency, intensity: k as f64, group: k % 2 })
            .collect();
        let mut expected = lines.clone();
        expected.sort_by(|a, b| a.group.cmp(&b.group).then(b.frequency.total_cmp(&a.frequency)));
        let key = |line: &RawLine| (line.group, line.frequency.to_bits(), line.intensity);
        assert!(sorted(&lines).map(|line| key(&line)).eq(expected.iter().map(key)));
    }
}
