//! One phase for all lines of a cluster: a joint fit of several poles.

use lees_core::complex::{argument, modulus, polar};
use std::ops::Range;

use nalgebra::{DMatrix, DVector};
use num_complex::Complex64;

use super::joint::{Drawn, gradient, product, products};
use super::quiet::ComplexNoise;
use super::{FittedLine, Pole};
use crate::dot;
use crate::factor::Factor;

/// A line of a cluster: place, half width (points) and height-times-width, real since the phase is shared.
#[derive(Debug, Clone, Copy)]
struct Member {
    position: f64,
    width: f64,
    area: f64,
}

/// Averaged points of the surroundings of a cluster's lines, others' tails taken off.
#[derive(Debug, Clone)]
pub(super) struct Patch {
    index: Vec<f64>,
    points: Vec<Complex64>,
    strides: Vec<f64>,
    /// Half the variance of the places averaged into each point, over which a line bends.
    blurs: Vec<f64>,
    /// The same times the root weights.
    blur_weights: Vec<f64>,
    /// Root weights of the points, the same times their place from the middle in reaches, and times its square.
    base: [Vec<f64>; 3],
    fine: f64,
    middle: f64,
    reach: f64,
}

/// Half widths looked at on either side of each line.
const REACH: f64 = 40.0;
/// Half widths on either side of each line within which averaging is fine.
const NEAR: f64 = 8.0;
/// Points further out are averaged over this many times as many.
const FAR_STRIDE: usize = 5;
/// Half widths around lines of other clusters that are left out.
const AVOID: f64 = 10.0;
/// Averaged points a half width.
const PER_HALF_WIDTH: f64 = 2.0;
/// Lines of one spectrum are about equally wide (the magnet broadens all alike): deviation of the logarithm.
const WIDTH_SPREAD: f64 = 0.25;
/// Rounds of adding lines where the residual asks for them, and steps of the fit in each.
const ROUNDS: usize = 6;
const STEPS: usize = 3;
const LAST_STEPS: usize = 4;
/// A residual over this many deviations is another line.
const ADD_AT: f64 = 5.0;
/// Most lines of a cluster: the time grows with the cube.
const MOST_MEMBERS: usize = 40;
/// Base: a complex parabola, six real numbers, for broad signals beneath; one more for the phase.
pub(super) const COMMON: usize = 7;
/// Longest step, in half widths and in the logarithm of a width.
const LONGEST: f64 = 0.5;
/// A line under this many deviations is dropped.
const DROP_UNDER: f64 = 2.0;
/// Mean squared residual that noise alone reaches.
pub(super) const BY_NOISE: f64 = 1.2;
/// Radians of phase a misfit of one deviation stands for, in standard uncertainties of the phase.
const U_PER_MISFIT: f64 = 1.0;

/// Fits the lines of one cluster with one phase, which changes by `slope` radians a point between them. `others` are
/// the lines elsewhere. Gives the line that stands for all, at the place where their phase is known best, and the
/// lines themselves; `None` when nothing sensible comes out.
pub(super) fn fit_cluster(
    parts: (&[f64], &[f64]),
    group: &[Pole],
    others: &[Pole],
    slope: f64,
    usual: f64,
    noise: ComplexNoise,
) -> Option<(FittedLine, Vec<Pole>)> {
    let patch = cut(parts, group, others, usual, noise.sigma);
    if patch.points.len() < 3 * group.len() + COMMON {
        return None;
    }
    let mut state = State::start(group, &patch, slope, usual, noise);
    for _ in 0..ROUNDS {
        state.steps(&patch, STEPS)?;
        state.drop_weak();
        if !state.add(&patch) {
            break;
        }
    }
    let (variance, misfit) = state.steps(&patch, LAST_STEPS)?;
    let u =
        (variance * noise.sigma * noise.sigma * (noise.colour / patch.fine).max(f64::MIN_POSITIVE)).sqrt();
    let excess = (misfit / (state.sigma * state.sigma) - BY_NOISE).max(0.0);
    let line = state.line(&patch, u, U_PER_MISFIT * u * excess.sqrt(), noise.sigma);
    let sound = u.is_finite() && line.pole.position.is_finite() && line.phase.is_finite();
    sound.then(|| (line, state.poles(&patch)))
}

struct State {
    members: Vec<Member>,
    phase: f64,
    base: [Complex64; 3],
    slope: f64,
    usual: f64,
    sigma: f64,
}

impl State {
    fn start(group: &[Pole], patch: &Patch, slope: f64, usual: f64, noise: ComplexNoise) -> Self {
        let back = |pole: &Pole| pole.amplitude * polar(1.0, -slope * (pole.position - patch.middle));
        let total: Complex64 = group.iter().map(back).sum();
        let member =
            |p: &Pole| Member { position: p.position, width: p.half_width, area: modulus(p.amplitude) };
        Self {
            members: group.iter().map(member).collect(),
            phase: argument(total),
            base: [Complex64::ZERO; 3],
            slope,
            usual,
            sigma: noise.sigma * (noise.colour / patch.fine).min(1.0).sqrt(),
        }
    }

