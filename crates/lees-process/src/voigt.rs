//! The Voigt profile: a Lorentzian of natural width spread by a Gaussian of shim.
//!
//! With the Faddeeva function `w`, the profile of half width `gamma` and deviation `sigma` is
//! `Re w(z) / (sigma sqrt(2 pi))`, `z = (x + i gamma) / (sigma sqrt 2)` (Abramowitz & Stegun, Handbook of Mathematical
//! Functions, 7.4.13).

use lees_core::complex::argument;
use std::f64::consts::{FRAC_1_PI, FRAC_2_SQRT_PI, PI, SQRT_2};
use std::fmt;
use std::ops::Range;
use std::sync::{Arc, OnceLock};

use num_complex::Complex64;

/// Beyond this modulus the asymptotic series is good to 2e-7.
const FAR: f64 = 5.5;
/// Terms of the rational form: good to 5e-6 within `FAR`, to 1e-6 where the Lorentzian is a third of the width.
const TERMS: usize = 12;
/// So many terms of the rational form's sum, and points far out, are reckoned at once.
const LANES: usize = 4;
/// Nodes of the table a half width at half height (of the whole profile, roughly): cubics between are good to 1e-6.
const NODES: f64 = 16.0;
/// Half widths the table goes out to: the windows of line fits. Beyond, the series is short.
const TABLE_REACH: f64 = 32.0;
/// Rows of places leave the table this many pieces before its end: rounding leads none beyond it.
const TABLE_EDGE: f64 = 1e-6;
/// `1 / sqrt(pi)`.
const FRAC_1_SQRT_PI: f64 = FRAC_2_SQRT_PI / 2.0;

/// Pieces of the table.
const PIECES: usize = (NODES * TABLE_REACH) as usize;
/// Added to a number of less than 2^51 it rounds it to a whole one, whose last bits are then those of the sum.
const ROUNDER: f64 = 1.5 * (1u64 << 52) as f64;

/// A profile of unit area, tabulated: fits ask for it a million times.
#[derive(Clone)]
pub(crate) struct Voigt {
    kernel: Kernel,
    /// Length of the table's pieces.
    step: f64,
    table: Arc<Table>,
}

impl fmt::Debug for Voigt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.kernel.fmt(f)
    }
}

/// The profile and its dispersion in pieces of even length from the middle on, each a cubic.
struct Table {
    cubics: [Cubic; PIECES],
    dispersion: [Cubic; PIECES],
    /// The area from the middle to the left end of each piece.
    areas: [f64; PIECES],
}

/// A piece of the profile, by powers of the way from its left end to its right one.
type Cubic = [f64; 4];

impl Table {
    fn of(kernel: Kernel, step: f64) -> Self {
        let nothing = [[0.0; 4]; PIECES];
        let mut table = Self { cubics: nothing, dispersion: nothing, areas: [0.0; PIECES] };
        let (mut value, mut slope) = kernel.complex(0.0);
        let mut area = 0.0;
        for k in 0..PIECES {
            let (next, slope_next) = kernel.complex((k + 1) as f64 * step);
            table.cubics[k] = cubic(value.re, next.re, slope.re * step, slope_next.re * step);
            table.dispersion[k] = cubic(value.im, next.im, slope.im * step, slope_next.im * step);
            table.areas[k] = area;
            area += step * ((value.re + next.re) / 2.0 + step * (slope.re - slope_next.re) / 12.0);
            (value, slope) = (next, slope_next);
        }
        table
    }
}

/// The piece from one value to the next, with its rises there over the whole piece's length.
fn cubic(value: f64, next: f64, rise: f64, rise_next: f64) -> Cubic {
    let change = next - value;
    [value, rise, 3.0 * change - 2.0 * rise - rise_next, rise + rise_next - 2.0 * change]
}

