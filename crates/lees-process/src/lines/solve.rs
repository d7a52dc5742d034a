//! One cluster: separable least squares.
//!
//! Areas and a straight local baseline are linear and solved exactly at every step (variable projection, Golub &
//! Pereyra, SIAM J. Numer. Anal. 1973, 10, 413, in the form of a joint Gauss-Newton step); positions and width
//! factors follow by Levenberg-Marquardt with analytic derivatives.

use nalgebra::{Cholesky, DMatrix, DVector};

use super::linear::{Slopes, nonnegative};
use super::prior::{TIE, ties};
use super::{FitLine, LineSettings, lorentzian_of};
use crate::factor::Factor;
use crate::lineshape::Row;
use crate::{LineShape, dot};

/// Most steps of Levenberg-Marquardt.
const MOST_STEPS: usize = 25;
/// Most dampings tried for one step.
const MOST_TRIALS: usize = 5;
/// A step that lowers chi-square by less ends the fit ...
const SMALL_GAIN: f64 = 0.01;
/// ... or by less than this share of it.
const SMALL_SHARE: f64 = 1e-5;
/// Derivative columns reach this many widths from the line: beyond, they no longer steer it.
const DERIVATIVE_REACH: f64 = 6.0;
/// First damping of the nonlinear parameters.
const FIRST_DAMPING: f64 = 1e-3;

/// What a window holds.
#[derive(Debug, Clone, Copy)]
pub struct Window<'a> {
    /// Spectrum less baseline and all lines outside the cluster.
    pub values: &'a [f64],
    /// Standard deviation of every point.
    pub sigma: &'a [f64],
    /// Frequency of the first point, hertz from the spectrum's first point.
    pub origin: f64,
    /// Hertz from point to point.
    pub step: f64,
}

/// The outcome of a cluster's fit.
#[derive(Debug, Clone)]
pub struct Fit {
    /// Weighted sum of squared residuals.
    pub chi2: f64,
    /// The local baseline at the window's middle, intensity.
    pub offset: f64,
    /// The local baseline's rise from end to end, intensity.
    pub rise: f64,
    /// Covariance of the areas (white noise of the given sigma), in the order of the lines.
    pub area_covariance: DMatrix<f64>,
    /// Steps taken.
    pub steps: usize,
}

/// Trial values and everything that follows from them.
pub(super) struct State {
    pub(super) lines: Vec<FitLine>,
    /// Derivatives by position and logarithmic width, per unit area.
    slopes: Vec<Slopes>,
    /// Each line's values, one line after the other.
    values: Vec<f64>,
    /// Inner products of the lines' values and the local line's two columns.
    gram: DMatrix<f64>,
    residual: Vec<f64>,
    pub(super) linear: DVector<f64>,
    /// What is left of the inner products of these columns with the data.
    left: DVector<f64>,
    objective: f64,
    chi2: f64,
}

pub(super) struct Problem<'a> {
    window: Window<'a>,
    pub(super) shape: &'a LineShape,
    lorentzian: LineShape,
    pub(super) settings: &'a LineSettings,
    start: Vec<FitLine>,
    pub(super) weights: Vec<f64>,
    /// The window's values, weighted.
    data: Vec<f64>,
    /// The local line: a constant and a slope, weighted.
    base: [Vec<f64>; 2],
    pub(super) hold_widths: bool,
    pub(super) ties: Vec<(usize, usize)>,
    pub(super) tallest: f64,
}

/// Fits positions, width factors and areas of `lines` to the window and writes them back with uncertainties for
/// white noise. With `hold_widths` the width factors stay.
///
/// Returns `None`, and leaves the lines alone, when the window has fewer points than parameters or the normal
/// equations cannot be solved.
pub(crate) fn fit_cluster(
    window: Window<'_>,
    lines: &mut [FitLine],
    shape: &LineShape,
    settings: &LineSettings,
    hold_widths: bool,
) -> Option<Fit> {
    let m = window.values.len();
    if m < 3 * lines.len() + 2 || lines.is_empty() || window.sigma.len() != m {
        return None;
    }
    let weights: Vec<f64> = window.sigma.iter().map(|s| 1.0 / s.max(f64::MIN_POSITIVE)).collect();
    let data = window.values.iter().zip(&weights).map(|(v, w)| v * w).collect();
    let slope = weights.iter().enumerate().map(|(i, w)| w * ((i as f64 + 0.5) / m as f64 - 0.5)).collect();
    let base = [weights.clone(), slope];
    let lorentzian = lorentzian_of(shape);
    let tallest = window.values.iter().fold(0.0f64, |most, v| most.max(v.abs()));
    let ties = ties(lines, shape.fwhm().0);
    let start = lines.to_vec();
    let problem = Problem {
        window,
        shape,
        lorentzian,
        settings,
        start,
        weights,
        data,
        base,
        hold_widths,
        ties,
        tallest,
    };
    let mut state = problem.evaluate(lines.to_vec())?;
    let mut damping = FIRST_DAMPING;
    let mut steps = 0;
    while steps < MOST_STEPS {
        steps += 1;
        let (normal, gradient) = problem.normal_equations(&state);
        let (next, gain) = problem.best_step(&state, &normal, &gradient, &mut damping);
        let Some(next) = next else { break };
        state = next;
        if gain < SMALL_GAIN + SMALL_SHARE * state.objective {
            break;
        }
    }
    problem.finish(state, lines, steps)
}

