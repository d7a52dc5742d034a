//! Normal equations of lines that share a phase.

use nalgebra::{DMatrix, DVector};
use num_complex::Complex64;

use super::cluster::COMMON;
use crate::dot;

/// A line at the points of a patch, weighted: real parts, then imaginary parts.
pub(super) struct Drawn {
    /// The line itself: its derivative by the logarithm of its area.
    pub(super) value: Vec<f64>,
    /// What changes with place (times `-i`) and with the logarithm of the width (times `-width`).
    pub(super) bend: Vec<f64>,
    /// Place and half width.
    pub(super) position: f64,
    pub(super) width: f64,
    /// Height times width, and phase.
    pub(super) amplitude: Complex64,
    /// Products of the line, points not blurred, with the three columns of the base.
    pub(super) by_base: [Complex64; 3],
    /// The same of its bend.
    pub(super) bend_by_base: [Complex64; 3],
    /// Products of both with the weights times the points' blur.
    pub(super) by_blur: [Complex64; 2],
}

impl Drawn {
    /// No line yet, for so many values.
    pub(super) fn empty(length: usize) -> Self {
        let nothing = [Complex64::ZERO; 3];
        Self {
            value: vec![0.0; length],
            bend: vec![0.0; length],
            position: 0.0,
            width: 0.0,
            amplitude: Complex64::ZERO,
            by_base: nothing,
            bend_by_base: nothing,
            by_blur: [Complex64::ZERO; 2],
        }
    }

    /// Real and imaginary part of `sum conj(column) bend`.
    fn bent(&self, column: &[f64]) -> (f64, f64) {
        let half = column.len() / 2;
        let (a, b) = (column.split_at(half), self.bend.split_at(half));
        (dot(a.0, b.0) + dot(a.1, b.1), dot(a.0, b.1) - dot(a.1, b.0))
    }
}

/// The product of a real column with a complex one.
pub(super) fn product(real: &[f64], column: &[f64]) -> Complex64 {
    let (re, im) = column.split_at(column.len() / 2);
    Complex64::new(dot(real, re), dot(real, im))
}

/// Products of two lines: `sum a conj(b)`, `sum bend(a) conj(b)`, `sum bend(a) conj(bend(b))`.
///
/// With `f = 1 / (a - i z)` of one line and `g = 1 / (b + i z)` of the other, conjugate, `f g = (f + g) / (a + b)`: the sum over the
/// points follows from sums of `f` and `g` alone, and those of higher powers by derivation. The points' blur makes of a line `f` one
/// of `f - blur f^3`; of what it adds, sums of cubes, which all but vanish, and the square of the blur are left out.
struct Pair {
    lines: Complex64,
    bend: Complex64,
    bends: Complex64,
}

impl Pair {
    fn of(a: &Drawn, b: &Drawn) -> Self {
        let per = Complex64::new(a.width + b.width, a.position - b.position).inv();
        let (c, d) = (a.amplitude, b.amplitude.conj());
        let (f, g) = (a.by_base[0] * d, c * b.by_base[0].conj());
        let (f2, g2) = (a.bend_by_base[0] * d, c * b.bend_by_base[0].conj());
        let [blur, blur_f2] = a.by_blur.map(|sum| sum * d);
        let [blur_g, blur_g2] = b.by_blur.map(|sum| c * sum.conj());
        let (sharp, both) = ((f + g) * per, (blur + blur_g) * per);
        let blurred = (blur_f2 + blur_g2 + 2.0 * both) * per * per;
        let bend_blurred = (2.0 * blur_g2 + blur_f2 + 3.0 * both) * per * per * per;
        Self {
            lines: sharp - blurred,
            bend: (f2 + sharp) * per - bend_blurred,
            bends: (f2 + g2 + 2.0 * sharp) * per * per,
        }
    }
}