impl Voigt {
    /// The profile of a Lorentzian's half width at half height and a Gaussian's standard deviation, which is positive.
    pub(crate) fn new(gamma: f64, sigma: f64) -> Self {
        let kernel = Kernel { gamma, sigma };
        let step = (gamma + sigma) / NODES;
        Self { kernel, step, table: Arc::new(Table::of(kernel, step)) }
    }

    /// Value and slope.
    pub(crate) fn value_and_slope(&self, x: f64) -> (f64, f64) {
        let place = x.abs() / self.step;
        if place < PIECES as f64 { self.in_table(place, x, self.step.recip()) } else { self.kernel.tail(x) }
    }

    /// Value and slope within the table, `place` pieces from the middle.
    #[inline]
    fn in_table(&self, place: f64, x: f64, per_hertz: f64) -> (f64, f64) {
        let (index, t) = split(place);
        let [value, linear, square, cube] = self.table.cubics[index];
        let slope = (linear + t * (2.0 * square + 3.0 * t * cube)) * per_hertz;
        (value + t * (linear + t * (square + t * cube)), slope * 1f64.copysign(x))
    }

    /// Value and slope at `count` places `step` apart, which is positive, the first at `first`.
    #[inline]
    pub(crate) fn each(&self, first: f64, step: f64, count: usize, mut take: impl FnMut(usize, (f64, f64))) {
        let per_hertz = self.step.recip();
        let within = self.within(first, step, count);
        let at = |i: usize| first + i as f64 * step;
        for i in (0..within.start).chain(within.end..count) {
            take(i, self.kernel.tail(at(i)));
        }
        for i in within {
            let x = at(i);
            take(i, self.in_table(x.abs() * per_hertz, x, per_hertz));
        }
    }

    /// Adds `scale` times the value to points at places `step` apart, which is positive, the first at `first`.
    pub(crate) fn add(&self, first: f64, step: f64, scale: f64, points: &mut [f64]) {
        let per_hertz = self.step.recip();
        let within = self.within(first, step, points.len());
        let (left, rest) = points.split_at_mut(within.start);
        let (middle, right) = rest.split_at_mut(within.len());
        self.kernel.add_tail((first, step), 0, scale, left);
        for (i, point) in within.clone().zip(middle) {
            let x = first + i as f64 * step;
            *point += scale * self.in_table(x.abs() * per_hertz, x, per_hertz).0;
        }
        self.kernel.add_tail((first, step), within.end, scale, right);
    }

    /// Those of the places that lie in the table.
    fn within(&self, first: f64, step: f64, count: usize) -> Range<usize> {
        let reach = (PIECES as f64 - TABLE_EDGE) * self.step;
        let start = (((-reach - first) / step).ceil().max(0.0) as usize).min(count);
        let end = (((reach - first) / step).floor() + 1.0).max(0.0) as usize;
        start..end.clamp(start, count)
    }

    /// The dispersion that belongs to the profile.
    pub(crate) fn dispersion(&self, x: f64) -> f64 {
        let place = x.abs() / self.step;
        if place >= PIECES as f64 {
            return self.kernel.dispersion_tail(x);
        }
        let (index, t) = split(place);
        let [value, linear, square, cube] = self.table.dispersion[index];
        (value + t * (linear + t * (square + t * cube))) * 1f64.copysign(x)
    }

    /// The area below `x`.
    pub(crate) fn integral(&self, x: f64) -> f64 {
        0.5 + self.half_area(x.abs()).copysign(x)
    }

    /// The area from the middle to `x`, which is not negative.
    fn half_area(&self, x: f64) -> f64 {
        let place = x / self.step;
        if place >= PIECES as f64 {
            return 0.5 - self.kernel.beyond(x);
        }
        let (index, t) = split(place);
        let [value, linear, square, cube] = self.table.cubics[index];
        let mean = value + t * (linear / 2.0 + t * (square / 3.0 + t * cube / 4.0));
        self.table.areas[index] + self.step * t * mean
    }
}