    /// The line that stands for all, at the centre of the lines' energy.
    fn line(&self, patch: &Patch, u: f64, u_shape: f64, sigma: f64) -> FittedLine {
        let energy = |m: &Member| m.area * m.area / m.width;
        let whole: f64 = self.members.iter().map(energy).sum();
        let position = self.members.iter().map(|m| energy(m) * m.position).sum::<f64>() / whole;
        let area: f64 = self.members.iter().map(|m| m.area).sum();
        let amplitude = self.turn(position, patch) * area;
        let height = self.members.iter().map(|m| m.area / m.width).fold(0.0, f64::max);
        let pole = Pole { position, half_width: self.usual, amplitude };
        FittedLine {
            pole,
            phase: argument(amplitude),
            u,
            u_shape,
            snr: height / sigma.max(f64::MIN_POSITIVE),
        }
    }

    fn poles(&self, patch: &Patch) -> Vec<Pole> {
        let pole = |m: &Member| Pole {
            position: m.position,
            half_width: m.width,
            amplitude: self.turn(m.position, patch) * m.area,
        };
        self.members.iter().map(pole).collect()
    }

    fn turn(&self, position: f64, patch: &Patch) -> Complex64 {
        polar(1.0, self.phase + self.slope * (position - patch.middle))
    }

    /// Gauss-Newton steps; the phase's variance for unit noise and the mean squared residual of one channel.
    fn steps(&mut self, patch: &Patch, count: usize) -> Option<(f64, f64)> {
        let mut last: Option<(Factor, f64)> = None;
        let mut drawn = Vec::new();
        for _ in 0..count {
            self.draw(patch, &mut drawn);
            let residual = self.residual(patch, &drawn);
            let factor = Factor::of(&self.normal(patch, &drawn))?;
            let step = factor.solve(&self.gradient(patch, &drawn, &residual));
            self.apply(&step);
            last = Some((factor, dot(&residual, &residual)));
            if step[0].abs() < 1e-5
                && step.iter().skip(COMMON).step_by(3).all(|d| d.abs() < 1e-3 * self.usual)
            {
                break;
            }
        }
        let unknowns = 3 * self.members.len() + COMMON;
        let freedom = (2 * patch.points.len()).saturating_sub(unknowns).max(1) as f64;
        last.map(|(factor, squares)| (factor.variance(0), squares / freedom))
    }

    /// Weight of what is known of the widths beforehand.
    fn prior(&self) -> f64 {
        self.sigma * self.sigma / (WIDTH_SPREAD * WIDTH_SPREAD)
    }

    /// Matrix of the normal equations: phase, base, then place, log width and relative area of each line.
    fn normal(&self, patch: &Patch, drawn: &[Drawn]) -> DMatrix<f64> {
        let mut normal = products(&patch.base, drawn);
        for at in (0..drawn.len()).map(|l| COMMON + 3 * l) {
            normal[(at + 1, at + 1)] += self.prior();
            for i in 0..3 {
                normal[(at + i, at + i)] *= 1.0 + 1e-9;
            }
        }
        normal
    }

    /// Their right side.
    fn gradient(&self, patch: &Patch, drawn: &[Drawn], residual: &[f64]) -> DVector<f64> {
        let mut right = gradient(&patch.base, drawn, residual);
        for (l, m) in self.members.iter().enumerate() {
            right[COMMON + 3 * l + 1] += self.prior() * libm::log(self.usual / m.width);
        }
        right
    }

    /// Draws all lines, in the place of what was drawn before.
    fn draw(&self, patch: &Patch, drawn: &mut Vec<Drawn>) {
        let length = 2 * patch.points.len();
        drawn.resize_with(self.members.len(), || Drawn::empty(length));
        let mut sharp = vec![0.0; length];
        for (member, line) in self.members.iter().zip(drawn) {
            self.draw_one(member, patch, line, &mut sharp);
            line.by_base = patch.base.each_ref().map(|own| product(own, &sharp));
            line.bend_by_base = patch.base.each_ref().map(|own| product(own, &line.bend));
            line.by_blur = [product(&patch.blur_weights, &sharp), product(&patch.blur_weights, &line.bend)];
        }
    }

