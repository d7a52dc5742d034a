//! The spectrum's common line, from its best isolated lines.

use super::solve::{Window, fit_cluster};
use super::{FitLine, LineSettings};
use crate::lineshape::ShapeParameters;
use crate::{LineShape, Noise};

/// Lines looked at for a first guess of the width.
const TALLEST: usize = 24;
/// Height over noise of a line fit for guessing the width.
const TALL: f64 = 15.0;
/// Lines the shape is fitted to.
const MODELS: usize = 8;
/// Height over noise of a line the shape is fitted to.
const CLEAR: f64 = 40.0;
/// Shape of a spectrum without lines: 1 Hz, nearly Lorentzian.
pub(crate) const PLAIN: ShapeParameters = ShapeParameters::symmetric(1.0, 0.9);
/// A line is at least this many points wide.
const NARROWEST_POINTS: f64 = 2.0;

/// Full width at half height, in points, of the sharpest quarter of the tallest maxima; `None` without any.
#[must_use]
pub fn first_width(values: &[f64], noise: &Noise) -> Option<f64> {
    let mut tops: Vec<usize> = (2..values.len().saturating_sub(2))
        .filter(|&i| values[i] > values[i - 1] && values[i] >= values[i + 1])
        .filter(|&i| values[i] > values[i - 2] && values[i] > values[i + 2] && values[i] > TALL * noise.sigma(i))
        .collect();
    tops.sort_by(|a, b| values[*b].total_cmp(&values[*a]));
    let mut widths: Vec<f64> = tops.iter().take(TALLEST).filter_map(|&i| half_width(values, i)).collect();
    let quarter = widths.len() / 4;
    (!widths.is_empty())
        .then(|| widths.select_nth_unstable_by(quarter, f64::total_cmp).1.max(NARROWEST_POINTS))
}

/// Width at half height around a maximum, by linear interpolation; `None` when a side does not fall to half.
fn half_width(values: &[f64], top: usize) -> Option<f64> {
    let half = values[top] / 2.0;
    let crossing = |indices: &mut dyn Iterator<Item = usize>| -> Option<f64> {
        let mut inner = values[top];
        for (steps, i) in indices.enumerate() {
            if values[i] < half {
                return Some(steps as f64 + (inner - half) / (inner - values[i]).max(f64::MIN_POSITIVE));
            }
            inner = values[i];
        }
        None
    };
    let right = crossing(&mut (top + 1..values.len()))?;
    let left = crossing(&mut (0..top).rev())?;
    Some(left + right)
}

/// Fits width and Lorentzian share of the common line to the clearest isolated lines of `lines` (sorted by
/// position). Returns the start shape when no line is clear enough.
#[must_use]
pub fn fit_shape(
    values: &[f64],
    noise: &Noise,
    step: f64,
    lines: &[FitLine],
    start: LineShape,
    settings: &LineSettings,
) -> LineShape {
    let models = models(values, noise, step, lines, &start);
    if models.is_empty() {
        return start;
    }
    let reach = settings.window_widths * start.fwhm().0;
    let score = |lorentz: f64| -> (f64, f64) {
        let shape = LineShape::new(ShapeParameters { lorentz, ..start.parameters() });
        let mut chi2 = 0.0;
        let mut widths = Vec::new();
        for line in &models {
            if let Some((c, w)) = single(values, noise, step, line, reach, &shape, settings) {
                chi2 += c;
                widths.push(w);
            }
        }
        (chi2, crate::noise::median(&mut widths))
    };
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..10 {
        let (a, b) = (low + 0.382 * (high - low), low + 0.618 * (high - low));
        if score(a).0 < score(b).0 {
            high = b;
        } else {
            low = a;
        }
    }
    let lorentz = (low + high) / 2.0;
    let factor = score(lorentz).1;
    let width = start.parameters().width * if factor > 0.0 { factor } else { 1.0 };
    LineShape::new(ShapeParameters { width, lorentz, ..start.parameters() })
}

/// The strongest lines without a comparable neighbour inside their windows.
fn models(values: &[f64], noise: &Noise, step: f64, lines: &[FitLine], shape: &LineShape) -> Vec<FitLine> {
    let height = |l: &FitLine| l.area * shape.height(l.factor);
    let index = |l: &FitLine| ((l.position / step).round().max(0.0) as usize).min(values.len() - 1);
    let mut clear: Vec<(usize, f64)> = (0..lines.len())
        .filter_map(|k| {
            let line = &lines[k];
            let score = height(line) / noise.sigma(index(line));
            let alone = |other: Option<&FitLine>| {
                other.is_none_or(|o| {
                    let distance = (o.position - line.position).abs();
                    distance > 8.0 * shape.fwhm().0 || height(o) < 0.02 * height(line)
                })
            };
            let isolated = alone(lines.get(k + 1)) && alone(k.checked_sub(1).and_then(|j| lines.get(j)));
            (score > CLEAR && isolated && line.factor < 1.6).then_some((k, score))
        })
        .collect();
    clear.sort_by(|a, b| b.1.total_cmp(&a.1));
    clear.iter().take(MODELS).map(|(k, _)| lines[*k]).collect()
}

/// Chi-square and width factor of one isolated line.
fn single(
    values: &[f64],
    noise: &Noise,
    step: f64,
    line: &FitLine,
    reach: f64,
    shape: &LineShape,
    settings: &LineSettings,
) -> Option<(f64, f64)> {
    let start = ((line.position - reach) / step).max(0.0) as usize;
    let end = (((line.position + reach) / step).max(0.0) as usize).min(values.len());
    let sigma: Vec<f64> = (start..end).map(|i| noise.sigma(i)).collect();
    let window = Window { values: values.get(start..end)?, sigma: &sigma, origin: start as f64 * step, step };
    let mut one = [*line];
    let fit = fit_cluster(window, &mut one, shape, settings, false)?;
    Some((fit.chi2, one[0].factor))
}
