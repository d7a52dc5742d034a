//! The laws of drying and their weighted least-squares fits.

use serde::{Deserialize, Serialize};

use super::Point;

/// A law of drying.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Law {
    /// w = w0 exp(-k t).
    FirstOrder,
    /// w = p + (w0 - p) exp(-k t).
    Plateau,
    /// w = w0 - s sqrt(t), early diffusion.
    SquareRoot,
}

impl Law {
    /// How many parameters are fitted.
    #[must_use]
    pub(crate) const fn parameters(self) -> usize {
        match self {
            Self::FirstOrder | Self::SquareRoot => 2,
            Self::Plateau => 3,
        }
    }

    /// In words.
    ///
    /// ```
    /// assert_eq!(lees_match::drying::Law::Plateau.words(), "first order to a plateau");
    /// ```
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::FirstOrder => "first order (falling rate)",
            Self::Plateau => "first order to a plateau",
            Self::SquareRoot => "diffusion (square root of time)",
        }
    }
}

/// A law with its parameters; contents in wt%, times in hours.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Curve {
    /// Exponential fall to a plateau, which is 0 for the law without one.
    Exponential {
        /// Whether the plateau was free.
        with_plateau: bool,
        /// The content that stays.
        plateau: f64,
        /// What leaves: content at time 0 less the plateau.
        amplitude: f64,
        /// Rate per hour.
        rate: f64,
    },
    /// Fall with the square root of time.
    SquareRoot {
        /// Content at time 0.
        start: f64,
        /// Loss per square root of an hour.
        slope: f64,
    },
}

impl Curve {
    /// Which law it follows.
    ///
    /// ```
    /// use lees_match::drying::{Curve, Law};
    /// let curve = Curve::Exponential { with_plateau: false, plateau: 0.0, amplitude: 2.4, rate: 0.3 };
    /// assert_eq!(curve.law(), Law::FirstOrder);
    /// ```
    #[must_use]
    pub const fn law(&self) -> Law {
        match self {
            Self::Exponential { with_plateau: true, .. } => Law::Plateau,
            Self::Exponential { with_plateau: false, .. } => Law::FirstOrder,
            Self::SquareRoot { .. } => Law::SquareRoot,
        }
    }

    /// The content after some hours, in wt%.
    #[must_use]
    pub(crate) fn at(&self, hours: f64) -> f64 {
        match self {
            Self::Exponential { plateau, amplitude, rate, .. } => {
                plateau + amplitude * libm::exp(-rate * hours)
            }
            Self::SquareRoot { start, slope } => (start - slope * hours.sqrt()).max(0.0),
        }
    }

    /// Hours until a content is reached; infinite when it never is.
    #[must_use]
    pub(crate) fn hours_to(&self, wt_percent: f64) -> f64 {
        if self.at(0.0) <= wt_percent {
            return 0.0;
        }
        match self {
            Self::Exponential { plateau, amplitude, rate, .. } => {
                let left = wt_percent - plateau;
                if left <= 0.0 || *rate <= 0.0 { f64::INFINITY } else { libm::log(amplitude / left) / rate }
            }
            Self::SquareRoot { start, slope } => {
                if *slope <= 0.0 {
                    f64::INFINITY
                } else {
                    ((start - wt_percent) / slope).powi(2)
                }
            }
        }
    }

    fn chi2(&self, series: &[Point]) -> f64 {
        series.iter().map(|p| ((p.wt_percent - self.at(p.hours)) / p.u).powi(2)).sum()
    }
}

/// Share of the first content that may be lost for the square-root law to hold (Crank: early times, about 60 %).
const EARLY: f64 = 0.6;

/// Every law the series can carry, with its weighted sum of squares.
pub(super) fn fit_all(series: &[Point]) -> Vec<(Curve, f64)> {
    let mut curves = vec![fit(Law::FirstOrder, series)];
    if series.len() >= 4 {
        curves.push(fit(Law::Plateau, series));
    }
    let root = fit(Law::SquareRoot, series);
    let end = series.last().map_or(0.0, |point| point.hours);
    if root.at(end) > (1.0 - EARLY) * root.at(0.0) {
        curves.push(root);
    }
    curves.into_iter().map(|curve| (curve, curve.chi2(series))).collect()
}

/// The best curve of one law.
pub(super) fn fit(law: Law, series: &[Point]) -> Curve {
    match law {
        Law::SquareRoot => square_root(series),
        Law::FirstOrder => exponential(series, false),
        Law::Plateau => exponential(series, true),
    }
}

fn square_root(series: &[Point]) -> Curve {
    let (start, slope) = line(series, |hours| -hours.sqrt());
    if slope >= 0.0 {
        Curve::SquareRoot { start, slope }
    } else {
        Curve::SquareRoot { start: mean(series), slope: 0.0 }
    }
}

/// Steps of the search for the rate over its logarithm, and halvings around the best.
const GRID: usize = 32;
const REFINEMENTS: usize = 24;

