//! Which regions are worth a closer look.

use lees_core::check::Check;
use lees_core::{Ppm, ShiftRange};

use super::mark::{Kind, all as marks, numbered};
use super::sample::highest;

/// A signal is weak when it reaches less than this share of the figure's height.
const WEAK: f64 = 0.12;
/// Under so many times the noise there is nothing to see in an enlargement.
const VISIBLE: f64 = 5.0;
/// Space on both sides of a weak signal, in ppm.
const WEAK_MARGIN: f64 = 0.07;
/// Weak signals nearer than this share a window, in ppm.
const WEAK_GAP: f64 = 0.12;
/// Product signals nearer than this are neighbours, in ppm.
const NEIGHBOUR_GAP: f64 = 0.4;
/// So many neighbours make a crowd.
const CROWD: usize = 4;
/// Space on both sides of a crowd, in ppm.
const CROWD_MARGIN: f64 = 0.06;
/// Height of the inset over the tallest signal of interest in it.
const HEADROOM: f64 = 1.25;

/// An enlarged stretch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Inset {
    pub(super) range: ShiftRange,
    /// Intensity at the top.
    pub(super) full: f64,
}

/// At most `most` windows: a weak volatile, crowds, further weak volatiles, weak unexplained signals; highest shift first.
pub(super) fn automatic(check: &Check, range: ShiftRange, full: f64, most: usize) -> Vec<Inset> {
    let mut volatiles = weak(check, range, full, Kind::Volatile).into_iter();
    let mut found: Vec<Inset> = volatiles.next().into_iter().collect();
    found.extend(crowds(check, range));
    found.extend(volatiles);
    found.extend(weak(check, range, full, Kind::Unexplained));
    let mut chosen: Vec<Inset> = Vec::new();
    for inset in found {
        if chosen.len() < most && !chosen.iter().any(|c| c.range.overlaps(&inset.range)) {
            chosen.push(inset);
        }
    }
    chosen.sort_by(|a, b| b.range.high.0.total_cmp(&a.range.high.0));
    chosen
}

/// The stretch as asked for, as tall as its tallest signal of interest.
pub(super) fn of_range(check: &Check, range: ShiftRange) -> Inset {
    let signals = marks(check, range).into_iter().filter(|m| m.kind != Kind::NotCounted).map(|m| m.range);
    let product = numbered(check, range).into_iter().map(|n| n.range);
    let tallest = signals.chain(product).filter_map(|r| highest(&check.spectrum, r)).reduce(f64::max);
    let full = tallest.or_else(|| highest(&check.spectrum, range)).unwrap_or(1.0);
    Inset { range, full: full.max(6.0 * check.noise) * HEADROOM }
}

/// Windows round weak signals, those with most signals first.
fn weak(check: &Check, range: ShiftRange, full: f64, kind: Kind) -> Vec<Inset> {
    let mut windows: Vec<(ShiftRange, f64, usize)> = Vec::new();
    for mark in marks(check, range).iter().filter(|m| m.kind == kind && !m.hidden) {
        let worth = |top: &f64| *top < WEAK * full && *top > VISIBLE * check.noise;
        let Some(top) = highest(&check.spectrum, mark.range).filter(worth) else { continue };
        match windows.last_mut().filter(|w| w.0.low.0 - mark.range.high.0 < WEAK_GAP) {
            Some(last) => {
                *last = (join(last.0, mark.range), last.1.max(top), last.2 + 1);
            }
            None => windows.push((mark.range, top, 1)),
        }
    }
    windows.sort_by_key(|w| std::cmp::Reverse(w.2));
    let inset = |(range, top, _): (ShiftRange, f64, usize)| Inset {
        range: range.widened(Ppm(WEAK_MARGIN)),
        full: top.max(6.0 * check.noise) * HEADROOM,
    };
    windows.into_iter().map(inset).collect()
}

/// Stretches where product signals stand close, the largest crowd first.
fn crowds(check: &Check, range: ShiftRange) -> Vec<Inset> {
    let mut groups: Vec<(ShiftRange, usize)> = Vec::new();
    for signal in numbered(check, range) {
        match groups.last_mut().filter(|g| g.0.low.0 - signal.range.high.0 < NEIGHBOUR_GAP) {
            Some(last) => *last = (join(last.0, signal.range), last.1 + 1),
            None => groups.push((signal.range, 1)),
        }
    }
    groups.retain(|g| g.1 >= CROWD);
    groups.sort_by_key(|g| std::cmp::Reverse(g.1));
    groups.into_iter().map(|g| of_range(check, g.0.widened(Ppm(CROWD_MARGIN)))).collect()
}

fn join(a: ShiftRange, b: ShiftRange) -> ShiftRange {
    ShiftRange { high: Ppm(a.high.0.max(b.high.0)), low: Ppm(a.low.0.min(b.low.0)) }
}
