//! Lines that hide a neighbour under half their width: found by misfit.

use super::solve::{Window, fit_cluster};
use super::{FitLine, Found, LineSettings, WidthKind};
use crate::LineShape;

/// Height over noise from which a misfit can be judged.
const STRONG: f64 = 80.0;
/// A line is suspect when its misfit is this many times the lower quartile of the strong lines' ...
const WORSE: f64 = 2.5;
/// ... and beyond this share of its height: no common shape is exact.
const LEAST_SHARE: f64 = 0.002;
/// Places of the two lines tried, in widths, and the share of the second: a small one beside, or two alike.
const TRIALS: [(f64, f64, f64); 5] =
    [(0.0, -0.5, 0.1), (0.0, 0.5, 0.1), (0.0, -0.9, 0.1), (0.0, 0.9, 0.1), (-0.3, 0.3, 0.5)];
/// Chi-square gained, white-noise units, before a second line is believed.
const LEAST_GAIN: f64 = 60.0;
/// Share of the misfit a second line must explain.
const EXPLAINED: f64 = 0.7;
/// Half width over which the misfit is measured, in widths.
const CORE: f64 = 1.5;

/// The middle misfit of the strong lines, as a share of their height; 0 when none is strong.
pub(super) fn usual_misfit(found: &Found, flat: &[f64], step: f64) -> f64 {
    let sharp = (0..found.lines.len()).filter(|k| found.lines[*k].width == WidthKind::Common);
    let mut shares: Vec<f64> =
        sharp.filter_map(|k| misfit(found, flat, step, k)).filter(|share| share.is_finite()).collect();
    crate::noise::median(&mut shares)
}

/// Indices of strong lines that fit markedly worse than the spectrum's other strong lines.
pub(super) fn misfits(found: &Found, flat: &[f64], step: f64) -> Vec<usize> {
    let strong: Vec<(usize, f64)> = (0..found.lines.len())
        .filter(|k| found.lines[*k].width == WidthKind::Common)
        .filter_map(|k| Some((k, misfit(found, flat, step, k)?)))
        .collect();
    let mut shares: Vec<f64> = strong.iter().map(|s| s.1).collect();
    shares.sort_by(f64::total_cmp);
    let usual = shares.get(shares.len() / 4).copied().unwrap_or(0.0);
    let usual = if shares.len() < 3 { 0.0 } else { usual };
    strong.into_iter().filter(|(_, share)| *share > LEAST_SHARE.max(WORSE * usual)).map(|(k, _)| k).collect()
}

/// Root mean square misfit beyond noise over the model's, within the line's core; `None` for weak lines.
fn misfit(found: &Found, flat: &[f64], step: f64, k: usize) -> Option<f64> {
    let line = &found.lines[k];
    let middle = (line.position / step).round().max(0.0) as usize;
    let sigma = found.noise.sigma(middle);
    if line.area * found.shape.height(line.factor) < STRONG * sigma {
        return None;
    }
    let half = (CORE * found.shape.fwhm().0 * line.factor / step).ceil() as usize;
    let range = middle.saturating_sub(half)..middle.saturating_add(half).saturating_add(1).min(flat.len());
    let n = range.len() as f64;
    let (misfit, power) = range.fold((0.0, 0.0), |(misfit, power), i| {
        let left = (flat[i] - found.model[i]) / sigma;
        (misfit + left * left, power + (found.model[i] / sigma).powi(2))
    });
    // Twice the points: coloured noise scatters more than chi-square says.
    Some(((misfit - 2.0 * n).max(0.0) / power.max(f64::MIN_POSITIVE)).sqrt())
}

/// The two lines that explain the misfit of `line`, if any do; `colour` is the variance of a line's area over that
/// in white noise, `left` the squares, in units of noise, of what the line leaves as it is: no more can be gained.
pub(super) fn two_lines(
    window: Window<'_>,
    line: FitLine,
    shape: &LineShape,
    settings: &LineSettings,
    colour: f64,
    left: f64,
) -> Option<[FitLine; 2]> {
    if left <= LEAST_GAIN * colour {
        return None;
    }
    let mut alone = [line];
    let before = fit_cluster(window, &mut alone, shape, settings, false)?.chi2;
    if before <= LEAST_GAIN * colour {
        return None;
    }
    let expected = window.values.len() as f64;
    let width = shape.fwhm().0 * line.factor;
    let mut best: Option<(f64, [FitLine; 2])> = None;
    for (first, second, share) in TRIALS {
        let place = |at: f64, share: f64| FitLine::new(line.position + at * width, share * line.area, 1.0);
        let mut pair = [place(first, 1.0 - share), place(second, share)];
        pair.sort_by(|a, b| a.position.total_cmp(&b.position));
        let Some(fit) = fit_cluster(window, &mut pair, shape, settings, false) else { continue };
        let gain = before - fit.chi2;
        let pays = gain > LEAST_GAIN * colour && gain > EXPLAINED * (before - expected);
        let apart = (pair[0].position - pair[1].position).abs() > 0.2 * shape.fwhm().0;
        if pays && apart && best.as_ref().is_none_or(|(g, _)| gain > *g) {
            best = Some((gain, pair));
        }
    }
    best.map(|(_, pair)| pair)
}
