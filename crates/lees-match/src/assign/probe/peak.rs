//! The resolved peaks of a group, drawn with the spectrum's own line.

use std::ops::Range;
use std::sync::OnceLock;

use crate::fit::scene::Scene;
use crate::fit::template::{Pose, SAME_STICK, Stick, merge, trace};
use crate::pattern::PatternGroup;
use lees_process::{correlate, dot};

/// Sticks closer than this many widths make one peak: fitted lines closer than that are not told apart.
const PEAK_WIDTHS: f64 = 1.6;
/// ... and closer than this in hertz: small couplings in tables are too rough to tell such peaks apart.
const PEAK_HZ: f64 = 2.5;
/// Peaks under this share of the tallest are not looked for one by one.
const FAINT_PEAK: f64 = 0.06;
/// Points are looked at this many widths beyond a peak's outer sticks.
const MARGIN_WIDTHS: f64 = 1.3;

/// A resolved peak of a group.
#[derive(Debug, Clone)]
pub(crate) struct Peak {
    /// First and last stick, from the group's centre.
    pub(in crate::assign) from: f64,
    pub(in crate::assign) to: f64,
    /// Its sticks from its centre; their shares sum to its protons.
    pub(super) sticks: Vec<Stick>,
    pub(in crate::assign) protons: f64,
    kernel: OnceLock<Kernel>,
}

/// A peak drawn for measuring.
#[derive(Debug, Clone)]
pub(super) struct Kernel {
    /// Points from the start of the drawn stretch to the centre of the peak.
    lead: usize,
    /// By strides of points: what their sums are multiplied with to give an amount. The peak less its mean over the stretch, so
    /// that a level baseline does not count.
    values: Vec<f64>,
    /// Standard deviation of the measured amount per unit point noise.
    pub(super) noise: f64,
    /// Height of the peak per unit amount.
    pub(super) height: f64,
}

impl Peak {
    /// The peak as drawn; once, since a pattern is only ever compared with one spectrum, and not before it is measured, since those
    /// of crowded multiplets never are.
    pub(super) fn kernel(&self, scene: &Scene<'_>) -> &Kernel {
        self.kernel.get_or_init(|| Kernel::of(scene, self))
    }

    /// Index of the point nearest to the peak's centre.
    pub(super) fn centre(&self, scene: &Scene<'_>, at: f64) -> i64 {
        ((at + (self.from + self.to) / 2.0) / scene.hz).round() as i64
    }
}

impl Kernel {
    fn of(scene: &Scene<'_>, peak: &Peak) -> Self {
        let span = (peak.to - peak.from) / 2.0;
        let half = ((span + MARGIN_WIDTHS * scene.width) / scene.hz).ceil().max(2.0) as usize;
        let beside = half.saturating_sub(scene.stride / 2).div_ceil(scene.stride);
        let lead = beside * scene.stride + scene.stride / 2;
        let pose = Pose { at: lead as f64 * scene.hz, stretch: 1.0, factor: 1.0 };
        let points = (2 * beside + 1) * scene.stride;
        let shape = trace(&scene.shape, &peak.sticks, pose, scene.hz, 0..points);
        let sums: Vec<f64> = shape.chunks(scene.stride).map(|stride| stride.iter().sum()).collect();
        let mean = sums.iter().sum::<f64>() / sums.len() as f64;
        let mut values: Vec<f64> = sums.iter().map(|sum| sum - mean).collect();
        let scale = dot(&values, &sums).max(f64::MIN_POSITIVE).recip();
        values.iter_mut().for_each(|value| *value *= scale);
        let height = shape.iter().copied().fold(0.0, f64::max);
        Self { lead, noise: scene.strides_sd(&values), height, values }
    }

    /// Standard uncertainty of an amount measured about a point, by noise and by what the fitted lines may be wrong by there.
    #[inline]
    pub(super) fn noise_at(&self, scene: &Scene<'_>, centre: usize) -> f64 {
        libm::hypot(scene.sigma[centre] * self.noise, scene.allowance[centre] / self.height)
    }

