//! All lines of a spectrum: baseline, noise, detection and fits in turn.

mod fit;

use std::borrow::Cow;

use super::feet::feet;
use super::render::{FarField, add, differences, render};
use super::shape::{PLAIN, first_width, fit_shape};
use super::shoulder::common_shoulder;
use super::solve::Window;
use super::{FitLine, WidthKind, broad, divide, lorentzian_of};
use crate::baseline::grid::Grid;
use crate::baseline::{self, Baseline};
use crate::detect::{self, Candidate};
use crate::lineshape::{Row, ShapeParameters};
use crate::noise::first_guess;
use crate::{LineShape, Noise, Settings};

/// Misfit of the common shape as a share of the local model before it is measured.
const FIRST_MISFIT: f64 = 0.01;
/// Least and largest misfit believed.
const MISFITS: (f64, f64) = (5e-4, 0.05);
/// Half window in which two lines are tried for one, in widths.
const DIVIDE_REACH: f64 = 4.0;
/// Noise is taken for no less than this share of the tallest point: far below what any receiver and its digits give (common
/// practice, no source), and still above what is left of a computed spectrum.
const LEAST_NOISE: f64 = 1e-8;
/// Candidates nearer than this many widths to a line are the same line.
const SAME_LINE: f64 = 0.6;

/// Everything found in a spectrum's real part.
#[derive(Debug, Clone)]
pub struct Found {
    /// The baseline.
    pub baseline: Baseline,
    /// The baseline at every point.
    pub baseline_values: Vec<f64>,
    /// The noise.
    pub noise: Noise,
    /// The common line.
    pub shape: LineShape,
    /// The lines, by growing position (falling shift).
    pub lines: Vec<FitLine>,
    /// The sum of all lines at every point.
    pub model: Vec<f64>,
    /// What that sum may be wrong by at tall lines, as a share of it.
    pub misfit: f64,
}

impl Found {
    /// What the sum may be wrong by at every point, `step` hertz apart, in the unit of the values: its misfit, which reaches out
    /// to the feet of tall lines.
    ///
    /// ```
    /// use lees_process::{Settings, lines::find};
    /// let line = |hz: f64| 100.0 / std::f64::consts::PI * 0.5 / (0.25 + (hz - 500.0).powi(2));
    /// let values: Vec<f64> = (0..8192).map(|i| line(0.2 * i as f64) + 0.1 * (0.7 * (i * i) as f64).sin()).collect();
    /// let allowance = find(&values, 0.2, &Settings::default()).allowance(0.2);
    /// let at = |hz: f64| allowance[(hz / 0.2) as usize];
    /// assert!(at(500.0) > at(520.0) && at(520.0) > 100.0 * at(900.0), "by the line, at its feet, in the open");
    /// ```
    #[must_use]
    pub fn allowance(&self, step: f64) -> Vec<f64> {
        feet(&self.model, self.misfit, step)
    }
}

/// Finds and fits the lines of `values`, whose points are `step` hertz apart.
///
/// ```
/// use lees_process::{Settings, lines::find};
/// // Two Lorentzians of width 1 Hz and areas 100 and 50 Hz, 0.2 Hz a point, on noise-like ripples of 0.1.
/// let line = |hz: f64, at: f64, area: f64| area / std::f64::consts::PI * 0.5 / (0.25 + (hz - at).powi(2));
/// let ripple = |i: usize| 0.1 * (0.7 * (i * i) as f64).sin();
/// let values: Vec<f64> = (0..8192)
///     .map(|i| (0.2 * i as f64, i))
///     .map(|(hz, i)| line(hz, 500.03, 100.0) + line(hz, 506.0, 50.0) + ripple(i))
///     .collect();
/// let found = find(&values, 0.2, &Settings::default());
/// let lines: Vec<_> = found.lines.iter().filter(|line| line.area > 10.0).collect();
/// assert_eq!(lines.len(), 2);
/// assert!((lines[0].position - 500.03).abs() < 0.01, "hertz from the first point");
/// assert!((lines[0].area / lines[1].area - 2.0).abs() < 0.02);
/// ```
#[must_use]
pub fn find(values: &[f64], step: f64, settings: &Settings) -> Found {
    find_upright(values, step, settings, |_| None)
}

