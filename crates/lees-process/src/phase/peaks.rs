//! Where the strong lines are, whatever their phase.

use lees_core::complex::modulus;
use num_complex::Complex64;

/// A place to start a line fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Candidate {
    /// Index of the largest modulus.
    pub index: usize,
    /// Half width at half height in points, as read off the power.
    pub half_width: f64,
    /// How far the modulus stands out of its surroundings.
    pub prominence: f64,
}

/// Furthest point looked at for the half height, in points.
const WIDEST: usize = 400;
/// Tallest maxima from which the usual width is taken.
const FOR_WIDTH: usize = 9;
/// Smallest half width taken as meant, in points.
const NARROWEST: f64 = 0.5;

/// The most prominent local maxima of the modulus, at most `most`, strongest first. Prominence is the modulus of
/// `Y_i - (Y_(i-m) + Y_(i+m)) / 2`, `m` three half widths of the sharpest: tails and broad humps have next to none.
///
/// ```
/// let line = |i: i32| num_complex::Complex64::new(3.0, f64::from(200 - i)).inv() * 3.0;
/// let re: Vec<f64> = (0..400).map(|i| line(i).re).collect();
/// let im: Vec<f64> = (0..400).map(|i| line(i).im).collect();
/// let found = lees_process::phase::candidates(&re, &im, 0.1, 10);
/// assert_eq!(found.len(), 1);
/// assert_eq!(found[0].index, 200);
/// assert!((found[0].half_width - 3.0).abs() < 0.1);
/// ```
#[must_use]
pub fn candidates(real: &[f64], imaginary: &[f64], threshold: f64, most: usize) -> Vec<Candidate> {
    let power = |i: usize| real[i] * real[i] + imaginary[i] * imaginary[i];
    let n = real.len();
    let floor = threshold * threshold;
    let mut maxima: Vec<usize> = (2..n.saturating_sub(2))
        .filter(|&i| {
            let p = power(i);
            p > floor && p > power(i - 1) && p >= power(i + 1) && p > power(i - 2) && p >= power(i + 2)
        })
        .collect();
    let width = usual_width(&maxima, &power, n);
    let reach = ((3.0 * width).round() as usize).max(2);
    let mut found: Vec<Candidate> = maxima
        .drain(..)
        .filter_map(|index| {
            let prominence = prominence(real, imaginary, index, reach);
            (prominence > threshold).then_some(Candidate { index, half_width: 0.0, prominence })
        })
        .collect();
    found.sort_by(|a, b| b.prominence.total_cmp(&a.prominence));
    found.truncate(most);
    found.iter_mut().for_each(|line| line.half_width = half_width(line.index, &power, n));
    found
}

fn prominence(real: &[f64], imaginary: &[f64], index: usize, reach: usize) -> f64 {
    let at = |i: usize| Complex64::new(real[i], imaginary[i]);
    let (left, right) = (index.saturating_sub(reach), (index + reach).min(real.len() - 1));
    modulus(at(index) - 0.5 * (at(left) + at(right)))
}

/// The smallest half width of the tallest maxima: noise on the flank of a tall line seems wide, never narrow.
fn usual_width(maxima: &[usize], power: &impl Fn(usize) -> f64, n: usize) -> f64 {
    let mut tallest = maxima.to_vec();
    tallest.sort_by(|&a, &b| power(b).total_cmp(&power(a)));
    tallest.truncate(FOR_WIDTH);
    tallest.iter().map(|&index| half_width(index, power, n)).fold(WIDEST as f64, f64::min)
}

/// Half width at half height of a Lorentzian, from its power, on the side where it falls faster.
fn half_width(index: usize, power: &impl Fn(usize) -> f64, n: usize) -> f64 {
    let half = power(index) / 2.0;
    let fall = |inner: usize, outer: usize| (power(inner) - half) / (power(inner) - power(outer));
    let left = (1..WIDEST.min(index + 1))
        .find(|&d| power(index - d) < half)
        .map(|d| d as f64 - 1.0 + fall(index - d + 1, index - d));
    let right = (1..WIDEST.min(n - index))
        .find(|&d| power(index + d) < half)
        .map(|d| d as f64 - 1.0 + fall(index + d - 1, index + d));
    let width = match (left, right) {
        (Some(left), Some(right)) => left.min(right),
        (Some(only), None) | (None, Some(only)) => only,
        (None, None) => WIDEST as f64,
    };
    width.max(NARROWEST)
}