    /// Draws a line; `sharp` is where the line goes as it is without its points' blur.
    fn draw_one(&self, member: &Member, patch: &Patch, drawn: &mut Drawn, sharp: &mut [f64]) {
        let half = patch.points.len();
        let c = self.turn(member.position, patch) * member.area;
        let (value_re, value_im) = drawn.value.split_at_mut(half);
        let (bend_re, bend_im) = drawn.bend.split_at_mut(half);
        let (sharp_re, sharp_im) = sharp.split_at_mut(half);
        let (index, blurs, weights) = (&patch.index[..half], &patch.blurs[..half], &patch.base[0][..half]);
        let (value_im, bend_re, bend_im) =
            (&mut value_im[..half], &mut bend_re[..half], &mut bend_im[..half]);
        let (sharp_re, sharp_im) = (&mut sharp_re[..half], &mut sharp_im[..half]);
        // in real numbers, which compilers turn into vector code: f = 1 / (width + i (position - z))
        for k in 0..half {
            let away = member.position - index[k];
            let q = (member.width * member.width + away * away).recip();
            let (f_re, f_im) = (member.width * q, -away * q);
            let first_re = (c.re * f_re - c.im * f_im) * weights[k];
            let first_im = (c.re * f_im + c.im * f_re) * weights[k];
            let blurred_re = 1.0 - blurs[k] * (f_re * f_re - f_im * f_im);
            let blurred_im = -2.0 * blurs[k] * f_re * f_im;
            (sharp_re[k], sharp_im[k]) = (first_re, first_im);
            value_re[k] = first_re * blurred_re - first_im * blurred_im;
            value_im[k] = first_re * blurred_im + first_im * blurred_re;
            bend_re[k] = first_re * f_re - first_im * f_im;
            bend_im[k] = first_re * f_im + first_im * f_re;
        }
        (drawn.position, drawn.width, drawn.amplitude) = (member.position, member.width, c);
    }

    fn apply(&mut self, step: &DVector<f64>) {
        self.phase += step[0].clamp(-LONGEST, LONGEST);
        self.base[0] += Complex64::new(step[1], step[2]);
        self.base[1] += Complex64::new(step[3], step[4]);
        self.base[2] += Complex64::new(step[5], step[6]);
        for (l, m) in self.members.iter_mut().enumerate() {
            let at = COMMON + 3 * l;
            m.position += step[at].clamp(-LONGEST * m.width, LONGEST * m.width);
            m.width *= libm::exp(step[at + 1].clamp(-LONGEST, LONGEST));
            m.area *= step[at + 2].clamp(-0.8, 2.0) + 1.0;
        }
    }

    fn drop_weak(&mut self) {
        let (sigma, usual) = (self.sigma, self.usual);
        let strongest = self.members.iter().map(|m| m.area).fold(0.0, f64::max);
        self.members.retain(|m| {
            m.area == strongest
                || (m.area / m.width * (m.width / usual).sqrt() > DROP_UNDER * sigma
                    && m.width < 60.0 * usual)
        });
    }

    /// Adds lines at the tallest places of the residual; whether there were any.
    fn add(&mut self, patch: &Patch) -> bool {
        let back = polar(1.0, -self.phase);
        let mut drawn = Vec::new();
        self.draw(patch, &mut drawn);
        // finely averaged points have weight 1
        let weighted = self.residual(patch, &drawn);
        let (re, im) = weighted.split_at(patch.points.len());
        let turned = re.iter().zip(im).map(|(re, im)| Complex64::new(*re, *im) * back);
        let (re, im): (Vec<f64>, Vec<f64>) = turned.map(|r| (r.re, r.im)).unzip();
        let reach = (4.0 * self.usual / patch.fine).ceil() as usize;
        // a score is the real part of the residual times the profile's conjugate, within a run of fine points
        let (profile_re, profile_im): (Vec<f64>, Vec<f64>) = (0..=2 * reach)
            .map(|d| Complex64::new(self.usual, -(d as f64 - reach as f64) * patch.fine).inv())
            .map(|profile| (profile.re, profile.im))
            .unzip();
        let norm = dot(&profile_re, &profile_re) + dot(&profile_im, &profile_im);
        let mut scores = vec![0.0; patch.points.len()];
        for run in patch.runs() {
            for k in run.clone() {
                let near = k.saturating_sub(reach).max(run.start)..(k + reach + 1).min(run.end);
                let from = near.start + reach - k;
                scores[k] = dot(&re[near.clone()], &profile_re[from..]) + dot(&im[near], &profile_im[from..]);
            }
        }
        let limit = ADD_AT * self.sigma * norm.sqrt();
        let mut order: Vec<usize> = (0..scores.len()).filter(|&k| scores[k] > limit).collect();
        order.sort_by(|&a, &b| scores[b].total_cmp(&scores[a]));
        let before = self.members.len();
        for k in order {
            let z = patch.index[k];
            let apart = self.members[before..].iter().all(|m| (m.position - z).abs() > 4.0 * self.usual);
            if apart
                && self.members.len() < MOST_MEMBERS
                && 2 * patch.points.len() > 4 * self.members.len() + 10
            {
                self.members.push(Member { position: z, width: self.usual, area: scores[k] / norm });
            }
        }
        self.members.len() > before
    }

