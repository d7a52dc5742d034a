//! A digital decimation filter as receivers have it: linear phase, symmetric, delayed.

use lees_core::complex;
use std::f64::consts::PI;

use num_complex::Complex64;

/// A windowed-sinc low-pass of half length `delay`, in units of the dwell time.
///
/// Blackman window (Harris, Proc. IEEE 1978, 66, 51): stop band below -70 dB; at a delay of 68 points the pass band
/// reaches to within 2 % of the spectrum's edges.
pub(crate) struct Filter {
    delay: f64,
    /// The impulse response on the fine grid, latest input first.
    taps: Vec<f64>,
}

impl Filter {
    /// Samples per dwell time before decimation.
    pub(crate) const OVERSAMPLING: usize = 8;

    pub(crate) fn new(delay: f64) -> Self {
        let fine = Self::OVERSAMPLING as f64;
        let count = (2.0 * delay * fine).floor() as usize + 1;
        let mut taps: Vec<f64> = (0..count).map(|j| kernel(j as f64 / fine - delay, delay)).collect();
        let sum: f64 = taps.iter().sum();
        taps.iter_mut().for_each(|tap| *tap /= sum);
        Self { delay, taps }
    }

    /// Number of points until the filter no longer sees the time before the pulse.
    pub(crate) fn rise(&self) -> usize {
        (2.0 * self.delay).ceil() as usize
    }

    /// Points needed on the fine grid to compute the rise.
    pub(crate) fn fine_points(&self) -> usize {
        self.rise() * Self::OVERSAMPLING + 1
    }

    /// Fine-grid index and weight of everything that point `n` sees.
    fn taps(&self, n: usize) -> impl Iterator<Item = (usize, f64)> {
        let latest = n * Self::OVERSAMPLING;
        self.taps.iter().enumerate().take(latest + 1).map(move |(j, tap)| (latest - j, *tap))
    }

    /// Filtered point `n` of a decay that starts at the first fine point. That point counts half, as the step
    /// at the pulse is half up.
    pub(crate) fn apply(&self, fine: &[Complex64], n: usize) -> Complex64 {
        let half = |m: usize| if m == 0 { 0.5 } else { 1.0 };
        self.taps(n).map(|(m, tap)| fine[m] * (tap * half(m))).sum()
    }

    /// Value at point [`Filter::rise`] of a line of unit amplitude at the pulse, `step` being its exponent per dwell time.
    pub(crate) fn gain(&self, step: Complex64) -> Complex64 {
        let turn = complex::exp(step / Self::OVERSAMPLING as f64);
        let earliest = self.rise() * Self::OVERSAMPLING + 1 - self.taps.len();
        // Horner's rule from the latest input down to the earliest.
        let zero = Complex64::new(0.0, 0.0);
        let sum = self.taps.iter().fold(zero, |sum, tap| sum * turn + tap);
        sum * complex::exp(step * (earliest as f64 / Self::OVERSAMPLING as f64))
    }
}

/// The continuous impulse response at a time in dwell units.
fn kernel(time: f64, half_length: f64) -> f64 {
    let x = time / half_length;
    let window = 0.42 + 0.5 * libm::cos(PI * x) + 0.08 * libm::cos(2.0 * PI * x);
    let turn = PI * time;
    window * if turn.abs() < 1e-9 { 1.0 } else { libm::sin(turn) / turn }
}
