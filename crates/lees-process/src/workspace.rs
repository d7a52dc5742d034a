//! FFT plans and scratch memory, made once and used for many spectra.

use lees_fourier::{Plan, Plans};
use num_complex::Complex64;

/// Plans and buffers that processing reuses, so that a series of spectra allocates only what it hands back.
///
/// A workspace holds no results: any step gives the same values with a fresh one.
///
/// ```
/// use lees_process::Workspace;
/// use num_complex::Complex64;
/// let mut workspace = Workspace::new();
/// let mut points = vec![Complex64::new(1.0, 0.0); 6];
/// workspace.forward(&mut points);
/// assert!((points[0].re - 6.0).abs() < 1e-12 && points[1].norm() < 1e-12);
/// workspace.inverse(&mut points);
/// assert!((points[3].re - 1.0).abs() < 1e-12);
/// ```
pub struct Workspace {
    plans: Plans,
    scratch: Vec<Complex64>,
    spare: Vec<Vec<Complex64>>,
}

impl Workspace {
    /// An empty workspace; plans are made when first needed.
    ///
    /// ```
    /// let mut one = vec![num_complex::Complex64::new(1.0, 0.0)];
    /// lees_process::Workspace::new().forward(&mut one);
    /// assert_eq!(one[0].re, 1.0, "one point transforms to itself");
    /// ```
    #[must_use]
    pub fn new() -> Self {
        Self { plans: Plans::new(), scratch: Vec::new(), spare: Vec::new() }
    }

    /// Discrete Fourier transform in place, `X[k] = sum_j x[j] exp(-i 2 pi j k / n)`, any length, not scaled.
    ///
    /// ```
    /// use num_complex::Complex64;
    /// // Two turns in eight points: all of it in element 2.
    /// let turn = |i: u32| Complex64::from_polar(1.0, std::f64::consts::TAU * f64::from(i) / 4.0);
    /// let mut points: Vec<Complex64> = (0..8).map(turn).collect();
    /// lees_process::Workspace::new().forward(&mut points);
    /// assert!((points[2].re - 8.0).abs() < 1e-12 && points[1].norm() < 1e-12);
    /// ```
    pub fn forward(&mut self, points: &mut [Complex64]) {
        let plan = self.plans.forward(points.len());
        self.run(&plan, points);
    }

    /// Inverse of [`Workspace::forward`], scaled by `1/n` so that one after the other changes nothing.
    ///
    /// ```
    /// use num_complex::Complex64;
    /// let mut workspace = lees_process::Workspace::new();
    /// let before: Vec<Complex64> = (0..12).map(|i| Complex64::new(f64::from(i), -1.0)).collect();
    /// let mut points = before.clone();
    /// workspace.forward(&mut points);
    /// workspace.inverse(&mut points);
    /// assert!(points.iter().zip(&before).all(|(a, b)| (a - b).norm() < 1e-12));
    /// ```
    pub fn inverse(&mut self, points: &mut [Complex64]) {
        let plan = self.plans.inverse(points.len());
        self.run(&plan, points);
        let scale = 1.0 / points.len().max(1) as f64;
        points.iter_mut().for_each(|point| *point *= scale);
    }

    /// A buffer of `length` zeros, taken from earlier ones where possible; hand it back with
    /// [`Workspace::give_back`].
    #[must_use]
    pub(crate) fn lend(&mut self, length: usize) -> Vec<Complex64> {
        let mut buffer = self.spare.pop().unwrap_or_default();
        buffer.clear();
        buffer.resize(length, Complex64::ZERO);
        buffer
    }

    /// Keeps a buffer for the next call of [`Workspace::lend`].
    pub(crate) fn give_back(&mut self, buffer: Vec<Complex64>) {
        self.spare.push(buffer);
    }

    fn run(&mut self, plan: &Plan, points: &mut [Complex64]) {
        let needed = plan.scratch();
        if self.scratch.len() < needed {
            self.scratch.resize(needed, Complex64::ZERO);
        }
        plan.process_with(points, &mut self.scratch[..needed]);
    }
}

impl Default for Workspace {
    fn default() -> Self {
        Self::new()
    }
}

impl std::fmt::Debug for Workspace {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Workspace")
            .field("scratch", &self.scratch.len())
            .field("spare", &self.spare.len())
            .finish()
    }
}