/// The piece that a place lies in, and how far between its ends; at an end either piece will do.
#[inline]
fn split(place: f64) -> (usize, f64) {
    let rounded = place - 0.5 + ROUNDER;
    (rounded.to_bits() as usize % PIECES, place - (rounded - ROUNDER))
}

/// The profile as such.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Kernel {
    /// Half width at half height of the Lorentzian.
    pub(crate) gamma: f64,
    /// Standard deviation of the Gaussian.
    pub(crate) sigma: f64,
}

impl Kernel {
    fn place(&self, x: f64) -> Complex64 {
        Complex64::new(x, self.gamma) / (self.sigma * SQRT_2)
    }

    /// Profile and, as imaginary part, dispersion, with the slopes of both.
    fn complex(&self, x: f64) -> (Complex64, Complex64) {
        let (w, slope) = faddeeva(self.place(x));
        let scale = self.sigma * SQRT_2;
        (w * (FRAC_1_SQRT_PI / scale), slope * (FRAC_1_SQRT_PI / (scale * scale)))
    }

    /// Value and slope far out, where the Gaussian's second moment is all that is left of it: `Im [1 / z + sigma^2 / z^3]
    /// / pi`, `z = x - i gamma`.
    #[inline]
    fn tail(&self, x: f64) -> (f64, f64) {
        let (g2, s2) = (self.gamma * self.gamma, self.sigma * self.sigma);
        let q = (x * x + g2).recip();
        let front = self.gamma * FRAC_1_PI * q;
        let bend = s2 * (3.0 * x * x - g2) * q * q;
        let slope = -2.0 * x * q + 6.0 * s2 * x * q * q - 6.0 * x * q * bend;
        (front * (1.0 + bend), front * slope)
    }

    /// Adds `scale` times the value far out to points of a row, by its first place and its step, of which the first has the number
    /// `from`.
    fn add_tail(&self, (first, step): (f64, f64), from: usize, scale: f64, points: &mut [f64]) {
        const NUMBERS: [f64; LANES] = [0.0, 1.0, 2.0, 3.0];
        let add = |number: f64, point: &mut f64| *point += scale * self.tail(first + number * step).0;
        let (whole, rest) = points.as_chunks_mut::<LANES>();
        let tail = (from + LANES * whole.len()) as f64;
        for (chunk, points) in whole.iter_mut().enumerate() {
            let start = (from + LANES * chunk) as f64;
            for lane in 0..LANES {
                add(start + NUMBERS[lane], &mut points[lane]);
            }
        }
        rest.iter_mut().zip(NUMBERS).for_each(|(point, number)| add(tail + number, point));
    }

    /// The dispersion far out: the real part of what [`Kernel::tail`] is the imaginary part of.
    fn dispersion_tail(&self, x: f64) -> f64 {
        let (g2, s2) = (self.gamma * self.gamma, self.sigma * self.sigma);
        let q = (x * x + g2).recip();
        FRAC_1_PI * x * q * (1.0 + s2 * (x * x - 3.0 * g2) * q * q)
    }

    pub(crate) fn dispersion(&self, x: f64) -> f64 {
        faddeeva(self.place(x)).0.im * FRAC_1_SQRT_PI / (self.sigma * SQRT_2)
    }

    /// The area beyond `x`, far out: the integral of the series.
    fn beyond(&self, x: f64) -> f64 {
        let z = self.place(x);
        let s = (z * z).inv();
        let series = s * (0.25 + s * (3.0 / 16.0 + s * (5.0 / 16.0 + s * (105.0 / 128.0))));
        FRAC_1_PI * (argument(z) - series.im)
    }
}

/// The Faddeeva function and its derivative `2 i / sqrt(pi) - 2 z w`, in the upper half plane.
fn faddeeva(z: Complex64) -> (Complex64, Complex64) {
    if z.norm_sqr() > FAR * FAR {
        return series(z);
    }
    let w = rational(z);
    (w, Complex64::new(0.0, FRAC_2_SQRT_PI) - 2.0 * z * w)
}

