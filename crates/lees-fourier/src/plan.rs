//! Plans, made once and kept.

use std::collections::HashMap;
use std::fmt;
use std::sync::Arc;

use num_complex::Complex64;

use crate::bluestein::Bluestein;
use crate::passes::Passes;

/// A transform of one length and direction, not scaled.
#[derive(Clone)]
pub struct Plan {
    way: Arc<Way>,
    length: usize,
    is_inverse: bool,
}

/// How a length is transformed forward; the inverse is the conjugate of the conjugate's.
enum Way {
    /// Nothing to do.
    None,
    Passes(Passes),
    Bluestein(Bluestein),
}

impl Way {
    fn new(length: usize) -> Self {
        let passes = Passes::new(length).map(Self::Passes);
        passes.or_else(|| Bluestein::new(length).map(Self::Bluestein)).unwrap_or(Self::None)
    }
}

impl Plan {
    /// Points transformed at a time.
    ///
    /// ```
    /// assert_eq!(lees_fourier::Plans::new().forward(12).points(), 12);
    /// ```
    #[must_use]
    pub fn points(&self) -> usize {
        self.length
    }

    /// Points of scratch memory that [`Plan::process_with`] asks for.
    ///
    /// ```
    /// assert_eq!(lees_fourier::Plans::new().forward(12).scratch(), 12);
    /// ```
    #[must_use]
    pub fn scratch(&self) -> usize {
        match &*self.way {
            Way::None => 0,
            Way::Passes(passes) => passes.scratch(),
            Way::Bluestein(bluestein) => bluestein.scratch(),
        }
    }

    /// Transforms in place.
    ///
    /// # Panics
    ///
    /// Where the number of points is not the plan's.
    ///
    /// ```
    /// use num_complex::Complex64;
    /// let mut points = vec![Complex64::new(1.0, 0.0); 6];
    /// lees_fourier::Plans::new().forward(6).process(&mut points);
    /// assert!((points[0].re - 6.0).abs() < 1e-15 && points[1].norm() < 1e-15);
    /// ```
    pub fn process(&self, points: &mut [Complex64]) {
        self.process_with(points, &mut vec![Complex64::ZERO; self.scratch()]);
    }

    /// Transforms in place, with memory at hand; what was in it is lost.
    ///
    /// # Panics
    ///
    /// Where the number of points is not the plan's, or the scratch memory is shorter than [`Plan::scratch`].
    ///
    /// ```
    /// use num_complex::Complex64;
    /// let plan = lees_fourier::Plans::new().inverse(4);
    /// let mut points = [1.0, 0.0, 0.0, 0.0].map(Complex64::from);
    /// plan.process_with(&mut points, &mut vec![Complex64::ZERO; plan.scratch()]);
    /// assert_eq!(points, [Complex64::ONE; 4]);
    /// ```
    pub fn process_with(&self, points: &mut [Complex64], scratch: &mut [Complex64]) {
        assert_eq!(points.len(), self.length, "a plan is for one number of points");
        let conjugate = |points: &mut [Complex64]| points.iter_mut().for_each(|z| z.im = -z.im);
        if self.is_inverse {
            conjugate(points);
        }
        match &*self.way {
            Way::None => {}
            Way::Passes(passes) => passes.process(points, scratch),
            Way::Bluestein(bluestein) => bluestein.process(points, scratch),
        }
        if self.is_inverse {
            conjugate(points);
        }
    }
}

impl fmt::Debug for Plan {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Plan").field("points", &self.length).finish_non_exhaustive()
    }
}

/// Makes plans, and keeps them.
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
#[derive(Default)]
pub struct Plans(HashMap<usize, Arc<Way>>);

impl Plans {
    /// No plan yet.
    ///
    /// ```
    /// let plan = lees_fourier::Plans::new().forward(8);
    /// assert_eq!(plan.points(), 8);
    /// ```
    #[must_use]
    pub fn new() -> Self {
        Self::default()
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
    pub fn forward(&mut self, points: usize) -> Plan {
        self.plan(points, false)
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
    pub fn inverse(&mut self, points: usize) -> Plan {
        self.plan(points, true)
    }

    fn plan(&mut self, length: usize, is_inverse: bool) -> Plan {
        let way = self.0.entry(length).or_insert_with(|| Arc::new(Way::new(length)));
        Plan { way: Arc::clone(way), length, is_inverse }
    }
}

impl fmt::Debug for Plans {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("Plans").field(&self.0.keys()).finish()
    }
}
