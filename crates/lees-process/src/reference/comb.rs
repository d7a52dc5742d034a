//! Lines split by deuterium: a quintet 1:2:3:2:1 or a triplet 1:1:1.

use lees_core::{Hertz, Ppm};

use super::lay::AGREES;
use super::trace::Trace;
use super::{ReferenceCandidate, ReferenceRole};
use crate::LineShape;

/// Widths tried, in common widths.
pub(super) const WIDTHS: [f64; 4] = [0.8, 1.0, 1.25, 1.6];
/// Spacings tried, in tabulated ones (DMSO-d5 measures 1.84 Hz in the files at hand, tables say 1.9).
const SPACINGS: [f64; 3] = [1.0, 0.965, 1.035];
/// A spacing of this many line widths shows as separate lines.
const SHOWS: f64 = 0.9;
/// Under this many line widths the pattern cannot be told from a line.
const HIDDEN: f64 = 0.3;
/// Rounds of least squares for the position, the first ones over points that agree roughly.
const ROUNDS: (usize, usize) = (2, 6);
/// Shares of the pattern's height within which a point agrees roughly, and well.
const WITHIN: (f64, f64) = (0.5, 0.2);

/// A pattern at one spacing, at several widths.
#[derive(Debug, Clone)]
pub(super) struct Comb {
    /// Distance of neighbouring lines, Hz.
    pub spacing: f64,
    /// Lines on each side of the middle one.
    pub sides: usize,
    /// Share of each line from the middle outward.
    pub shares: &'static [f64],
    /// For each width: its height at every half spacing from the middle outward, the middle line alone being one high.
    pub heights: Vec<Vec<f64>>,
    /// The least that the spectrum shows at each of these places where such a pattern stands, noise apart.
    pub floors: Vec<Vec<f64>>,
    /// The heights of its middle line alone.
    pub alone: Vec<Vec<f64>>,
    /// Its lines stand apart.
    pub apart: bool,
    shape: LineShape,
}

impl Comb {
    /// The patterns of a candidate, when it has one that can be told from a line at this width.
    pub(super) fn of(candidate: &ReferenceCandidate, trace: &Trace<'_>) -> Vec<Self> {
        let first = Self::spaced(candidate, SPACINGS[0], trace);
        // Merged lines do not tell their spacing.
        let others = if first.as_ref().is_some_and(|comb| comb.apart) { &SPACINGS[1..] } else { &[] };
        first
            .into_iter()
            .chain(others.iter().filter_map(|share| Self::spaced(candidate, *share, trace)))
            .collect()
    }

    fn spaced(candidate: &ReferenceCandidate, share: f64, trace: &Trace<'_>) -> Option<Self> {
        let residual = candidate.role == ReferenceRole::Residual;
        let tabulated = candidate.coupling?.0.abs();
        if !residual || tabulated < HIDDEN * trace.fwhm {
            return None;
        }
        let shares: &'static [f64] = match candidate.multiplicity.as_ref()?.partners()? {
            [4] => &[1.0, 2.0 / 3.0, 1.0 / 3.0],
            [2] => &[1.0, 1.0],
            _ => return None,
        };
        let spacing = share * tabulated;
        let mut comb = Self {
            spacing,
            sides: shares.len() - 1,
            shares,
            heights: Vec::new(),
            floors: Vec::new(),
            alone: Vec::new(),
            apart: tabulated > SHOWS * trace.fwhm,
            shape: trace.shape.clone(),
        };
        for width in WIDTHS {
            let places = (0..=2 * shares.len()).map(|m| 0.5 * m as f64 * spacing);
            let one = |away: f64| comb.line(width, away) / comb.line(width, 0.0);
            comb.alone.push(places.clone().map(one).collect());
            let heights: Vec<f64> = places.map(|away| comb.height(width, away)).collect();
            comb.floors.push(heights.iter().map(|h| (1.0 - AGREES.0) * h - AGREES.1 * heights[0]).collect());
            comb.heights.push(heights);
        }
        Some(comb)
    }

    fn line(&self, width: f64, away: f64) -> f64 {
        self.shape.value(Hertz(away), width)
    }

    /// Height of the pattern whose middle line alone is one high.
    fn height(&self, width: f64, away: f64) -> f64 {
        let one = |k: f64| self.line(width, away - k * self.spacing);
        let sum: f64 = self
            .shares
            .iter()
            .enumerate()
            .map(|(k, share)| share * if k == 0 { one(0.0) } else { one(k as f64) + one(-(k as f64)) })
            .sum();
        sum / self.line(width, 0.0)
    }

    /// Where the pattern lies best, by least squares over the points it agrees with, and the standard uncertainty.
    pub(super) fn settle(&self, trace: &Trace<'_>, place: f64, width: usize, scale: f64) -> (f64, f64) {
        let half = (self.sides as f64 + 0.5) * self.spacing / trace.field;
        let range = trace.axis.index_range(Ppm(place + half), Ppm(place - half));
        let model = |away: f64| self.height(WIDTHS[width], away);
        let step = 0.05 * trace.fwhm;
        let (mut shift, mut u, mut scale) = (place, f64::INFINITY, scale);
        for round in 0..ROUNDS.1 {
            let within = if round < ROUNDS.0 { WITHIN.0 } else { WITHIN.1 };
            let [mut yy, mut mm, mut sy, mut ss] = [0.0; 4];
            for index in range.clone() {
                let away = (shift - trace.axis.shift(index).0) * trace.field;
                let value = model(away);
                let rest = trace.values[index] - scale * value;
                if rest.abs() > 4.0 * trace.sigma + within * scale * value {
                    continue;
                }
                let slope = (model(away + step) - model(away - step)) / (2.0 * step);
                yy += value * trace.values[index];
                mm += value * value;
                sy += slope * rest;
                ss += slope * slope;
            }
            if ss <= 0.0 || yy <= 0.0 {
                return (place, f64::INFINITY);
            }
            let most = 0.3 * trace.fwhm;
            shift += (sy / ss / scale).clamp(-most, most) / trace.field;
            u = trace.colour * trace.sigma / (ss.sqrt() * scale) / trace.field;
            scale = yy / mm;
        }
        (shift, u)
    }
}