/// Asymptotic series (Abramowitz & Stegun 7.1.23) and its derivative.
fn series(z: Complex64) -> (Complex64, Complex64) {
    let u = z.inv();
    let s = u * u;
    let front = Complex64::new(0.0, FRAC_1_SQRT_PI);
    let w = 1.0 + s * (0.5 + s * (0.75 + s * (1.875 + s * 6.5625)));
    let slope = 1.0 + s * (1.5 + s * (3.75 + s * (13.125 + s * 59.0625)));
    (front * u * w, -front * s * slope)
}

/// Weideman's rational form (SIAM J. Numer. Anal. 1994, 31, 1497, carried over from memory; the tests compare with
/// tabulated values).
fn rational(z: Complex64) -> Complex64 {
    let (reach, terms) = expansion();
    let iz = Complex64::new(-z.im, z.re);
    let below = (reach - iz).inv();
    let ratio = (reach + iz) * below;
    let square = ratio * ratio;
    let fourth = square * square;
    let eighth = fourth * fourth;
    let lane = |k: usize| terms[k] + terms[k + LANES] * fourth + terms[k + 2 * LANES] * eighth;
    let sum = lane(0) + ratio * lane(1) + square * (lane(2) + ratio * lane(3));
    (2.0 * sum * below + FRAC_1_SQRT_PI) * below
}

/// The scale and the coefficients: Fourier terms of `exp(-t^2) (L^2 + t^2)`, `t = L tan(angle / 2)`.
fn expansion() -> &'static (f64, [f64; TERMS]) {
    static EXPANSION: OnceLock<(f64, [f64; TERMS])> = OnceLock::new();
    EXPANSION.get_or_init(|| {
        let reach = (TERMS as f64 / SQRT_2).sqrt();
        let samples = 4 * TERMS;
        let term = |n: usize| -> f64 {
            let part = |k: usize| {
                let angle = PI * (k as f64 / (samples / 2) as f64 - 1.0);
                let t = reach * libm::tan(angle / 2.0);
                let even = libm::exp(-t * t) * (reach * reach + t * t);
                even * libm::cos(angle * n as f64)
            };
            (1..samples).map(part).sum::<f64>() / samples as f64
        };
        (reach, std::array::from_fn(|n| term(n + 1)))
    })
}

#[cfg(test)]
mod tests {
    use lees_core::complex::{modulus, polar};

    use super::*;

    impl Kernel {
        fn value_and_slope(&self, x: f64) -> (f64, f64) {
            let (value, slope) = self.complex(x);
            (value.re, slope.re)
        }
    }

    /// `w` from Abramowitz & Stegun, table 7.9, and `exp(y^2) erfc(y)` on the imaginary axis.
    #[test]
    fn the_faddeeva_function_is_the_tabulated_one() {
        let known = [
            ((0.0, 1.0), (0.427_584, 0.0)),
            ((1.0, 0.0), (0.367_879, 0.607_158)),
            ((1.0, 1.0), (0.304_744, 0.208_219)),
            ((2.0, 1.0), (0.140_240, 0.222_213)),
            ((0.0, 2.0), (0.255_396, 0.0)),
        ];
        for ((x, y), (re, im)) in known {
            let w = faddeeva(Complex64::new(x, y)).0;
            assert!(modulus(w - Complex64::new(re, im)) < 6e-6, "{x} {y}: {w}");
        }
    }

    #[test]
    fn both_forms_meet() {
        for angle in [0.01, 0.3, 0.9, 1.5] {
            let z = polar(FAR, angle);
            let (far, far_slope) = series(z);
            let near = rational(z);
            let near_slope = Complex64::new(0.0, FRAC_2_SQRT_PI) - 2.0 * z * near;
            assert!(modulus(far - near) < 2e-6, "{angle}: {far} {near}");
            assert!(modulus(far_slope - near_slope) < 2e-5, "{angle}: {far_slope} {near_slope}");
        }
    }

