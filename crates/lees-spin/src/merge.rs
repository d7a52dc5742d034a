//! Merging coincident lines and dropping the faintest.

use lees_core::{Hertz, Megahertz};

use crate::Transition;
use crate::component::RawLine;

/// Lines of one group closer than this (Hz) are one: a hundredth of the sharpest line width met in practice.
const COINCIDENT: f64 = 0.002;

/// Lines under this share of all protons are dropped: a hundredth of the faintest content of interest (0.01 %).
const FAINTEST: f64 = 1e-6;

/// Merged lines by falling frequency, scaled to sum to `protons`.
pub(crate) fn merge(mut lines: Vec<RawLine>, protons: f64) -> Vec<RawLine> {
    lines.sort_by(|a, b| a.group.cmp(&b.group).then(b.frequency.total_cmp(&a.frequency)));
    let mut merged: Vec<RawLine> = Vec::new();
    let mut start = f64::INFINITY;
    for line in lines {
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
