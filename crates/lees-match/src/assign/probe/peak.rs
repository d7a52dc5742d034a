//! The resolved peaks of a group, drawn with the spectrum's own line.

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

/// A resolved peak of a group, drawn for measuring.
#[derive(Debug, Clone)]
pub(crate) struct Peak {
    /// First and last stick, from the group's centre.
    pub(in crate::assign) from: f64,
    pub(in crate::assign) to: f64,
    /// Its sticks from its centre; their shares sum to its protons.
    pub(super) sticks: Vec<Stick>,
    /// Points from the centre of the peak to the end of the drawn stretch.
    pub(super) half: usize,
    /// The peak less its mean over the stretch, so that a level baseline does not count.
    pub(super) kernel: Vec<f64>,
    /// Kernel times peak of unit amount.
    pub(super) scale: f64,
    /// Standard deviation of the measured amount per unit point noise.
    pub(super) noise: f64,
    /// Height of the peak per unit amount.
    pub(super) height: f64,
    pub(in crate::assign) protons: f64,
}

impl Peak {
    /// Index of the point nearest to the peak's centre.
    pub(super) fn centre(&self, scene: &Scene<'_>, at: f64) -> f64 {
        ((at + (self.from + self.to) / 2.0) / scene.hz).round()
    }

    /// The first point of the drawn stretch; `None` when it reaches beyond the spectrum's ends.
    pub(super) fn start(&self, scene: &Scene<'_>, at: f64) -> Option<usize> {
        let centre = self.centre(scene, at);
        let half = self.half as f64;
        (centre >= half && centre + half < scene.points() as f64).then(|| centre as usize - self.half)
    }
}

/// The peaks of a group; they are drawn once, since a pattern is only ever compared with one spectrum.
pub(in crate::assign) fn peaks<'g>(scene: &Scene<'_>, group: &'g PatternGroup) -> &'g [Peak] {
    group.drawn.get_or_init(|| drawn(scene, group))
}

fn drawn(scene: &Scene<'_>, group: &PatternGroup) -> Vec<Peak> {
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
    clusters.iter().filter(|c| share(c) >= FAINT_PEAK * tallest).map(|c| peak(scene, group, c)).collect()
}

fn peak(scene: &Scene<'_>, group: &PatternGroup, sticks: &[Stick]) -> Peak {
    let (from, to) = (sticks[0].offset, sticks[sticks.len() - 1].offset);
    let middle = (from + to) / 2.0;
    let half = (((to - from) / 2.0 + MARGIN_WIDTHS * scene.width) / scene.hz).ceil().max(2.0) as usize;
    let near: Vec<Stick> =
        sticks.iter().map(|s| Stick { offset: s.offset - middle, share: s.share * group.protons }).collect();
    let pose = Pose { at: half as f64 * scene.hz, stretch: 1.0, factor: 1.0 };
    let shape = trace(&scene.shape, &near, pose, scene.hz, 0..2 * half + 1);
    let mean = shape.iter().sum::<f64>() / shape.len() as f64;
    let kernel: Vec<f64> = shape.iter().map(|v| v - mean).collect();
    let scale = dot(&kernel, &shape).max(f64::MIN_POSITIVE);
    Peak {
        from,
        to,
        half,
        noise: scene.kernel_sd(&kernel) / scale,
        height: shape.iter().copied().fold(0.0, f64::max),
        scale,
        protons: near.iter().map(|s| s.share).sum(),
        sticks: near,
        kernel,
    }
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
            let off = peak.centre(&scene, at) * scene.hz - (at + offset);
            assert!(off.abs() <= 0.5 * scene.hz + 1e-9, "{off} Hz off the line at {offset} Hz");
        }
    }
}
