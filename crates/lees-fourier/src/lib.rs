//! The discrete Fourier transform, for every floor that needs it.
//!
//! `rustfft` is generic over its number, so each crate that makes a plan compiles all of its algorithms again, for half a
//! minute of processor time. Here they are compiled once, for double precision.

use std::fmt;
use std::sync::Arc;

use rustfft::FftPlanner;

/// A plan: transforms points in place, not scaled.
pub use rustfft::Fft;

/// Makes plans, and keeps what two of them have in common.
///
/// ```
/// use num_complex::Complex64;
/// let mut plans = lees_fourier::Plans::new();
/// let before: Vec<Complex64> = (0..12).map(|i| Complex64::new(f64::from(i), -1.0)).collect();
/// let mut points = before.clone();
/// plans.forward(12).process(&mut points);
/// plans.inverse(12).process(&mut points);
/// assert!(points.iter().zip(&before).all(|(a, b)| (a / 12.0 - b).norm() < 1e-12));
/// ```
pub struct Plans(FftPlanner<f64>);

impl Plans {
    /// No plan yet.
    ///
    /// ```
    /// let plan = lees_fourier::Plans::new().forward(8);
    /// assert_eq!(plan.len(), 8);
    /// ```
    #[must_use]
    pub fn new() -> Self {
        Self(FftPlanner::new())
    }

    /// The plan of `X[k] = sum_j x[j] exp(-i 2 pi j k / n)`, for any number of points, not scaled.
    ///
    /// ```
    /// use num_complex::Complex64;
    /// // One turn in six points: all of it in element 1.
    /// let turn = |i: u32| Complex64::from_polar(1.0, std::f64::consts::TAU * f64::from(i) / 6.0);
    /// let mut points: Vec<Complex64> = (0..6).map(turn).collect();
    /// lees_fourier::Plans::new().forward(6).process(&mut points);
    /// assert!((points[1].re - 6.0).abs() < 1e-12 && points[5].norm() < 1e-12);
    /// ```
    pub fn forward(&mut self, points: usize) -> Arc<dyn Fft<f64>> {
        self.0.plan_fft_forward(points)
    }

    /// The plan of the sum with the opposite sign of the exponent, not scaled.
    ///
    /// ```
    /// use num_complex::Complex64;
    /// let turn = |i: u32| Complex64::from_polar(1.0, std::f64::consts::TAU * f64::from(i) / 6.0);
    /// let mut points: Vec<Complex64> = (0..6).map(turn).collect();
    /// lees_fourier::Plans::new().inverse(6).process(&mut points);
    /// assert!((points[5].re - 6.0).abs() < 1e-12 && points[1].norm() < 1e-12);
    /// ```
    pub fn inverse(&mut self, points: usize) -> Arc<dyn Fft<f64>> {
        self.0.plan_fft_inverse(points)
    }
}

impl Default for Plans {
    fn default() -> Self {
        Self::new()
    }
}

impl fmt::Debug for Plans {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Plans").finish_non_exhaustive()
    }
}
