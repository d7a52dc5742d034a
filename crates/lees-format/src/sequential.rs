//! Data whose real and imaginary points were taken in turn.

use lees_core::complex::polar;
use lees_fourier::Plans;
use num_complex::Complex64;

/// Values half a point earlier than those given, by band-limited interpolation: in the frequency domain a shift
/// in time is a phase that grows with frequency.
///
/// In sequential acquisition (`.ACQUISITION MODE= SEQUENTIAL`; Davies and Lampen, Appl. Spectrosc. 1993, 47, 1093)
/// each imaginary point is taken half a dwell after its real one; moved back, the two make one complex point.
pub(crate) fn half_a_point_earlier(values: &[f64]) -> Vec<f64> {
    let size = values.len();
    let mut data: Vec<Complex64> = values.iter().map(|value| Complex64::new(*value, 0.0)).collect();
    let mut plans = Plans::new();
    plans.forward(size).process(&mut data);
    for (k, value) in data.iter_mut().enumerate() {
        let turn = if 2 * k < size { k as f64 } else { k as f64 - size as f64 } / size as f64;
        *value *= polar(1.0 / size as f64, -std::f64::consts::PI * turn);
    }
    plans.inverse(size).process(&mut data);
    data.into_iter().map(|value| value.re).collect()
}
