//! The penalised least-squares smoother on an even grid.

/// Smooths `values` with point weights `weights` and penalty `lambda` on squared second differences.
///
/// Solves `(W + lambda D'D) z = W y` by a banded `L D L'` factorisation: O(n). Source: Whittaker 1923 in the form
/// of Eilers, Anal. Chem. 2003, 75, 3631. Points of weight zero are bridged. Returns `values` unchanged when fewer
/// than three points are given or fewer than two have weight.
///
/// ```
/// use lees_process::baseline::whittaker::smooth;
/// let line: Vec<f64> = (0..50).map(|i| 2.0 + 0.5 * i as f64).collect();
/// let fitted = smooth(&line, &[1.0; 50], 1e6);
/// assert!(line.iter().zip(&fitted).all(|(a, b)| (a - b).abs() < 1e-6), "a straight line costs no penalty");
/// ```
#[must_use]
pub fn smooth(values: &[f64], weights: &[f64], lambda: f64) -> Vec<f64> {
    match Smoother::new(weights, lambda) {
        Some(smoother) if values.len() == weights.len() => smoother.solve(values),
        _ => values.to_vec(),
    }
}

/// A factorised smoother, to be used on several right-hand sides.
#[derive(Debug, Clone)]
pub struct Smoother {
    weights: Vec<f64>,
    diagonal: Vec<f64>,
    first: Vec<f64>,
    second: Vec<f64>,
}

impl Smoother {
    /// Factorises `W + lambda D'D`; `None` when fewer than three points or fewer than two with weight.
    ///
    /// ```
    /// use lees_process::baseline::whittaker::Smoother;
    /// assert!(Smoother::new(&[1.0, 1.0, 1.0], 10.0).is_some());
    /// assert!(Smoother::new(&[1.0, 0.0, 0.0], 10.0).is_none(), "one point makes no line");
    /// ```
    #[must_use]
    pub fn new(weights: &[f64], lambda: f64) -> Option<Self> {
        let n = weights.len();
        if n < 3 || weights.iter().filter(|w| **w > 0.0).count() < 2 || lambda.is_nan() || lambda <= 0.0 {
            return None;
        }
        let (mut diagonal, mut first, mut second) = (vec![0.0; n], vec![0.0; n], vec![0.0; n]);
        for i in 0..n {
            let (d0, d1, d2) = penalty(i, n);
            let mut d = weights[i] + lambda * d0;
            let mut e = lambda * d1;
            if i >= 1 {
                d -= first[i - 1] * first[i - 1] * diagonal[i - 1];
                e -= first[i - 1] * second[i - 1] * diagonal[i - 1];
            }
            if i >= 2 {
                d -= second[i - 2] * second[i - 2] * diagonal[i - 2];
            }
            diagonal[i] = d.max(f64::MIN_POSITIVE);
            first[i] = e / diagonal[i];
            second[i] = lambda * d2 / diagonal[i];
        }
        Some(Self { weights: weights.to_vec(), diagonal, first, second })
    }

    /// The smooth curve through `values`, which must be as long as the weights.
    ///
    /// ```
    /// use lees_process::baseline::whittaker::Smoother;
    /// let smoother = Smoother::new(&[1.0, 1.0, 0.0, 1.0, 1.0], 1e3).expect("four points with weight");
    /// let through = smoother.solve(&[1.0, 2.0, 99.0, 4.0, 5.0]);
    /// assert!((through[2] - 3.0).abs() < 1e-9, "a point without weight is bridged");
    /// ```
    #[must_use]
    pub fn solve(&self, values: &[f64]) -> Vec<f64> {
        let n = self.weights.len().min(values.len());
        let mut z = vec![0.0; n];
        for i in 0..n {
            let mut v = self.weights[i] * values[i];
            if i >= 1 {
                v -= self.first[i - 1] * z[i - 1];
            }
            if i >= 2 {
                v -= self.second[i - 2] * z[i - 2];
            }
            z[i] = v;
        }
        for i in (0..n).rev() {
            let mut v = z[i] / self.diagonal[i];
            if i + 1 < n {
                v -= self.first[i] * z[i + 1];
            }
            if i + 2 < n {
                v -= self.second[i] * z[i + 2];
            }
            z[i] = v;
        }
        z
    }
}

/// Row `i` of `D'D` from the diagonal to the right, for second differences of `n` points.
fn penalty(i: usize, n: usize) -> (f64, f64, f64) {
    let row = |k: i64| -> Option<[f64; 3]> { (k >= 0 && (k as usize) + 2 < n).then_some([1.0, -2.0, 1.0]) };
    let (mut d0, mut d1, mut d2) = (0.0, 0.0, 0.0);
    for back in 0..3usize {
        if let Some(row) = row(i as i64 - back as i64) {
            d0 += row[back] * row[back];
            d1 += if back < 2 { row[back] * row[back + 1] } else { 0.0 };
            d2 += if back < 1 { row[back] * row[back + 2] } else { 0.0 };
        }
    }
    (d0, d1, d2)
}

/// The penalty whose smoother passes half the amplitude of a wave of `period` grid points: `(period / 2 pi)^4`.
///
/// ```
/// use lees_process::baseline::whittaker::lambda_for_period;
/// assert!((lambda_for_period(2.0 * std::f64::consts::PI) - 1.0).abs() < 1e-12);
/// ```
#[must_use]
pub fn lambda_for_period(period: f64) -> f64 {
    (period / std::f64::consts::TAU).powi(4)
}
