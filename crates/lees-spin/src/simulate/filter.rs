//! A digital decimation filter as receivers have it: linear phase, symmetric, delayed.

use std::f64::consts::PI;

use num_complex::Complex64;

/// A windowed-sinc low-pass of half length `delay`, in units of the dwell time.
///
/// Blackman window (Harris, Proc. IEEE 1978, 66, 51): stop band below -70 dB; at a delay of 68 points the pass band
/// reaches to within 2 % of the spectrum's edges.
pub(crate) struct Filter {
    delay: f64,
    norm: f64,
}

impl Filter {
    /// Samples per dwell time before decimation.
    pub(crate) const OVERSAMPLING: usize = 8;

    pub(crate) fn new(delay: f64) -> Self {
        let mut filter = Self { delay, norm: 1.0 };
        let sum: f64 = filter.taps(filter.rise()).map(|(_, tap)| tap).sum();
        filter.norm = 1.0 / sum;
        filter
    }

    /// Number of points until the filter no longer sees the time before the pulse.
    pub(crate) fn rise(&self) -> usize {
        (2.0 * self.delay).ceil() as usize
    }

    /// Points needed on the fine grid to compute the rise.
    pub(crate) fn fine_points(&self) -> usize {
        self.rise() * Self::OVERSAMPLING + 1
    }

    /// The filter's continuous impulse response at a time in dwell units.
    fn kernel(&self, time: f64) -> f64 {
        let x = time / self.delay;
        if x.abs() >= 1.0 {
            return 0.0;
        }
        let window = 0.42 + 0.5 * (PI * x).cos() + 0.08 * (2.0 * PI * x).cos();
        let turn = PI * time;
        window * if turn.abs() < 1e-9 { 1.0 } else { turn.sin() / turn }
    }

    /// Fine-grid index and weight of everything that point `n` sees.
    fn taps(&self, n: usize) -> impl Iterator<Item = (usize, f64)> {
        let fine = Self::OVERSAMPLING as f64;
        let latest = n * Self::OVERSAMPLING;
        let earliest = ((n as f64 - 2.0 * self.delay) * fine).ceil().max(0.0) as usize;
        (earliest..=latest)
            .map(move |m| (m, self.norm * self.kernel(n as f64 - self.delay - m as f64 / fine)))
    }

    /// Filtered point `n` of a decay that starts at the first fine point. That point counts half, as the step
    /// at the pulse is half up.
    pub(crate) fn apply(&self, fine: &[Complex64], n: usize) -> Complex64 {
        let half = |m: usize| if m == 0 { 0.5 } else { 1.0 };
        self.taps(n).map(|(m, tap)| fine[m] * (tap * half(m))).sum()
    }

    /// Value at point [`Filter::rise`] of a line of unit amplitude at the pulse, `step` being its exponent per dwell time.
    pub(crate) fn gain(&self, step: Complex64) -> Complex64 {
        let turn = (step / Self::OVERSAMPLING as f64).exp();
        let mut power = Complex64::new(1.0, 0.0);
        let mut at = 0;
        let mut sum = Complex64::new(0.0, 0.0);
        for (m, tap) in self.taps(self.rise()) {
            while at < m {
                power *= turn;
                at += 1;
            }
            sum += power * tap;
        }
        sum
    }
}
