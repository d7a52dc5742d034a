//! One complex Lorentzian with a complex local baseline, by least squares.

use lees_core::complex::modulus;
use nalgebra::{SMatrix, SVector};
use num_complex::Complex64;

/// A complex Lorentzian `C / (g - i (z - z0))` over the index `z`: position and half width in points, and the
/// complex amplitude whose argument is the line's phase. The index falls with frequency, hence the sign.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pole {
    /// Index of the maximum, fractional.
    pub position: f64,
    /// Half width at half height, in points.
    pub half_width: f64,
    /// Complex amplitude: area over pi, in intensity times points.
    pub amplitude: Complex64,
}

/// A fitted pole and how well it fits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PoleFit {
    /// The line.
    pub pole: Pole,
    /// Variance of the amplitude (one channel) for unit variance of one channel of independent points.
    pub amplitude_variance: f64,
    /// Mean squared residual of one channel, of the part that is not symmetric about the line: a line that is no
    /// Lorentzian but symmetric leaves the phase alone.
    pub misfit: f64,
    /// Points averaged into each point fitted.
    pub stride: f64,
}

/// The local baseline of a fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LocalBase {
    /// A complex constant: keeps nearly all of a line's information in windows of ten half widths.
    Constant,
    /// A complex straight line: for small windows among strong neighbours.
    Linear,
}

/// A stretch of a complex spectrum, averaged over `stride` points each.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Stretch {
    /// The averaged points.
    pub points: Vec<Complex64>,
    /// Index of the first averaged point's middle.
    pub first: f64,
    /// Points averaged, and the distance of neighbours.
    pub stride: f64,
}

impl Stretch {
    /// The index, in points of the spectrum, of an averaged point.
    #[must_use]
    pub(crate) fn index(&self, k: usize) -> f64 {
        self.first + self.stride * k as f64
    }
}

/// Most steps of a fit.
const STEPS: usize = 6;
/// A step under this share of the half width ends the fit: the next one would be its square.
const SETTLED: f64 = 1e-3;
/// Longest step, in half widths.
const LONGEST_STEP: f64 = 0.7;
/// Narrowest half width a fit may try, as a share of the half width at the start.
const NARROWEST_SHARE: f64 = 0.15;

impl Pole {
    /// The line's complex value at an index.
    ///
    /// ```
    /// use lees_process::phase::Pole;
    /// use num_complex::Complex64;
    /// let line = Pole { position: 110.0, half_width: 2.0, amplitude: Complex64::new(4.0, 0.0) };
    /// assert_eq!(line.at(110.0), Complex64::new(2.0, 0.0), "all absorption on top");
    /// assert_eq!(line.at(112.0).re, 1.0, "half of it at the half width");
    /// ```
    #[must_use]
    pub fn at(&self, index: f64) -> Complex64 {
        self.amplitude / Complex64::new(self.half_width, self.position - index)
    }

    /// Height of the absorption line.
    #[must_use]
    pub(crate) fn height(&self) -> f64 {
        modulus(self.amplitude) / self.half_width
    }
}

/// Fits `Y(z) = C / (g - i (z - z0))` and a local baseline to a stretch, from a start read off the power.
///
/// With `f = 1 / (z - zp)` the model is linear in the baseline, in `iC`, and, to first order, in a shift of the
/// complex place `zp = z0 - i g`, whose derivative is `f^2`: each step solves three or four complex unknowns.
/// `None` when the fit leaves the stretch.
///
/// ```
/// use lees_process::phase::{LocalBase, Pole, Stretch, fit_pole};
/// use num_complex::Complex64;
/// let truth = Pole { position: 110.3, half_width: 2.5, amplitude: Complex64::from_polar(4.0, 0.7) };
/// let points = (100..121).map(|i| truth.at(f64::from(i)) + Complex64::new(0.1, -0.2)).collect();
/// let stretch = Stretch { points, first: 100.0, stride: 1.0 };
/// let fit = fit_pole(&stretch, 110.0, 3.0, LocalBase::Linear).expect("converges");
/// assert!((fit.pole.amplitude.arg() - 0.7).abs() < 1e-6);
/// assert!((fit.pole.position - 110.3).abs() < 1e-6);
/// ```
#[must_use]
pub fn fit_pole(stretch: &Stretch, position: f64, half_width: f64, base: LocalBase) -> Option<PoleFit> {
    match base {
        LocalBase::Constant => fit::<3>(stretch, position, half_width),
        LocalBase::Linear => fit::<4>(stretch, position, half_width),
    }
}

