//! Side lobes of strong lines of a truncated recording.

use lees_core::{Line, LineKind};

use super::Scene;

/// A line this many times as high as its neighbour may be its parent.
const STRONGER: f64 = 15.0;
/// Side lobes are looked for this many inverse recording times from the parent ...
const REACH_LOBES: f64 = 16.0;
/// ... or, when the recording time is not known, this many line widths.
const REACH_WIDTHS: f64 = 15.0;
/// Negative lobes this share of the line's height speak for a wiggle.
const DIP_SHARE: f64 = 0.5;
/// Fewest dips around a wiggle.
const LEAST_DIPS: usize = 2;
/// Dips to ask for, where the recording time is not known, for each line width between lobe and parent. A line cut off is 1.2
/// inverse recording times wide and has a dip every inverse recording time on either side, deeper nearer to it: 2.4 a width. A
/// fifth of them is enough: on simulated recordings of 0.26 to 0.51 s it loses no lobe, and no small signal passes for one.
const DIPS_A_WIDTH: f64 = 0.5;

/// Labels lines near a much stronger one whose surroundings dip below zero as deeply as they rise: a sinc has as
/// many negative lobes as positive ones, a signal has none.
pub(crate) fn label_sidelobes(lines: &mut [Line], scene: &Scene<'_>) {
    let reach = scene
        .acquisition_time
        .map_or(REACH_WIDTHS * scene.shape.fwhm().0, |t| (REACH_LOBES / t).max(4.0 * scene.shape.fwhm().0));
    for k in 0..lines.len() {
        let at = scene.position(&lines[k]);
        let parent = (0..lines.len())
            .filter(|j| lines[*j].height > STRONGER * lines[k].height)
            .filter(|j| (scene.position(&lines[*j]) - at).abs() < reach)
            .max_by(|a, b| lines[*a].height.total_cmp(&lines[*b].height));
        let depth = DIP_SHARE * lines[k].height;
        let parent = parent.filter(|p| {
            let centre = scene.position(&lines[*p]);
            dips(scene, centre, reach, depth) >= least_dips(scene, (centre - at).abs())
        });
        if parent.is_some() {
            lines[k].kind = LineKind::Truncation;
            lines[k].parent = parent;
        }
    }
}

/// Dips to ask for around a parent at a distance (hertz): where the recording time is known, the reach tells lobes from signals.
fn least_dips(scene: &Scene<'_>, distance: f64) -> usize {
    if scene.acquisition_time.is_some() {
        return LEAST_DIPS;
    }
    LEAST_DIPS.max((DIPS_A_WIDTH * distance / scene.shape.fwhm().0) as usize)
}

/// Separate stretches around `centre` where the residual lies below `-depth`, the parent's own core left out.
fn dips(scene: &Scene<'_>, centre: f64, reach: f64, depth: f64) -> usize {
    let core = 1.0 * scene.shape.fwhm().0;
    let step = scene.axis.hertz_per_point().0;
    let range = scene.index(centre - reach)..scene.index(centre + reach);
    let low = |i: usize| (i as f64 * step - centre).abs() > core && scene.residual[i] < -depth;
    range.clone().filter(|&i| low(i) && (i == range.start || !low(i - 1))).count()
}