/// As [`find`]; before the last round `upright` may give other values to go on with: those of a spectrum turned by the phase
/// that the lines known by then show to be left.
pub(crate) fn find_upright(
    values: &[f64],
    step: f64,
    settings: &Settings,
    mut upright: impl FnMut(&Found) -> Option<Vec<f64>>,
) -> Found {
    let mut search = Search::start(values, step, settings);
    let rounds = settings.baseline.rounds.clamp(1.0, 10.0) as usize;
    for round in 0..rounds {
        let last = round + 1 == rounds;
        if round > 0
            && last
            && let Some(turned) = upright(&search.found)
        {
            search.replace(turned);
        }
        search.fit(round == 0 || last);
        if round == 0 {
            search.refine_shape();
        }
        if round < 2 {
            search.divide_misfits();
        }
        search.find_shoulder();
        search.found.misfit =
            divide::usual_misfit(&search.found, &search.flat, step).clamp(MISFITS.0, MISFITS.1);
        search.restore_baseline();
        if round == 0 || last {
            search.measure_noise();
        }
        if round + 1 < rounds {
            search.add_from_residual();
        }
    }
    search.finish()
}

struct Search<'a> {
    values: Cow<'a, [f64]>,
    step: f64,
    settings: &'a Settings,
    flat: Vec<f64>,
    found: Found,
    far: FarField,
    /// The lines that the model shows, and their shape.
    drawn: Option<(Vec<FitLine>, LineShape)>,
    cut: f64,
    /// The least that the noise is taken for.
    least: f64,
}

impl<'a> Search<'a> {
    fn start(values: &'a [f64], step: f64, settings: &'a Settings) -> Self {
        let least = LEAST_NOISE * values.iter().fold(0.0f64, |top, v| top.max(v.abs()));
        let sigma = first_guess(values).max(least).max(f64::MIN_POSITIVE);
        let nothing = vec![0.0; values.len()];
        let grid = Grid::new(values, &nothing, &nothing, &|_| sigma, step, &settings.baseline);
        let baseline = baseline::fit(&grid, &[], values.len(), &settings.baseline);
        let baseline_values = baseline.values();
        let flat: Vec<f64> = values.iter().zip(&baseline_values).map(|(v, b)| v - b).collect();
        let noise = measured(&flat, &baseline.free_points(), least);
        let width = first_width(&flat, &noise).unwrap_or(PLAIN.width / step);
        let shape = LineShape::new(ShapeParameters { width: width * step, ..PLAIN });
        let independent = values.len() as f64 / noise.colour().max(1.0);
        let cut = detect::threshold(independent, settings.detect.false_lines_per_spectrum);
        let lines = seeds(&detect::split(&flat, &noise, width, cut), &shape, step);
        let model = vec![0.0; values.len()];
        let found = Found { baseline, baseline_values, noise, shape, lines, model, misfit: FIRST_MISFIT };
        Self {
            values: Cow::Borrowed(values),
            step,
            settings,
            flat,
            found,
            far: FarField::default(),
            drawn: None,
            cut,
            least,
        }
    }

    /// Goes on with other values, which differ little.
    fn replace(&mut self, values: Vec<f64>) {
        self.values = Cow::Owned(values);
        self.flatten();
    }

    fn flatten(&mut self) {
        let parts = self.values.iter().zip(&self.found.baseline_values);
        self.flat.iter_mut().zip(parts).for_each(|(flat, (value, baseline))| *flat = value - baseline);
    }

    fn sort(&mut self) {
        sort(&mut self.found.lines);
    }

