//! A robust straight line through angles.

use std::f64::consts::TAU;

/// An angle measured at a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Angle {
    /// Where, in any unit.
    pub x: f64,
    /// The angle in radians, up to whole turns.
    pub angle: f64,
    /// Its standard uncertainty from noise, in radians.
    pub u: f64,
    /// A further uncertainty, in radians, of which only the ratios between angles are known.
    pub u_shape: f64,
}

impl Angle {
    /// Both uncertainties together, the second times `share`, at least `slack`.
    fn u_with(&self, share: f64, slack: f64) -> f64 {
        libm::hypot(libm::hypot(self.u, share * self.u_shape), slack)
    }
}

/// A straight line of angles, `at_pivot + slope (x - pivot)`.
#[derive(Debug, Clone, PartialEq)]
pub struct Straight {
    /// Angle at the pivot, radians.
    pub at_pivot: f64,
    /// Slope, radians per unit of `x`.
    pub slope: f64,
    /// Weighted mean of the places, where both parameters are uncorrelated.
    pub pivot: f64,
    /// Standard uncertainty of the angle at the pivot, radians.
    pub u_at_pivot: f64,
    /// Standard uncertainty of the slope, radians per unit of `x`; zero when it was held.
    pub u_slope: f64,
    /// What each angle is off the line, radians within half a turn.
    pub residuals: Vec<f64>,
    /// Whether each angle counted.
    pub used: Vec<bool>,
}

/// Angles are taken as at least this uncertain in the search, so that one very strong line cannot outvote the
/// others, in radians (3 degrees).
const SEARCH_U: f64 = 0.05;
/// Angles further off than this many uncertainties count for nothing (Tukey's biweight; 4.685 gives 95 %
/// efficiency for normal errors).
const BIWEIGHT: f64 = 4.685;
/// Median of a normal's modulus, in deviations.
const NORMAL_MEDIAN: f64 = 0.6745;
/// Rounds of re-weighting.
const ROUNDS: usize = 16;
/// The searched line is coarse, so angles count as more uncertain at first; that slack falls by this factor a round,
/// which lets the precise ones pull the line in before they are judged as precise.
const SLACK_FALL: f64 = 0.6;
/// Slopes tried per radian of the widest spread: 0.15 rad at the ends between neighbours.
const SEARCH_STEP: f64 = 0.15;
/// A slope of a whole `range` must explain this share more of the weight than none.
const STEEPNESS_PENALTY: f64 = 0.02;

/// Fits a straight line through angles, whole turns and outliers notwithstanding. The slope is searched within
/// `range` radians per unit on either side of zero, or held at zero when `range` is zero. `None` without angles.
///
/// ```
/// use lees_process::phase::{Angle, straight};
/// let angles: Vec<Angle> = [0.0, 0.2, 0.3, 0.7, 0.9].iter().map(|&x| Angle {
///     x, angle: (1.0 + 9.0 * x) % std::f64::consts::TAU, u: 0.01, u_shape: 0.0,
/// }).collect();
/// let line = straight(&angles, 12.0).expect("five angles");
/// assert!((line.slope - 9.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn straight(angles: &[Angle], range: f64) -> Option<Straight> {
    let start = search(angles, range)?;
    let mut line = start;
    for round in 0..ROUNDS {
        line = reweighted(angles, &line, range > 0.0, round)?;
    }
    Some(line)
}

/// The slope whose residual angles agree best.
fn search(angles: &[Angle], range: f64) -> Option<Straight> {
    let weights: Vec<f64> = angles.iter().map(|a| a.u_with(1.0, SEARCH_U).powi(-2)).collect();
    let total: f64 = weights.iter().sum();
    let pivot = angles.iter().zip(&weights).map(|(a, w)| a.x * w).sum::<f64>() / total;
    let widest = angles.iter().map(|a| (a.x - pivot).abs()).fold(0.0, f64::max);
    let steps = if widest > 0.0 { (range * widest / SEARCH_STEP).ceil() as i32 } else { 0 };
    let mut best = (f64::NEG_INFINITY, 0.0, 0.0);
    for step in -steps..=steps {
        let slope = if steps == 0 { 0.0 } else { range * f64::from(step) / f64::from(steps) };
        let (mut re, mut im) = (0.0, 0.0);
        for (a, w) in angles.iter().zip(&weights) {
            let (sin, cos) = libm::sincos(a.angle - slope * (a.x - pivot));
            re += w * cos;
            im += w * sin;
        }
        let steepness = if range > 0.0 { (slope / range).powi(2) } else { 0.0 };
        let score = libm::hypot(re, im) - STEEPNESS_PENALTY * total * steepness;
        if score > best.0 {
            best = (score, slope, libm::atan2(im, re));
        }
    }
    let (_, slope, at_pivot) = best;
    let none = Straight {
        at_pivot,
        slope,
        pivot,
        u_at_pivot: 0.0,
        u_slope: 0.0,
        residuals: Vec::new(),
        used: vec![true; angles.len()],
    };
    (!angles.is_empty() && total.is_finite())
        .then_some(Straight { residuals: residuals(angles, &none), ..none })
}

