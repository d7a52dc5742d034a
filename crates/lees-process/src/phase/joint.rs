//! Normal equations of lines that share a phase.

use std::ops::Range;

use nalgebra::{DMatrix, DVector};

use super::cluster::COMMON;
use crate::dot;

/// A line at the points of a patch, weighted: real parts, then imaginary parts.
pub(super) struct Drawn {
    /// The line itself: its derivative by the logarithm of its area.
    pub(super) value: Vec<f64>,
    /// What changes with place (times `-i`) and with the logarithm of the width (times `-width`).
    pub(super) bend: Vec<f64>,
    /// Points where `bend` counts in products with other columns.
    pub(super) near: Range<usize>,
    /// Half width.
    pub(super) width: f64,
}

impl Drawn {
    /// Real and imaginary part of `sum conj(column) bend` over a range of points.
    fn bent(&self, column: &[f64], range: &Range<usize>) -> (f64, f64) {
        let (a, b) = (parts(column, range), parts(&self.bend, range));
        (dot(a.0, b.0) + dot(a.1, b.1), dot(a.0, b.1) - dot(a.1, b.0))
    }
}

/// Real and imaginary parts of a range of points of a column.
fn parts<'a>(column: &'a [f64], range: &Range<usize>) -> (&'a [f64], &'a [f64]) {
    let (re, im) = column.split_at(column.len() / 2);
    (&re[range.clone()], &im[range.clone()])
}

/// Products of all derivatives with one another: by the phase, a complex parabola (constant, slope, bend; real and imaginary part
/// of each; `base` holds their weighted courses), then place, logarithmic width and relative area of each line. Those by place and
/// width count near their lines.
pub(super) fn products(base: &[Vec<f64>; 3], lines: &[Drawn]) -> DMatrix<f64> {
    let half = base[0].len();
    let unknowns = COMMON + 3 * lines.len();
    let mut normal = DMatrix::zeros(unknowns, unknowns);
    let turned = turned(lines, 2 * half);
    normal[(0, 0)] = dot(&turned, &turned);
    for (a, own) in base.iter().enumerate() {
        for (part, column) in [0, half].into_iter().enumerate() {
            let row = 1 + 2 * a + part;
            normal[(row, 0)] = dot(own, &turned[column..]);
            for (b, other) in base[..=a].iter().enumerate() {
                normal[(row, 1 + 2 * b + part)] = dot(own, other);
            }
        }
    }
    for (l, line) in lines.iter().enumerate() {
        let (place, width, area) = (COMMON + 3 * l, COMMON + 3 * l + 1, COMMON + 3 * l + 2);
        let near = &line.near;
        let mut with_bend = |column: usize, (re, im): (f64, f64)| {
            (normal[(place, column)], normal[(width, column)]) = (im, -line.width * re);
        };
        with_bend(0, line.bent(&turned, near));
        let bend = parts(&line.bend, near);
        for (a, own) in base.iter().enumerate() {
            let (re, im) = (dot(&own[near.clone()], bend.0), dot(&own[near.clone()], bend.1));
            with_bend(1 + 2 * a, (re, im));
            with_bend(2 + 2 * a, (im, -re));
        }
        for (m, other) in lines[..=l].iter().enumerate() {
            let theirs = COMMON + 3 * m;
            with_bend(theirs + 2, line.bent(&other.value, near));
            let both = near.start.max(other.near.start)..near.end.min(other.near.end);
            let (re, im) = if both.is_empty() { (0.0, 0.0) } else { line.bent(&other.bend, &both) };
            // the other's place is its bend times -i, its width its bend times -width
            with_bend(theirs, (-im, re));
            with_bend(theirs + 1, (-other.width * re, -other.width * im));
        }
        normal[(area, 0)] = dot(&line.value, &turned);
        for (a, own) in base.iter().enumerate() {
            normal[(area, 1 + 2 * a)] = dot(own, &line.value);
            normal[(area, 2 + 2 * a)] = dot(own, &line.value[half..]);
        }
        for (m, other) in lines[..=l].iter().enumerate() {
            let theirs = COMMON + 3 * m;
            let (re, im) = other.bent(&line.value, &other.near);
            (normal[(area, theirs)], normal[(area, theirs + 1)]) = (im, -other.width * re);
            normal[(area, theirs + 2)] = dot(&line.value, &other.value);
        }
    }
    normal.fill_upper_triangle_with_lower_triangle();
    normal
}