    /// The common shape again, tails of all lines known.
    fn refine_shape(&mut self) {
        let found = &mut self.found;
        let old = found.shape.fwhm().0;
        found.shape = fit_shape(
            &self.flat,
            &found.model,
            &found.noise,
            self.step,
            &found.lines,
            found.shape.clone(),
            &self.settings.lines,
        );
        let scale = old / found.shape.fwhm().0;
        found.lines.iter_mut().for_each(|l| l.factor *= scale);
        self.fit(true);
    }

    /// What all strong lines have beside them is part of their shape.
    fn find_shoulder(&mut self) {
        if self.found.shape.parameters().shoulder > 0.0 {
            return;
        }
        let Found { lines, shape, noise, .. } = &self.found;
        let Some((shape, kept)) = common_shoulder(lines, shape, noise, self.step) else { return };
        (self.found.shape, self.found.lines) = (shape, kept);
        self.fit(true);
        self.refine_shape();
    }

    /// Strong lines that fit worse than the others may be two: tries a second line on either side.
    fn divide_misfits(&mut self) {
        let misfits = divide::misfits(&self.found, &self.flat, self.step);
        let colour = self.line_colour().0.powi(2);
        let mut divided = false;
        for k in misfits {
            if let Some([first, second]) = self.divided(k, colour) {
                self.found.lines[k] = first;
                self.found.lines.push(second);
                divided = true;
            }
        }
        if divided {
            self.fit(false);
            self.refine_shape();
        }
    }

    /// The two lines that line `k` is, when that pays.
    fn divided(&self, k: usize, colour: f64) -> Option<[FitLine; 2]> {
        let line = self.found.lines[k];
        let reach = DIVIDE_REACH * self.found.shape.fwhm().0 * line.factor;
        let start = ((line.position - reach) / self.step).max(0.0) as usize;
        let end = (((line.position + reach) / self.step).max(0.0) as usize).min(self.flat.len());
        let lorentzian = lorentzian_of(&self.found.shape);
        let shape = line.shape(&self.found.shape, &lorentzian);
        let sigma: Vec<f64> = self.found.noise.sigmas(start..end);
        let mut data: Vec<f64> = (start..end).map(|i| self.flat[i] - self.found.model[i]).collect();
        let left = data.iter().zip(&sigma).map(|(d, s)| (d / s).powi(2)).sum();
        let row = Row::about(line.position, start as f64 * self.step, self.step);
        shape.add_row(row, line.factor, line.area, &mut data);
        let window =
            Window { values: &data, sigma: &sigma, origin: start as f64 * self.step, step: self.step };
        divide::two_lines(window, line, &self.found.shape, &self.settings.lines, colour, left)
    }

    fn render(&mut self) {
        let lines = std::mem::take(&mut self.found.lines);
        self.show(&lines);
        self.found.lines = lines;
    }

    /// Makes the model that of `lines`; where few of them are new, only these are drawn.
    fn show(&mut self, lines: &[FitLine]) {
        let shape = self.found.shape.clone();
        let model = &mut self.found.model;
        match self.drawn.take().filter(|(_, by)| *by == shape) {
            Some((old, _)) => {
                let changes = differences(&old, lines);
                if changes.is_empty() {
                    // it is shown already
                } else if changes.len() < lines.len() {
                    add(&changes, &shape, self.step, &mut self.far, model);
                } else {
                    render(lines, &shape, self.step, &mut self.far, model);
                }
            }
            None => render(lines, &shape, self.step, &mut self.far, model),
        }
        self.drawn = Some((lines.to_vec(), shape));
    }

    /// Broad lines and baseline together.
    fn restore_baseline(&mut self) {
        let (mut broad, sharp): (Vec<FitLine>, Vec<FitLine>) =
            self.found.lines.iter().partition(|l| l.width == WidthKind::Broad);
        let fwhm = self.found.shape.fwhm().0;
        self.show(&sharp);
        let noise = &self.found.noise;
        let settings = self.settings;
        let allowance = self.found.allowance(self.step);
        let grid = Grid::new(
            &self.values,
            &self.found.model,
            &allowance,
            &|i| noise.sigma(i),
            self.step,
            &settings.baseline,
        );
        if settings.baseline.enabled {
            broad = broad::find_broad(&grid, broad, fwhm, &settings.lines);
        }
        let taken = broad::sum(&grid, &broad, fwhm);
        self.found.baseline = baseline::fit(&grid, &taken, self.values.len(), &settings.baseline);
        self.found.baseline.write(&mut self.found.baseline_values);
        self.found.lines = sharp;
        self.found.lines.extend(broad);
        self.sort();
        self.render();
        self.flatten();
    }