    #[test]
    fn the_tail_meets_the_table() {
        for (gamma, sigma) in [(0.01, 0.4), (0.3, 0.2), (0.4, 0.02)] {
            let line = Voigt::new(gamma, sigma);
            for widths in [TABLE_REACH, 40.0, 200.0] {
                let x = widths * (gamma + sigma);
                let (value, slope) = line.kernel.tail(x);
                let (exact, exact_slope) = line.kernel.value_and_slope(x);
                assert!((value / exact - 1.0).abs() < 2e-5, "{gamma} {sigma} {widths}: {value} {exact}");
                let (dispersion, exact) = (line.dispersion(x), line.kernel.dispersion(x));
                assert!(
                    (dispersion / exact - 1.0).abs() < 2e-5,
                    "{gamma} {sigma} {widths}: {dispersion} {exact}"
                );
                assert!(
                    (slope / exact_slope - 1.0).abs() < 1e-4,
                    "{gamma} {sigma} {widths}: {slope} {exact_slope}"
                );
            }
        }
    }

    /// The table and the function agree, at lines from all but Gaussian to all but Lorentzian.
    #[test]
    fn the_table_is_the_function() {
        for (gamma, sigma) in [(0.01, 0.4), (0.3, 0.2), (0.4, 0.02)] {
            let line = Voigt::new(gamma, sigma);
            let (top, _) = line.kernel.value_and_slope(0.0);
            for k in -4000..4000 {
                let x = f64::from(k) * 0.004_1;
                let (value, slope) = line.value_and_slope(x);
                let (exact, exact_slope) = line.kernel.value_and_slope(x);
                assert!((value - exact).abs() < 3e-6 * top, "{gamma} {sigma} {x}: {value} {exact}");
                assert!(
                    (slope - exact_slope).abs() < 3e-4 * top / (gamma + sigma),
                    "{x}: {slope} {exact_slope}"
                );
                let (dispersion, exact) = (line.dispersion(x), line.kernel.dispersion(x));
                assert!((dispersion - exact).abs() < 6e-6 * top, "{gamma} {sigma} {x}: {dispersion} {exact}");
            }
        }
    }

    #[test]
    fn a_row_is_its_places_one_by_one() {
        let line = Voigt::new(0.3, 0.2);
        for (first, step, count) in
            [(-40.0, 0.37, 250), (-0.2, 0.031_25, 900), (3.0, 1.0, 5), (20.0, 0.1, 9), (0.0, 1.0, 0)]
        {
            let mut seen = vec![(f64::NAN, f64::NAN); count];
            line.each(first, step, count, |i, point| seen[i] = point);
            let mut added = vec![1.0; count];
            line.add(first, step, 3.0, &mut added);
            for (i, (value, slope)) in seen.into_iter().enumerate() {
                assert_eq!(added[i], 1.0 + 3.0 * value, "{first} {i}");
                let (exact, exact_slope) = line.value_and_slope(first + i as f64 * step);
                assert!((value - exact).abs() < 1e-9 && (slope - exact_slope).abs() < 1e-9, "{first} {i}");
            }
        }
    }

    #[test]
    fn the_area_is_one_and_its_parts_add_up() {
        let line = Voigt::new(0.3, 0.2);
        let step = 1e-3;
        let sum: f64 =
            (-1000..1000).map(|k| line.value_and_slope((f64::from(k) + 0.5) * step).0 * step).sum();
        assert!((sum - (line.integral(1.0) - line.integral(-1.0))).abs() < 1e-6, "{sum}");
        let edge = 0.5 * TABLE_REACH;
        let across = line.integral(edge + 1e-6) - line.integral(edge - 1e-6);
        assert!((line.integral(0.0) - 0.5).abs() < 1e-12 && across.abs() < 1e-6, "{across}");
        assert!(line.integral(1e6) > 1.0 - 1e-6);
    }
}