/// Products of all derivatives with one another: by the phase, a complex parabola (constant, slope, bend; real and imaginary part
/// of each; `base` holds their weighted courses), then place, logarithmic width and relative area of each line.
pub(super) fn products(base: &[Vec<f64>; 3], lines: &[Drawn]) -> DMatrix<f64> {
    let unknowns = COMMON + 3 * lines.len();
    let mut normal = DMatrix::zeros(unknowns, unknowns);
    for (a, own) in base.iter().enumerate() {
        let all: Complex64 = lines.iter().map(|line| line.by_base[a]).sum();
        (normal[(1 + 2 * a, 0)], normal[(2 + 2 * a, 0)]) = (-all.im, all.re);
        for (b, other) in base[..=a].iter().enumerate() {
            let product = dot(own, other);
            for part in 0..2 {
                normal[(1 + 2 * a + part, 1 + 2 * b + part)] = product;
            }
        }
    }
    for (l, line) in lines.iter().enumerate() {
        let (place, width, area) = (COMMON + 3 * l, COMMON + 3 * l + 1, COMMON + 3 * l + 2);
        let with_bend = |normal: &mut DMatrix<f64>, column: usize, bend: Complex64| {
            (normal[(place, column)], normal[(width, column)]) = (bend.im, -line.width * bend.re);
        };
        for (a, bend) in line.bend_by_base.iter().enumerate() {
            with_bend(&mut normal, 1 + 2 * a, *bend);
            with_bend(&mut normal, 2 + 2 * a, -Complex64::I * bend);
        }
        let (mut all, mut all_bent) = (Complex64::ZERO, Complex64::ZERO);
        for (m, other) in lines.iter().enumerate() {
            let pair = Pair::of(line, other);
            (all, all_bent) = (all + pair.lines, all_bent + pair.bend);
            if m > l {
                continue;
            }
            let theirs = COMMON + 3 * m;
            with_bend(&mut normal, theirs + 2, pair.bend);
            // the other's place is its bend times -i, its width its bend times -width
            with_bend(&mut normal, theirs, Complex64::I * pair.bends);
            with_bend(&mut normal, theirs + 1, -other.width * pair.bends);
            let back = Pair::of(other, line).bend;
            (normal[(area, theirs)], normal[(area, theirs + 1)]) = (back.im, -other.width * back.re);
            normal[(area, theirs + 2)] = pair.lines.re;
        }
        // the change with the phase: all lines, a quarter turn ahead
        with_bend(&mut normal, 0, -Complex64::I * all_bent);
        normal[(area, 0)] = all.im;
        normal[(0, 0)] += all.re;
        for (a, product) in line.by_base.iter().enumerate() {
            (normal[(area, 1 + 2 * a)], normal[(area, 2 + 2 * a)]) = (product.re, product.im);
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
        let (re, im) = line.bent(residual);
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
    use lees_core::complex::polar;

    use super::*;

    /// The equations are those of the derivatives drawn one by one.
    #[test]
    fn they_are_the_products_of_all_derivatives() {
        let half = 40;
        let weight = |k: usize| 1.0 + 0.3 * libm::sin(k as f64 * 0.2);
        let t = |k: usize| (k as f64 - 20.0) / 20.0;
        let column = |value: &dyn Fn(usize) -> Complex64| -> Vec<f64> {
            let all: Vec<Complex64> = (0..half).map(|k| value(k) * weight(k)).collect();
            all.iter().map(|v| v.re).chain(all.iter().map(|v| v.im)).collect()
        };
        let line = |at: f64, width: f64, turn: f64, k: usize| {
            let f = Complex64::new(width, at - k as f64).inv();
            (polar(1.0, turn) * f, polar(1.0, turn) * f * f)
        };
        let lines = [(12.3, 2.0, 0.4), (19.0, 2.6, 0.5)];
        let base: [Vec<f64>; 3] =
            [0, 1, 2].map(|power| (0..half).map(|k| weight(k) * t(k).powi(power)).collect());
        let drawn: Vec<Drawn> = lines
            .iter()
            .map(|&(at, width, turn)| {
                let value = column(&|k| line(at, width, turn, k).0);
                let bend = column(&|k| line(at, width, turn, k).1);
                Drawn {
                    position: at,
                    width,
                    amplitude: polar(1.0, turn),
                    by_base: base.each_ref().map(|own| product(own, &value)),
                    bend_by_base: base.each_ref().map(|own| product(own, &bend)),
                    by_blur: [Complex64::ZERO; 2],
                    value,
                    bend,
                }
            })
            .collect();
        let residual = column(&|k| Complex64::new(libm::sin(k as f64), libm::cos(3.0 * k as f64)));
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

    /// Lines of four points' half width, each point a mean over some three: 3 % of the products, of which 0.3 % may be left out.
    #[test]
    fn the_blur_of_the_points_counts() {
        let (half, blur, width) = (400, 1.0, 4.0);
        let line = |at: f64, k: usize| Complex64::new(width, at - k as f64).inv();
        let column = |value: &dyn Fn(usize) -> Complex64| -> Vec<f64> {
            (0..half).map(|k| value(k).re).chain((0..half).map(|k| value(k).im)).collect()
        };
        let base: [Vec<f64>; 3] = [0, 1, 2].map(|power| (0..half).map(|k| (k as f64).powi(power)).collect());
        let drawn = [196.3, 204.0].map(|at| {
            let sharp = column(&|k| line(at, k));
            let bend = column(&|k| line(at, k).powi(2));
            Drawn {
                value: column(&|k| line(at, k) - blur * line(at, k).powi(3)),
                position: at,
                width,
                amplitude: Complex64::ONE,
                by_base: base.each_ref().map(|own| product(own, &sharp)),
                bend_by_base: base.each_ref().map(|own| product(own, &bend)),
                by_blur: [&sharp, &bend].map(|column| blur * product(&base[0], column)),
                bend,
            }
        });
        let normal = products(&base, &drawn);
        let size = dot(&drawn[0].value, &drawn[0].value);
        for (l, line) in drawn.iter().enumerate() {
            for (m, other) in drawn.iter().enumerate() {
                let (area, place, width_of) = (COMMON + 3 * l + 2, COMMON + 3 * m, COMMON + 3 * m + 1);
                let off = normal[(area, COMMON + 3 * m + 2)] - dot(&line.value, &other.value);
                assert!(off.abs() < 0.003 * size, "{l} {m}: {off} of {size}");
                let (re, im) = other.bent(&line.value);
                let off = libm::hypot(normal[(area, place)] - im, normal[(area, width_of)] / width + re);
                assert!(off < 0.003 * size / width, "{l} {m}: {off} of {size}");
            }
        }
    }
}