    /// What the lines, as drawn, and the base leave of the points, weighted: real parts, then imaginary parts.
    fn residual(&self, patch: &Patch, drawn: &[Drawn]) -> Vec<f64> {
        let mut left = patch.weighted();
        let (re, im) = left.split_at_mut(patch.points.len());
        for (size, base) in self.base.iter().zip(&patch.base) {
            re.iter_mut().zip(base).for_each(|(left, base)| *left -= size.re * base);
            im.iter_mut().zip(base).for_each(|(left, base)| *left -= size.im * base);
        }
        for line in drawn {
            left.iter_mut().zip(&line.value).for_each(|(left, value)| *left -= value);
        }
        left
    }
}

impl Patch {
    /// Runs of neighbouring points averaged finely.
    fn runs(&self) -> Vec<Range<usize>> {
        let mut runs: Vec<Range<usize>> = Vec::new();
        for (k, (stride, index)) in self.strides.iter().zip(&self.index).enumerate() {
            if *stride > self.fine {
                continue;
            }
            match runs.last_mut() {
                Some(run) if run.end == k && index - self.index[k - 1] == self.fine => run.end = k + 1,
                _ => runs.push(k..k + 1),
            }
        }
        runs
    }

    /// The points times their root weights: real parts, then imaginary parts.
    fn weighted(&self) -> Vec<f64> {
        let weigh = |part: fn(&Complex64) -> f64| {
            self.points.iter().zip(&self.base[0]).map(move |(value, weight)| part(value) * weight)
        };
        weigh(|value| value.re).chain(weigh(|value| value.im)).collect()
    }
}

/// Averages the points around the lines, more of them further out, and takes off the others' tails.
fn cut(parts: (&[f64], &[f64]), group: &[Pole], others: &[Pole], usual: f64, sigma: f64) -> Patch {
    let (re, im) = parts;
    let fine = ((usual / PER_HALF_WIDTH) as usize).max(1);
    let mut places: Vec<f64> = group.iter().map(|pole| pole.position).collect();
    places.sort_by(f64::total_cmp);
    let (near, reach) = ((NEAR * usual).max(6.0), (REACH * usual).max(12.0));
    let (low, high) = (places[0] - reach, places[places.len() - 1] + reach);
    let (start, end) = (low.max(0.0) as usize, (high.max(0.0) as usize).min(re.len()));
    let mut patch = Patch {
        index: Vec::new(),
        points: Vec::new(),
        strides: Vec::new(),
        blurs: Vec::new(),
        blur_weights: Vec::new(),
        base: [const { Vec::new() }; 3],
        fine: fine as f64,
        middle: 0.5 * (low + high),
        reach: 0.5 * (high - low),
    };
    let distance = |z: f64, places: &[f64]| {
        let next = places.partition_point(|&p| p < z);
        let left = next.checked_sub(1).map_or(f64::INFINITY, |i| z - places[i]);
        left.min(places.get(next).map_or(f64::INFINITY, |p| p - z))
    };
    let mut foreign: Vec<f64> = others.iter().map(|pole| pole.position).collect();
    foreign.sort_by(f64::total_cmp);
    let mut first = start;
    while first + fine <= end {
        let at = distance(first as f64 + 0.5 * fine as f64, &places);
        let stride = if at <= near { fine } else { FAR_STRIDE * fine };
        if first + stride > end {
            break;
        }
        let z = first as f64 + (stride - 1) as f64 / 2.0;
        let range = first..first + stride;
        first += stride;
        if distance(z, &places) > reach || distance(z, &foreign) < AVOID * usual {
            continue;
        }
        let sum = Complex64::new(re[range.clone()].iter().sum(), im[range].iter().sum());
        patch.index.push(z);
        patch.points.push(sum / stride as f64);
        patch.strides.push(stride as f64);
        let blur = ((stride * stride) as f64 - 1.0) / 12.0;
        patch.blurs.push(blur);
        let (weight, t) = ((stride as f64 / patch.fine).sqrt(), (z - patch.middle) / patch.reach);
        patch.blur_weights.push(blur * weight);
        patch.base.iter_mut().zip([weight, weight * t, weight * t * t]).for_each(|(base, w)| base.push(w));
    }
    for pole in others {
        let distance = (pole.position - patch.middle).abs().max(patch.reach);
        if modulus(pole.amplitude) / distance * (patch.reach / distance).powi(2) > 0.05 * sigma {
            for (z, y) in patch.index.iter().zip(&mut patch.points) {
                *y -= pole.at(*z);
            }
        }
    }
    patch
}
