//! Content against drying time: which law, how long still, and whether time will do it at all.
//!
//! Laws: falling-rate first order, w = w0 exp(-k t); the same to a plateau, w = p + (w0 - p) exp(-k t); diffusion-limited early
//! loss, w = w0 - s sqrt(t) (J. Crank, The Mathematics of Diffusion, 1975; from memory). They are weighed by Akaike's criterion (K. P. Burnham, D. R.
//! Anderson, Model Selection and Multimodel Inference, 2002), and the time to a limit comes from a parametric bootstrap over all of them.

mod forecast;
mod model;

use serde::{Deserialize, Serialize};

use crate::MatchError;
use crate::interval::Z95;
pub use forecast::{CurvePoint, Forecast, State};
pub use model::{Curve, Law};

/// A content measured after some hours of drying.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Point {
    /// Hours since drying began.
    pub hours: f64,
    /// Content in wt%.
    pub wt_percent: f64,
    /// Its standard uncertainty in wt%.
    pub u: f64,
    /// Upper end of its 95 % interval in wt%: more than that far where something may be there unseen.
    pub high: f64,
}

impl Point {
    /// A content whose interval reaches as far up as down.
    ///
    /// ```
    /// use lees_match::drying::Point;
    /// assert!((Point::symmetric(2.0, 1.0, 0.1).high - 1.196).abs() < 1e-3);
    /// ```
    #[must_use]
    pub const fn symmetric(hours: f64, wt_percent: f64, u: f64) -> Self {
        Self { hours, wt_percent, u, high: wt_percent + Z95 * u }
    }
}

/// How the series is worked.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct DryingSettings {
    /// Bootstrap draws.
    pub draws: usize,
    /// Seed of the bootstrap, so that a result can be repeated.
    pub seed: u64,
    /// No forecast beyond this many times the measured span.
    pub reach: f64,
}

impl Default for DryingSettings {
    fn default() -> Self {
        Self { draws: 1000, seed: 1, reach: 3.0 }
    }
}

/// One law fitted to the series.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Fitted {
    /// The law with its parameters.
    pub curve: Curve,
    /// Weighted sum of squares.
    pub chi2: f64,
    /// Akaike's criterion, chi2 + 2 parameters.
    pub aic: f64,
    /// Akaike weight among the laws fitted; they sum to 1.
    pub weight: f64,
}

/// A drying series, worked.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Drying {
    /// The laws, best first.
    pub laws: Vec<Fitted>,
    /// The time to the limit, when a limit was given.
    pub forecast: Option<Forecast>,
    /// The curve with its 95 % band, for a figure.
    pub curve: Vec<CurvePoint>,
    /// Things a careful reader should know.
    pub warnings: Vec<String>,
}

/// Fewest points for a law without plateau.
const LEAST_POINTS: usize = 3;

/// Fits the laws to a series and forecasts when `limit_wt_percent` is reached.
///
/// # Errors
/// Fewer than three points, times that do not differ, a negative time, an uncertainty that is not positive.
///
/// ```
/// use lees_match::drying::{DryingSettings, Point, State, drying};
/// let point = |hours: f64| Point::symmetric(hours, 2.0 * (-0.3 * hours).exp(), 0.01);
/// let series: Vec<Point> = [0.0, 1.0, 2.0, 4.0].map(point).to_vec();
/// let found = drying(&series, Some(0.2), &DryingSettings::default())?;
/// let forecast = found.forecast.expect("a limit was given");
/// assert_eq!(forecast.state, State::Expected);
/// assert!((forecast.hours.expect("within reach") - 7.675).abs() < 0.5); // ln(10) / 0.3
/// # Ok::<(), lees_match::MatchError>(())
/// ```
pub fn drying(
    points: &[Point],
    limit_wt_percent: Option<f64>,
    settings: &DryingSettings,
) -> Result<Drying, MatchError> {
    let series = sound(points)?;
    let laws = weighed(model::fit_all(&series));
    let draws = forecast::bootstrap(&series, &laws, settings);
    let forecast =
        limit_wt_percent.map(|limit| forecast::forecast(&series, &laws, &draws, limit, settings.reach));
    let warnings = warnings(&series, &laws);
    let curve = forecast::band(&series, &laws, &draws, forecast.as_ref(), settings.reach);
    Ok(Drying { laws, forecast, curve, warnings })
}

