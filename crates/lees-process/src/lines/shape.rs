//! The spectrum's common line, from its best isolated lines.

use super::cluster::{Cluster, clusters};
use super::solve::{Window, fit_cluster};
use super::{FitLine, LineSettings, WidthKind};
use crate::lineshape::{Row, ShapeParameters};
use crate::{LineShape, Noise};

/// Lines looked at for a first guess of the width.
const TALLEST: usize = 24;
/// Height over noise of a line fit for guessing the width.
const TALL: f64 = 15.0;
/// A point whose neighbours are lower than this share of it is a spike: a line of two points' width has 50 %.
const LONE: f64 = 0.4;
/// A rise by this share of the maximum on the way down to half height belongs to another line.
const RISE: f64 = 0.06;
/// Clusters the shape is fitted to.
const MODELS: usize = 5;
/// Most lines of a cluster the shape is fitted to.
const MOST_IN_MODEL: usize = 6;
/// A cluster with a line wider than this says little of the common shape: it may hide couplings.
const WIDE: f64 = 1.45;
/// Half width of the window around each line, in line widths.
const SHAPE_WINDOW: f64 = 8.0;
/// Parabolas laid through the best trials of the share.
const PARABOLAS: usize = 6;
/// Trials of the share nearer than this to one known are not made: at a height of 10 000 over noise it shows.
const SAME_SHARE: f64 = 0.0005;
/// A trial that promises to lower chi-square by less than this is not made.
const LEAST_DROP: f64 = 1.0;
/// Height over noise of a cluster the shape is fitted to.
const CLEAR: f64 = 40.0;
/// Shape of a spectrum without lines: 1 Hz, Lorentzian.
pub(crate) const PLAIN: ShapeParameters = ShapeParameters::symmetric(1.0, 1.0);
/// A line is at least this many points wide.
const NARROWEST_POINTS: f64 = 2.0;

/// Full width at half height, in points, of the sharpest of the tallest maxima; `None` without any.
///
/// Maxima inside the half-height stretch of a taller one belong to it.
#[must_use]
pub(crate) fn first_width(values: &[f64], noise: &Noise) -> Option<f64> {
    let least = TALL * noise.typical() * 0.5;
    let mut tops: Vec<usize> = (2..values.len().saturating_sub(2))
        .filter(|&i| values[i] > least && values[i] > values[i - 1] && values[i] >= values[i + 1])
        .filter(|&i| {
            values[i] > values[i - 2] && values[i] > values[i + 2] && values[i] > TALL * noise.sigma(i)
        })
        .filter(|&i| values[i - 1] + values[i + 1] > 2.0 * LONE * values[i])
        .collect();
    tops.sort_by(|a, b| values[*b].total_cmp(&values[*a]));
    let mut taken: Vec<(f64, f64)> = Vec::new();
    let mut widths: Vec<f64> = Vec::new();
    for top in tops {
        let place = top as f64;
        if widths.len() >= TALLEST || taken.iter().any(|(low, high)| place > *low && place < *high) {
            continue;
        }
        if let Some((left, right)) = half_width(values, top) {
            taken.push((place - left, place + right));
            widths.push(left + right);
        }
    }
    // The sharpest tenth: most lines of a spectrum hide small couplings, the common width is that of the others.
    let sharp = widths.len() / 10;
    (!widths.is_empty()).then(|| widths.select_nth_unstable_by(sharp, f64::total_cmp).1.max(NARROWEST_POINTS))
}

/// Distances to half height left and right of a maximum, by linear interpolation; `None` when a side does not fall
/// to half before it rises again: a shoulder, or one of two lines.
fn half_width(values: &[f64], top: usize) -> Option<(f64, f64)> {
    let half = values[top] / 2.0;
    let crossing = |indices: &mut dyn Iterator<Item = usize>| -> Option<f64> {
        let mut inner = values[top];
        let mut lowest = values[top];
        for (steps, i) in indices.enumerate() {
            lowest = lowest.min(values[i]);
            if values[i] > lowest + RISE * values[top] {
                return None;
            }
            if values[i] < half {
                return Some(steps as f64 + (inner - half) / (inner - values[i]).max(f64::MIN_POSITIVE));
            }
            inner = values[i];
        }
        None
    };
    let right = crossing(&mut (top + 1..values.len()))?;
    let left = crossing(&mut (0..top).rev())?;
    Some((left, right))
}