fn residuals(angles: &[Angle], line: &Straight) -> Vec<f64> {
    let off = |a: &Angle| a.angle - line.at_pivot - line.slope * (a.x - line.pivot);
    angles.iter().map(|a| wrapped(off(a))).collect()
}

/// An angle brought within half a turn.
pub(super) fn wrapped(angle: f64) -> f64 {
    angle - TAU * (angle / TAU).round()
}

/// One round of Tukey's biweight.
fn reweighted(angles: &[Angle], line: &Straight, free: bool, round: usize) -> Option<Straight> {
    let slack = SEARCH_U * SLACK_FALL.powi(round as i32);
    let share = shape_share(angles, &line.residuals, slack);
    let scatter = scatter(angles, &line.residuals, share, slack).max(1.0);
    let weight = |a: &Angle, r: f64| {
        let u = a.u_with(share, slack) * scatter;
        let z = r / (BIWEIGHT * u);
        if z.abs() < 1.0 { (1.0 - z * z).powi(2) / (u * u) } else { 0.0 }
    };
    let weights: Vec<f64> = angles.iter().zip(&line.residuals).map(|(a, &r)| weight(a, r)).collect();
    let total: f64 = weights.iter().sum();
    if total <= 0.0 {
        return None;
    }
    let pivot = angles.iter().zip(&weights).map(|(a, w)| a.x * w).sum::<f64>() / total;
    let moments = angles.iter().zip(&weights).zip(&line.residuals).fold((0.0, 0.0, 0.0), |m, ((a, w), r)| {
        let x = a.x - pivot;
        (m.0 + w * r, m.1 + w * x * x, m.2 + w * x * r)
    });
    let offset = moments.0 / total;
    let free = free && moments.1 > 0.0;
    let tilt = if free { moments.2 / moments.1 } else { 0.0 };
    let next = Straight {
        at_pivot: wrapped(line.at_pivot + line.slope * (pivot - line.pivot) + offset),
        slope: line.slope + tilt,
        pivot,
        u_at_pivot: total.sqrt().recip(),
        u_slope: if free { moments.1.sqrt().recip() } else { 0.0 },
        residuals: Vec::new(),
        used: weights.iter().map(|&w| w > 0.0).collect(),
    };
    Some(Straight { residuals: residuals(angles, &next), ..next })
}

/// Fewest angles with a large `u_shape` from which its true share is taken.
const LEAST_FOR_SHARE: usize = 5;
/// Least share of the shape's uncertainty.
const LEAST_SHARE: f64 = 0.02;

/// The share of the shape's uncertainty that accounts for the scatter of the angles it dominates.
fn shape_share(angles: &[Angle], residuals: &[f64], slack: f64) -> f64 {
    let ratio =
        |(a, r): (&Angle, &f64)| (a.u_shape > 2.0 * a.u).then(|| r.abs() / libm::hypot(a.u_shape, slack));
    let mut ratios: Vec<f64> = angles.iter().zip(residuals).filter_map(ratio).collect();
    if ratios.len() < LEAST_FOR_SHARE {
        return 1.0;
    }
    ratios.sort_by(f64::total_cmp);
    (ratios[ratios.len() / 2] / NORMAL_MEDIAN).clamp(LEAST_SHARE, 1.0)
}

/// How much wider than stated the residuals scatter, from their median.
fn scatter(angles: &[Angle], residuals: &[f64], share: f64, slack: f64) -> f64 {
    let mut sizes: Vec<f64> = angles
        .iter()
        .zip(residuals)
        .map(|(a, r)| r.abs() / a.u_with(share, slack).max(f64::MIN_POSITIVE))
        .collect();
    sizes.sort_by(f64::total_cmp);
    let freedom = sizes.len().saturating_sub(2).max(1) as f64 / sizes.len().max(1) as f64;
    let median = sizes.get(sizes.len() / 2).copied().unwrap_or(0.0) / NORMAL_MEDIAN;
    median / freedom.sqrt()
}