/// The points in order of time, or why they cannot be used.
fn sound(points: &[Point]) -> Result<Vec<Point>, MatchError> {
    let mut series = points.to_vec();
    series.sort_by(|a, b| a.hours.total_cmp(&b.hours));
    for point in &series {
        let placed = point.hours.is_finite() && point.hours >= 0.0;
        let measured = point.wt_percent.is_finite() && point.u.is_finite() && point.u > 0.0;
        if !(placed && measured) {
            return Err(MatchError::Value {
                what: "a point of the drying series".to_owned(),
                read: format!("{} h, {} wt%, u {} wt%", point.hours, point.wt_percent, point.u),
                allowed: "hours from 0, a content in wt%, an uncertainty over 0".to_owned(),
            });
        }
    }
    let mut times: Vec<f64> = series.iter().map(|point| point.hours).collect();
    times.dedup();
    if times.len() < LEAST_POINTS {
        return Err(MatchError::NotEnough(format!(
            "a drying series needs at least {LEAST_POINTS} different times, {} given",
            times.len()
        )));
    }
    Ok(series)
}

/// Akaike weights, best law first.
fn weighed(curves: Vec<(Curve, f64)>) -> Vec<Fitted> {
    let mut laws: Vec<Fitted> = curves
        .into_iter()
        .map(|(curve, chi2)| Fitted { curve, chi2, aic: aic(chi2, curve.law().parameters()), weight: 0.0 })
        .collect();
    laws.sort_by(|a, b| a.aic.total_cmp(&b.aic));
    let best = laws.first().map_or(0.0, |law| law.aic);
    let sum: f64 = laws.iter().map(|law| libm::exp(-0.5 * (law.aic - best))).sum();
    for law in &mut laws {
        law.weight = libm::exp(-0.5 * (law.aic - best)) / sum;
    }
    laws
}

/// Akaike's criterion for known uncertainties: chi2 + 2 k.
///
/// The small-sample term of AICc belongs to an uncertainty estimated from the same points. Here each content brings its own, and the
/// term would hide plateaus: with it, the interval of the time to the limit covered 44 % of simulated five-point series that end on a
/// plateau, without it 92 % (the tests repeat the latter).
fn aic(chi2: f64, parameters: usize) -> f64 {
    chi2 + 2.0 * parameters as f64
}

/// Probability of a worse fit under which the series is called rougher than its uncertainties: chi2 over this many times the degrees of
/// freedom (about 1 % for 3 degrees).
const ROUGH: f64 = 3.8;

impl Fitted {
    /// Chi2 by degrees of freedom; `None` where so many points leave none.
    fn reduced_chi2(&self, points: usize) -> Option<f64> {
        let freedom = points.saturating_sub(self.curve.law().parameters());
        (freedom > 0).then(|| self.chi2 / freedom as f64)
    }
}

/// A law of this weight is told from the others.
const ALONE: f64 = 0.95;

fn warnings(series: &[Point], laws: &[Fitted]) -> Vec<String> {
    let mut out = Vec::new();
    let Some(best) = laws.first() else { return out };
    if best.reduced_chi2(series.len()).is_some_and(|chi2| chi2 > ROUGH) {
        out.push(
            "The points scatter more than their uncertainties allow: conditions may have changed between them."
                .to_owned(),
        );
    }
    if series.len() < 5 && best.weight < ALONE {
        out.push(format!(
            "{} points cannot tell the laws apart well; all of them enter the forecast by their weight.",
            series.len()
        ));
    }
    out
}
