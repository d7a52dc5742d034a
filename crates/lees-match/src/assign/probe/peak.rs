//! The resolved peaks of a group, drawn with the spectrum's own line.

use std::sync::OnceLock;

use crate::fit::scene::Scene;
use crate::fit::template::{Pose, Stick, merge, trace};
use crate::pattern::PatternGroup;
use lees_process::dot;

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
    /// Points from the centre of the peak to the end of the drawn stretch.
    half: usize,
    /// The peak less its mean over the stretch, so that a level baseline does not count.
    values: Vec<f64>,
    /// Kernel times peak of unit amount.
    scale: f64,
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
    pub(super) fn centre(&self, scene: &Scene<'_>, at: f64) -> f64 {
        ((at + (self.from + self.to) / 2.0) / scene.hz).round()
    }
}

impl Kernel {
    fn of(scene: &Scene<'_>, peak: &Peak) -> Self {
        let span = (peak.to - peak.from) / 2.0;
        let half = ((span + MARGIN_WIDTHS * scene.width) / scene.hz).ceil().max(2.0) as usize;
        let pose = Pose { at: half as f64 * scene.hz, stretch: 1.0, factor: 1.0 };
        let shape = trace(&scene.shape, &peak.sticks, pose, scene.hz, 0..2 * half + 1);
        let mean = shape.iter().sum::<f64>() / shape.len() as f64;
        let values: Vec<f64> = shape.iter().map(|v| v - mean).collect();
        let scale = dot(&values, &shape).max(f64::MIN_POSITIVE);
        Self {
            half,
            noise: scene.kernel_sd(&values) / scale,
            height: shape.iter().copied().fold(0.0, f64::max),
            scale,
            values,
        }
    }

    /// Amount by what the fitted lines do not hold about a point; `None` when the peak reaches beyond the spectrum's ends.
    pub(super) fn unseen(&self, scene: &Scene<'_>, centre: f64) -> Option<f64> {
        let half = self.half as f64;
        let inside = centre >= half && centre + half < scene.points() as f64;
        let start = inside.then(|| centre as usize - self.half)?;
        Some(dot(&scene.open[start..start + self.values.len()], &self.values) / self.scale)
    }
}

/// The peaks of a group; they are parted once, since a pattern is only ever compared with one spectrum.
pub(in crate::assign) fn peaks<'g>(scene: &Scene<'_>, group: &'g PatternGroup) -> &'g [Peak] {
    group.drawn.get_or_init(|| parted(scene, group))
}

fn parted(scene: &Scene<'_>, group: &PatternGroup) -> Vec<Peak> {
    let mut sticks = merge(&group.sticks, 0.05 * scene.width);
    sticks.sort_by(|a, b| a.offset.total_cmp(&b.offset));
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