impl Problem<'_> {
    fn points(&self) -> usize {
        self.window.values.len()
    }

    pub(super) fn count(&self) -> usize {
        self.start.len()
    }

    fn evaluate(&self, lines: Vec<FitLine>) -> Option<State> {
        let m = self.points();
        let mut values = vec![0.0; m * self.count()];
        let columns = lines.iter().zip(values.chunks_exact_mut(m));
        let slopes: Vec<Slopes> = columns.map(|(line, values)| self.draw(line, values)).collect();
        let (gram, right) = self.products(&values);
        let linear = self.solve_linear(gram.clone(), right.clone())?;
        let left = right - &gram * &linear;
        Some(self.complete(State {
            lines,
            slopes,
            values,
            gram,
            residual: Vec::new(),
            linear,
            left,
            objective: 0.0,
            chi2: 0.0,
        }))
    }

    /// Adds a line's values to a column of zeros and gives its derivatives, all weighted.
    fn draw(&self, line: &FitLine, values: &mut [f64]) -> Slopes {
        let (near, far) = self.support(line);
        let shape = line.shape(self.shape, &self.lorentzian);
        let Window { origin, step, .. } = self.window;
        let row = |i: usize| Row::about(line.position, origin + i as f64 * step, step);
        shape.add_row(row(0), line.factor, 1.0, &mut values[..near]);
        shape.add_row(row(far), line.factor, 1.0, &mut values[far..]);
        let mut slopes =
            Slopes { first: near, by_position: vec![0.0; far - near], by_width: vec![0.0; far - near] };
        let weights = &self.weights[near..far];
        let here = &mut values[near..far];
        shape.each_point(row(near), line.factor, far - near, |i, point| {
            here[i] = point.value;
            slopes.by_position[i] = -weights[i] * point.by_offset;
            slopes.by_width[i] = weights[i] * point.by_factor * line.factor;
        });
        values.iter_mut().zip(&self.weights).for_each(|(value, w)| *value *= w);
        slopes
    }

    fn support(&self, line: &FitLine) -> (usize, usize) {
        let reach = DERIVATIVE_REACH * self.shape.fwhm().0 * line.factor;
        let index = |x: f64| ((x - self.window.origin) / self.window.step).max(0.0) as usize;
        let near = index(line.position - reach).min(self.points());
        (near, (index(line.position + reach) + 1).clamp(near, self.points()))
    }

    /// A column that areas and local line are linear in: a line's values, or one of the local line's.
    fn column<'a>(&'a self, values: &'a [f64], k: usize) -> &'a [f64] {
        let m = self.points();
        match k.checked_sub(self.count()) {
            Some(base) => &self.base[base],
            None => &values[k * m..(k + 1) * m],
        }
    }

    /// Inner products of these columns, and of each with the data.
    fn products(&self, values: &[f64]) -> (DMatrix<f64>, DVector<f64>) {
        let q = self.count() + 2;
        let mut gram = DMatrix::zeros(q, q);
        let mut right = DVector::zeros(q);
        for a in 0..q {
            let column = self.column(values, a);
            for b in 0..=a {
                gram[(a, b)] = dot(column, self.column(values, b));
                gram[(b, a)] = gram[(a, b)];
            }
            right[a] = dot(column, &self.data);
        }
        (gram, right)
    }

    /// Areas (never negative) and local line.
    fn solve_linear(&self, mut gram: DMatrix<f64>, right: DVector<f64>) -> Option<DVector<f64>> {
        let p = self.count();
        let pull = self.local_line_pull();
        gram[(p, p)] += pull;
        gram[(p + 1, p + 1)] += pull;
        nonnegative(gram, right, p)
    }

    fn complete(&self, mut state: State) -> State {
        let p = self.count();
        let State { lines, linear, values, .. } = &mut state;
        let mut residual = self.data.clone();
        for (k, &c) in linear.iter().enumerate().filter(|(_, c)| **c != 0.0) {
            residual.iter_mut().zip(self.column(values, k)).for_each(|(r, v)| *r -= c * v);
        }
        lines.iter_mut().zip(linear.iter()).for_each(|(line, area)| line.area = *area);
        let chi2 = dot(&residual, &residual);
        let prior: f64 = lines.iter().map(|l| self.tightness(l) * libm::log(l.factor).powi(2)).sum();
        let pull = self.local_line_pull() * (linear[p].powi(2) + linear[p + 1].powi(2));
        let ties: f64 =
            self.ties.iter().map(|(a, b)| TIE * libm::log(lines[*a].factor / lines[*b].factor).powi(2)).sum();
        let objective = chi2 + pull + if self.hold_widths { 0.0 } else { prior + ties };
        State { residual, chi2, objective, ..state }
    }

    /// Joint normal equations of areas, local line, positions and logarithmic widths.
    fn normal_equations(&self, state: &State) -> (DMatrix<f64>, DVector<f64>) {
        let p = self.count();
        let linear = p + 2;
        let q = if self.hold_widths { linear + p } else { linear + 2 * p };
        let mut normal = DMatrix::zeros(q, q);
        let mut gradient = DVector::zeros(q);
        normal.view_mut((0, 0), (linear, linear)).copy_from(&state.gram);
        gradient.rows_mut(0, linear).copy_from(&state.left);
        // a derivative's line and its column
        let derivative = |a: usize| {
            let slopes = &state.slopes[(a - linear) % p];
            (slopes, if a < linear + p { &slopes.by_position[..] } else { &slopes.by_width[..] })
        };
        for a in linear..q {
            let (slopes, own) = derivative(a);
            let scale = state.lines[(a - linear) % p].area;
            for b in 0..=a {
                normal[(a, b)] = if b < linear {
                    scale * slopes.times(own, self.column(&state.values, b))
                } else {
                    let (other, theirs) = derivative(b);
                    scale * state.lines[(b - linear) % p].area * slopes.times_slope(own, other, theirs)
                };
                normal[(b, a)] = normal[(a, b)];
            }
            gradient[a] = scale * slopes.times(own, &state.residual);
        }
        self.add_priors(state, &mut normal, &mut gradient);
        (normal, gradient)
    }

    /// Raises the damping until a step lowers the objective; `None` when none does.
    fn best_step(
        &self,
        state: &State,
        normal: &DMatrix<f64>,
        gradient: &DVector<f64>,
        damping: &mut f64,
    ) -> (Option<State>, f64) {
        let p = self.count();
        for _ in 0..MOST_TRIALS {
            let mut damped = normal.clone();
            for k in p + 2..damped.nrows() {
                damped[(k, k)] *= 1.0 + *damping;
            }
            let next = Factor::of(&damped)
                .map(|factor| factor.solve(gradient))
                .and_then(|step| self.evaluate(self.moved(&state.lines, &step)));
            if let Some(next) = next {
                let gain = state.objective - next.objective;
                if gain > 0.0 {
                    *damping = (*damping / 6.0).max(1e-9);
                    return (Some(next), gain);
                }
                if gain > -SMALL_GAIN {
                    return (None, 0.0);
                }
            }
            *damping = (*damping * 8.0).max(1e-4);
        }
        (None, 0.0)
    }

    fn moved(&self, lines: &[FitLine], step: &DVector<f64>) -> Vec<FitLine> {
        let p = self.count();
        let width = self.shape.fwhm().0;
        let mut out = lines.to_vec();
        for (k, line) in out.iter_mut().enumerate() {
            let leash = width * self.start[k].factor.max(1.0);
            let reach = 0.7 * width * line.factor;
            line.position = (line.position + step[p + 2 + k].clamp(-reach, reach))
                .clamp(self.start[k].position - leash, self.start[k].position + leash);
            if !self.hold_widths {
                let (least, most) = self.width_bounds(line);
                line.factor =
                    (line.factor * libm::exp(step[2 * p + 2 + k].clamp(-0.5, 0.5))).clamp(least, most);
            }
        }
        out
    }

    fn finish(&self, state: State, lines: &mut [FitLine], steps: usize) -> Option<Fit> {
        let p = self.count();
        let (normal, _) = self.normal_equations(&state);
        let covariance = Cholesky::new(normal)?.inverse();
        for (k, (line, fitted)) in lines.iter_mut().zip(&state.lines).enumerate() {
            *line = *fitted;
            line.area_u = covariance[(k, k)].max(0.0).sqrt();
            line.position_u = covariance[(p + 2 + k, p + 2 + k)].max(0.0).sqrt();
            line.factor_u = if self.hold_widths {
                0.0
            } else {
                line.factor * covariance[(2 * p + 2 + k, 2 * p + 2 + k)].max(0.0).sqrt()
            };
        }
        Some(Fit {
            chi2: state.chi2,
            offset: state.linear[p],
            rise: state.linear[p + 1],
            area_covariance: covariance.view((0, 0), (p, p)).into_owned(),
            steps,
        })
    }
}