    /// Amounts by what the fitted lines do not hold about points in a row, `count` of them from `centre` on, a stride apart, and which
    /// of them these are: a peak may reach beyond the spectrum's ends.
    pub(super) fn unseen(&self, scene: &Scene<'_>, centre: i64, count: usize) -> (Range<usize>, Vec<f64>) {
        let stride = scene.stride as i64;
        let from = centre - self.lead as i64;
        let last = scene.points() as i64 - self.values.len() as i64 * stride;
        let first =
            (-from).max(0).cast_unsigned().div_ceil(scene.stride as u64).min(count as u64).cast_signed();
        let end = ((last - from).div_euclid(stride) + 1).clamp(first, count as i64);
        let inside = first as usize..end as usize;
        if inside.is_empty() {
            return (inside, Vec::new());
        }
        let start = (from + first * stride) as usize;
        let strides = inside.len() + self.values.len() - 1;
        let stretch = &scene.open[start..start + strides * scene.stride];
        let mut sums = vec![0.0; strides];
        for point in 0..scene.stride {
            let points = stretch[point..].iter().step_by(scene.stride);
            sums.iter_mut().zip(points).for_each(|(sum, value)| *sum += value);
        }
        let mut amounts = Vec::new();
        correlate(&sums, &self.values, &mut amounts);
        (inside, amounts)
    }
}

/// The peaks of a group; they are parted once, since a pattern is only ever compared with one spectrum.
pub(in crate::assign) fn peaks<'g>(scene: &Scene<'_>, group: &'g PatternGroup) -> &'g [Peak] {
    group.drawn.get_or_init(|| parted(scene, group))
}

fn parted(scene: &Scene<'_>, group: &PatternGroup) -> Vec<Peak> {
    let sticks = merge(&group.sticks, SAME_STICK * scene.width);
    let apart = (PEAK_WIDTHS * scene.width).max(if group.exact { 0.0 } else { PEAK_HZ });
    let mut clusters: Vec<Vec<Stick>> = Vec::new();
    for stick in sticks {
        match clusters.last_mut() {
            Some(last) if stick.offset - last[last.len() - 1].offset < apart => last.push(stick),
            _ => clusters.push(vec![stick]),
        }
    }
    let share = |c: &Vec<Stick>| c.iter().map(|s| s.share).sum::<f64>();
    let tallest = clusters.iter().map(share).fold(0.0, f64::max);
    clusters.iter().filter(|c| share(c) >= FAINT_PEAK * tallest).map(|c| peak(group, c)).collect()
}

fn peak(group: &PatternGroup, sticks: &[Stick]) -> Peak {
    let (from, to) = (sticks[0].offset, sticks[sticks.len() - 1].offset);
    let middle = (from + to) / 2.0;
    let near: Vec<Stick> =
        sticks.iter().map(|s| Stick { offset: s.offset - middle, share: s.share * group.protons }).collect();
    let protons = near.iter().map(|s| s.share).sum();
    Peak { from, to, protons, sticks: near, kernel: OnceLock::new() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::scene::tests::wet_dye;
    use crate::pattern::tests::group;

    #[test]
    fn the_centre_of_a_peak_is_the_point_nearest_to_its_line() {
        let processed = wet_dye();
        let scene = Scene::of(&processed, processed.spectrum.axis);
        let lines = [-20.0, 0.0, 15.0];
        let group = group(2.0, 3.0, &lines.map(|offset| (offset, 1.0 / 3.0)));
        let at = scene.position(group.expected);
        let peaks = peaks(&scene, &group);
        assert_eq!(peaks.len(), lines.len());
        for (peak, offset) in peaks.iter().zip(lines) {
            let off = peak.centre(&scene, at) as f64 * scene.hz - (at + offset);
            assert!(off.abs() <= 0.5 * scene.hz + 1e-9, "{off} Hz off the line at {offset} Hz");
        }
    }
}