/// Fits width and Lorentzian share of the common line to the clearest clusters of `lines` (sorted by position;
/// their areas must be fitted). `values` has baseline and `model`, the sum of all lines, is at hand for tails.
///
/// The shape stays Lorentzian unless another share lowers chi-square by more than `least_gain` after allowing
/// for the colour of the noise (`colour`: variance of a line's area over that in white noise). Returns the start
/// shape when no cluster is clear enough.
#[must_use]
pub(crate) fn fit_shape(
    values: &[f64],
    model: &[f64],
    noise: &Noise,
    step: f64,
    lines: &[FitLine],
    start: LineShape,
    settings: &LineSettings,
) -> LineShape {
    let bench = Bench { values, model, noise, step, settings, start };
    let models = bench.models(lines);
    if models.is_empty() {
        return bench.start;
    }
    let score = |lorentz: f64| bench.score(&models, lorentz);
    let pure = score(1.0);
    let mut known = vec![(1.0, pure), (0.85, score(0.85)), (0.65, score(0.65))];
    for _ in 0..PARABOLAS {
        let (next, gain) = vertex(&known);
        if gain > LEAST_DROP && known.iter().all(|(x, _)| (x - next).abs() > SAME_SHARE) {
            known.push((next, score(next)));
        }
    }
    known.sort_by(|a, b| a.1.0.total_cmp(&b.1.0));
    let (best, at_best) = known[0];
    let pays = pure.0 - at_best.0 > settings.least_gain * noise.colour().sqrt();
    let (lorentz, factor) = if pays { (best, at_best.1) } else { (1.0, pure.1) };
    let first = bench.start.parameters();
    // lines that all turn out wide are those of other clusters, beside the sharp ones
    let width = first.width * if (WIDE.recip()..WIDE).contains(&factor) { factor } else { 1.0 };
    LineShape::new(ShapeParameters { width, lorentz, ..first })
}

/// The lowest point of the parabola through the three best trials, within 0 to 1, and how far under the best it lies.
fn vertex(known: &[(f64, (f64, f64))]) -> (f64, f64) {
    let mut best = known.to_vec();
    best.sort_by(|a, b| a.1.0.total_cmp(&b.1.0));
    let ((x0, (y0, _)), (x1, (y1, _)), (x2, (y2, _))) = (best[0], best[1], best[2]);
    let (d1, d2) = ((y1 - y0) / (x1 - x0), (y2 - y0) / (x2 - x0));
    let bend = (d2 - d1) / (x2 - x1);
    if bend <= 0.0 {
        return ((2.0 * x0 - x1).clamp(0.0, 1.0), f64::INFINITY);
    }
    let x = (x0 + (x1 - x0) / 2.0 - d1 / (2.0 * bend)).clamp(0.0, 1.0);
    let drop = -(x - x0) * (d1 + bend * (x - x1));
    (x, drop)
}

struct Bench<'a> {
    values: &'a [f64],
    model: &'a [f64],
    noise: &'a Noise,
    step: f64,
    settings: &'a LineSettings,
    start: LineShape,
}

/// Lines of a cluster, its data (other lines' tails taken off) and the first point's place.
struct Model {
    lines: Vec<FitLine>,
    data: Vec<f64>,
    sigma: Vec<f64>,
    origin: f64,
}

impl Bench<'_> {
    /// The strongest clusters of few sharp lines.
    fn models(&self, lines: &[FitLine]) -> Vec<Model> {
        let sharp: Vec<FitLine> = lines.iter().filter(|l| l.width == WidthKind::Common).copied().collect();
        let reach = SHAPE_WINDOW * self.start.fwhm().0;
        let mut clear: Vec<(f64, Cluster)> = clusters(&sharp, reach, self.step, self.values.len())
            .into_iter()
            .filter(|c| c.lines.len() <= MOST_IN_MODEL)
            .filter(|c| sharp[c.lines.clone()].iter().all(|l| l.factor < WIDE))
            .map(|c| {
                let top = sharp[c.lines.clone()]
                    .iter()
                    .map(|l| l.area * self.start.height(l.factor))
                    .fold(0.0, f64::max);
                (top / self.noise.sigma(c.window.start), c)
            })
            .filter(|(score, _)| *score > CLEAR)
            .collect();
        clear.sort_by(|a, b| b.0.total_cmp(&a.0));
        clear.truncate(MODELS);
        clear.into_iter().map(|(_, c)| self.model(&sharp, &c)).collect()
    }

    fn model(&self, sharp: &[FitLine], cluster: &Cluster) -> Model {
        let lines = sharp[cluster.lines.clone()].to_vec();
        let origin = cluster.window.start as f64 * self.step;
        let mut data: Vec<f64> = self.values[cluster.window.clone()].to_vec();
        if !self.model.is_empty() {
            data.iter_mut().zip(&self.model[cluster.window.clone()]).for_each(|(d, m)| *d -= m);
            for line in &lines {
                let row = Row::about(line.position, origin, self.step);
                self.start.add_row(row, line.factor, line.area, &mut data);
            }
        }
        let sigma = self.noise.sigmas(cluster.window.clone());
        Model { lines, data, sigma, origin }
    }

    /// Chi-square of all models and the area-weighted middle width factor for a Lorentzian share.
    fn score(&self, models: &[Model], lorentz: f64) -> (f64, f64) {
        let shape = LineShape::new(ShapeParameters { lorentz, ..self.start.parameters() });
        let mut chi2 = 0.0;
        let mut widths = Vec::new();
        for model in models {
            let mut lines = model.lines.clone();
            let window =
                Window { values: &model.data, sigma: &model.sigma, origin: model.origin, step: self.step };
            if let Some(fit) = fit_cluster(window, &mut lines, &shape, self.settings, false) {
                chi2 += fit.chi2;
                widths.extend(lines.iter().filter(|l| l.area > 20.0 * l.area_u).map(|l| l.factor));
            }
        }
        (chi2, crate::noise::median(&mut widths))
    }
}