/// The products of these derivatives with a residual: the gradient, of all points.
pub(super) fn gradient(base: &[Vec<f64>; 3], lines: &[Drawn], residual: &[f64]) -> DVector<f64> {
    let half = base[0].len();
    let mut right = DVector::zeros(COMMON + 3 * lines.len());
    right[0] = dot(&turned(lines, 2 * half), residual);
    for (a, own) in base.iter().enumerate() {
        (right[1 + 2 * a], right[2 + 2 * a]) = (dot(own, residual), dot(own, &residual[half..]));
    }
    for (l, line) in lines.iter().enumerate() {
        let at = COMMON + 3 * l;
        let (re, im) = line.bent(residual, &(0..half));
        (right[at], right[at + 1], right[at + 2]) = (im, -line.width * re, dot(&line.value, residual));
    }
    right
}

/// The change with the phase: all lines, a quarter turn ahead.
fn turned(lines: &[Drawn], length: usize) -> Vec<f64> {
    let half = length / 2;
    let mut turned = vec![0.0; length];
    for line in lines {
        let (ahead, behind) = turned.split_at_mut(half);
        ahead.iter_mut().zip(&line.value[half..]).for_each(|(t, im)| *t -= im);
        behind.iter_mut().zip(&line.value[..half]).for_each(|(t, re)| *t += re);
    }
    turned
}

#[cfg(test)]
mod tests {
    use super::*;
    use num_complex::Complex64;

    /// The equations are those of the derivatives drawn one by one, where all of them count everywhere.
    #[test]
    fn they_are_the_products_of_all_derivatives() {
        let half = 40;
        let weight = |k: usize| 1.0 + 0.3 * (k as f64 * 0.2).sin();
        let t = |k: usize| (k as f64 - 20.0) / 20.0;
        let column = |value: &dyn Fn(usize) -> Complex64| -> Vec<f64> {
            let all: Vec<Complex64> = (0..half).map(|k| value(k) * weight(k)).collect();
            all.iter().map(|v| v.re).chain(all.iter().map(|v| v.im)).collect()
        };
        let line = |at: f64, width: f64, turn: f64, k: usize| {
            let f = Complex64::new(width, at - k as f64).inv();
            (Complex64::cis(turn) * f, Complex64::cis(turn) * f * f)
        };
        let lines = [(12.3, 2.0, 0.4), (19.0, 2.6, 0.5)];
        let drawn: Vec<Drawn> = lines
            .iter()
            .map(|&(at, width, turn)| Drawn {
                value: column(&|k| line(at, width, turn, k).0),
                bend: column(&|k| line(at, width, turn, k).1),
                near: 0..half,
                width,
            })
            .collect();
        let base = [0, 1, 2].map(|power| (0..half).map(|k| weight(k) * t(k).powi(power)).collect());
        let residual = column(&|k| Complex64::new((k as f64).sin(), (3.0 * k as f64).cos()));
        let all =
            |k: usize| lines.iter().map(|&(at, width, turn)| line(at, width, turn, k).0).sum::<Complex64>();
        let mut derivatives = vec![column(&|k| Complex64::I * all(k))];
        for power in 0..3 {
            derivatives.push(column(&|k| Complex64::from(t(k).powi(power))));
            derivatives.push(column(&|k| Complex64::new(0.0, t(k).powi(power))));
        }
        for (at, width, turn) in lines {
            derivatives.push(column(&|k| -Complex64::I * line(at, width, turn, k).1));
            derivatives.push(column(&|k| -width * line(at, width, turn, k).1));
            derivatives.push(column(&|k| line(at, width, turn, k).0));
        }
        let (normal, right) = (products(&base, &drawn), gradient(&base, &drawn, &residual));
        for (i, a) in derivatives.iter().enumerate() {
            assert!((right[i] - dot(a, &residual)).abs() < 1e-9, "{i}");
            for (j, b) in derivatives.iter().enumerate() {
                assert!(
                    (normal[(i, j)] - dot(a, b)).abs() < 1e-9,
                    "{i} {j}: {} {}",
                    normal[(i, j)],
                    dot(a, b)
                );
            }
        }
    }
}