    /// The noise again, lines taken away.
    fn measure_noise(&mut self) {
        let left: Vec<f64> = self.flat.iter().zip(&self.found.model).map(|(f, m)| f - m).collect();
        self.found.noise = measured(&left, &self.found.baseline.free_points(), self.least);
        if self.settings.baseline.enabled {
            self.found.noise.restore(self.settings.baseline.period_hz, self.step);
        }
    }

    /// Lines that stand out of what the model leaves.
    fn add_from_residual(&mut self) {
        let left: Vec<f64> = self.flat.iter().zip(&self.found.model).map(|(f, m)| f - m).collect();
        let allowance = self.found.allowance(self.step);
        let width = self.found.shape.fwhm().0 / self.step;
        let candidates = detect::matched(&left, &self.found.noise, width, &allowance, self.cut);
        let same = SAME_LINE * self.found.shape.fwhm().0;
        for seed in seeds(&candidates, &self.found.shape, self.step) {
            if self.found.lines.iter().all(|l| (l.position - seed.position).abs() > same * l.factor) {
                self.found.lines.push(seed);
            }
        }
    }

    fn finish(mut self) -> Found {
        self.sort();
        self.found
    }
}

/// The noise of what is left, or white noise of the least size where there is less: no line shape can be told to the last digit of
/// a computed spectrum. A noise of 0 stays so: `left` is no number then, since the baseline could not be fitted, and a size for it would make
/// everything a line.
fn measured(left: &[f64], free: &[bool], least: f64) -> Noise {
    let noise = Noise::measure(left, free);
    if noise.typical() > 0.0 && noise.typical() < least { Noise::white(least, left.len()) } else { noise }
}

/// By growing position.
fn sort(lines: &mut [FitLine]) {
    lines.sort_by(|a, b| a.position.total_cmp(&b.position));
}

fn seeds(candidates: &[Candidate], shape: &LineShape, step: f64) -> Vec<FitLine> {
    candidates
        .iter()
        .map(|c| FitLine::new(c.position * step, c.height.max(0.0) / shape.height(1.0), 1.0))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A Lorentzian 35 Hz wide and 3000 times the noise, as of a group that exchanges places, beside sharp ones: its area is found, by one
    /// line or by several.
    #[test]
    fn a_broad_line_far_above_the_noise_is_no_baseline() {
        let lorentzian = |hz: f64, at: f64, width: f64, area: f64| {
            area / std::f64::consts::PI * (width / 2.0) / ((width / 2.0).powi(2) + (hz - at).powi(2))
        };
        let noise = |i: usize| 0.6 * (libm::sin(12.9898 * i as f64) * 43_758.545_3).fract();
        let area = 1000.0 * 35.0 * std::f64::consts::FRAC_PI_2;
        let values: Vec<f64> = (0..32768)
            .map(|i| (0.1 * i as f64, i))
            .map(|(hz, i)| {
                let sharp = lorentzian(hz, 700.0, 1.2, 4000.0) + lorentzian(hz, 1300.0, 1.2, 6000.0);
                sharp + lorentzian(hz, 2000.0, 35.0, area) + noise(i)
            })
            .collect();
        let found = find(&values, 0.1, &Settings::default());
        let near = found.lines.iter().filter(|line| (line.position - 2000.0).abs() < 50.0);
        let sum: f64 = near.map(|line| line.area).sum();
        assert!((sum / area - 1.0).abs() < 0.05, "{} of it, as {:?}", sum / area, found.lines);
    }
}