/// Fits with `N - 2` baseline columns.
fn fit<const N: usize>(stretch: &Stretch, position: f64, half_width: f64) -> Option<PoleFit> {
    if stretch.points.len() < N + 2 {
        return None;
    }
    let reach = stretch.stride * (stretch.points.len() as f64 / 2.0).max(1.0);
    let mut place = Complex64::new(position, -half_width);
    let mut last = None;
    for _ in 0..STEPS {
        let solution = solve::<N>(stretch, reach, place)?;
        let moved = solution.values[1] / solution.values[0];
        let settled = modulus(moved) < SETTLED * half_width;
        last = Some((solution, if settled { place + moved } else { place }));
        if settled {
            break;
        }
        place = limited(place, moved, half_width)?;
        if (place.re - position).abs() > reach {
            return None;
        }
    }
    let (solution, place) = last?;
    let pole = Pole {
        position: place.re,
        half_width: -place.im,
        amplitude: solution.values[0] * Complex64::new(0.0, -1.0),
    };
    let share = stretch.points.len() as f64 / (stretch.points.len() - N) as f64;
    Some(PoleFit {
        pole,
        amplitude_variance: solution.variance,
        misfit: share * lopsided(&solution.residual, stretch, &pole),
        stride: stretch.stride,
    })
}

/// The place after a step, held to a part of the width at a time and to a sensible width.
fn limited(place: Complex64, step: Complex64, half_width: f64) -> Option<Complex64> {
    let longest = LONGEST_STEP * half_width;
    let step = if modulus(step) > longest { step * (longest / modulus(step)) } else { step };
    let next = place + step;
    let width = (-next.im).max(NARROWEST_SHARE * half_width);
    next.is_finite().then_some(Complex64::new(next.re, -width))
}

struct Solution<const N: usize> {
    values: SVector<Complex64, N>,
    variance: f64,
    residual: Vec<Complex64>,
}

/// Least squares for `f`, `f^2`, constant and, for four columns, slope.
fn solve<const N: usize>(stretch: &Stretch, reach: f64, place: Complex64) -> Option<Solution<N>> {
    let row = |k: usize| {
        let z = stretch.index(k);
        let f = (Complex64::from(z) - place).inv();
        let all = [f, f * f, Complex64::ONE, Complex64::from((z - place.re) / reach)];
        SVector::<Complex64, N>::from_iterator(all.into_iter().take(N))
    };
    let mut normal = SMatrix::<Complex64, N, N>::zeros();
    let mut right = SVector::<Complex64, N>::zeros();
    for (k, y) in stretch.points.iter().enumerate() {
        let row = row(k);
        for i in 0..N {
            let conj = row[i].conj();
            right[i] += conj * y;
            for j in 0..=i {
                normal[(i, j)] += conj * row[j];
            }
        }
    }
    let factor = normal.cholesky()?;
    let values = factor.solve(&right);
    let unit = SVector::<Complex64, N>::from_fn(|i, _| Complex64::from(f64::from(u8::from(i == 0))));
    let variance = factor.solve(&unit)[0].re;
    let residual = stretch.points.iter().enumerate().map(|(k, y)| y - row(k).dot(&values)).collect();
    Some(Solution { values, variance, residual })
}

/// Mean square, one channel, of what of a residual is not symmetric about the line. Seen with the line's phase taken
/// off, a symmetric line shape has an even real and an odd imaginary part; their halves of the noise are made up for.
fn lopsided(residual: &[Complex64], stretch: &Stretch, pole: &Pole) -> f64 {
    let back = pole.amplitude.conj() / modulus(pole.amplitude);
    let middle = (pole.position - stretch.first) / stretch.stride;
    let (mut sum, mut weight) = (0.0, 0.0);
    for (k, r) in residual.iter().enumerate() {
        let mirror = 2.0 * middle - k as f64;
        let Some((other, noise)) = between(residual, mirror) else { continue };
        sum += (r * back - (other * back).conj()).norm_sqr();
        weight += 2.0 * (1.0 + noise);
    }
    if weight > 0.0 { sum / weight } else { 0.0 }
}

/// The value at a place between points by the cubic through four of them, and the variance of noise in it.
fn between(points: &[Complex64], place: f64) -> Option<(Complex64, f64)> {
    let t = place - place.floor();
    let first = place.floor() - 1.0;
    if first < 0.0 {
        return None;
    }
    let four = points.get(first as usize..first as usize + 4)?;
    let weights = [
        -t * (t - 1.0) * (t - 2.0) / 6.0,
        (t + 1.0) * (t - 1.0) * (t - 2.0) / 2.0,
        -(t + 1.0) * t * (t - 2.0) / 2.0,
        (t + 1.0) * t * (t - 1.0) / 6.0,
    ];
    let value = four.iter().zip(weights).map(|(point, weight)| point * weight).sum();
    Some((value, weights.iter().map(|weight| weight * weight).sum()))
}