/// Rates tried: from one that loses 1 % over the span to one that is over within a tenth of the shortest step.
fn exponential(series: &[Point], with_plateau: bool) -> Curve {
    let span = (series[series.len() - 1].hours - series[0].hours).max(f64::MIN_POSITIVE);
    let shortest = series
        .windows(2)
        .map(|pair| pair[1].hours - pair[0].hours)
        .filter(|step| *step > 0.0)
        .fold(span, f64::min);
    let (low, high) = (libm::log(0.01 / span), libm::log(10.0 / shortest));
    let step = (high - low) / GRID as f64;
    let curve_at = |log_rate: f64| amplitudes(series, libm::exp(log_rate), with_plateau);
    let cost = |log_rate: f64| curve_at(log_rate).chi2(series);
    let best =
        (0..=GRID).map(|i| low + step * i as f64).min_by(|a, b| cost(*a).total_cmp(&cost(*b))).unwrap_or(low);
    curve_at(golden(best - step, best + step, cost))
}

/// Golden-section search for a minimum.
fn golden(mut low: f64, mut high: f64, cost: impl Fn(f64) -> f64) -> f64 {
    let ratio = 0.5 * (5f64.sqrt() - 1.0);
    let (mut a, mut b) = (high - ratio * (high - low), low + ratio * (high - low));
    let (mut cost_a, mut cost_b) = (cost(a), cost(b));
    for _ in 0..REFINEMENTS {
        if cost_a < cost_b {
            (high, b, cost_b) = (b, a, cost_a);
            a = high - ratio * (high - low);
            cost_a = cost(a);
        } else {
            (low, a, cost_a) = (a, b, cost_b);
            b = low + ratio * (high - low);
            cost_b = cost(b);
        }
    }
    0.5 * (low + high)
}

/// Plateau and amplitude at a fixed rate, neither below zero.
fn amplitudes(series: &[Point], rate: f64, with_plateau: bool) -> Curve {
    let decay = |hours: f64| libm::exp(-rate * hours);
    let alone = || {
        let top: f64 = series.iter().map(|p| p.wt_percent * decay(p.hours) / (p.u * p.u)).sum();
        let bottom: f64 = series.iter().map(|p| (decay(p.hours) / p.u).powi(2)).sum();
        (top / bottom).max(0.0)
    };
    let (plateau, amplitude) = if with_plateau { line(series, decay) } else { (0.0, alone()) };
    let (plateau, amplitude) = match (plateau < 0.0, amplitude < 0.0) {
        (_, true) => (mean(series).max(0.0), 0.0),
        (true, false) => (0.0, alone()),
        (false, false) => (plateau, amplitude),
    };
    Curve::Exponential { with_plateau, plateau, amplitude, rate }
}

fn mean(series: &[Point]) -> f64 {
    let weight: f64 = series.iter().map(|p| 1.0 / (p.u * p.u)).sum();
    series.iter().map(|p| p.wt_percent / (p.u * p.u)).sum::<f64>() / weight
}

/// Weighted straight line through (basis(t), w): intercept and slope.
fn line(series: &[Point], basis: impl Fn(f64) -> f64) -> (f64, f64) {
    let [mut s, mut sx, mut sy, mut sxx, mut sxy] = [0.0; 5];
    for point in series {
        let (x, y, w) = (basis(point.hours), point.wt_percent, 1.0 / (point.u * point.u));
        s += w;
        sx += w * x;
        sy += w * y;
        sxx += w * x * x;
        sxy += w * x * y;
    }
    let determinant = s * sxx - sx * sx;
    if determinant <= 1e-12 * s * sxx {
        return (sy / s, 0.0);
    }
    ((sxx * sy - sx * sxy) / determinant, (s * sxy - sx * sy) / determinant)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn series(curve: Curve, hours: &[f64]) -> Vec<Point> {
        hours.iter().map(|&hours| Point::symmetric(hours, curve.at(hours), 0.01)).collect()
    }

    /// Every law recovers its own parameters from exact points.
    #[test]
    fn exact_series_are_recovered() {
        let curves = [
            Curve::Exponential { with_plateau: false, plateau: 0.0, amplitude: 3.0, rate: 0.4 },
            Curve::Exponential { with_plateau: true, plateau: 0.5, amplitude: 2.0, rate: 0.8 },
            Curve::SquareRoot { start: 4.0, slope: 0.7 },
        ];
        for curve in curves {
            let points = series(curve, &[0.0, 0.5, 1.0, 2.0, 4.0, 6.0]);
            let found = fit(curve.law(), &points);
            for hours in [0.3, 3.0, 8.0] {
                assert_relative_eq!(found.at(hours), curve.at(hours), max_relative = 1e-5);
            }
        }
    }

    #[test]
    fn times_to_a_content() {
        let plateau = Curve::Exponential { with_plateau: true, plateau: 0.5, amplitude: 2.0, rate: 0.8 };
        assert!(plateau.hours_to(0.5).is_infinite());
        assert_relative_eq!(plateau.hours_to(0.7), libm::log(10f64) / 0.8, max_relative = 1e-12);
        assert_eq!(plateau.hours_to(3.0), 0.0);
        let root = Curve::SquareRoot { start: 4.0, slope: 1.0 };
        assert_relative_eq!(root.hours_to(1.0), 9.0, max_relative = 1e-12);
        assert!(Curve::SquareRoot { start: 4.0, slope: 0.0 }.hours_to(1.0).is_infinite());
    }

    /// Half-life of a first-order law: ln 2 / k.
    #[test]
    fn half_life() {
        let curve = Curve::Exponential { with_plateau: false, plateau: 0.0, amplitude: 3.0, rate: 0.4 };
        assert_relative_eq!(curve.hours_to(1.5), libm::log(2f64) / 0.4, max_relative = 1e-12);
    }
}
