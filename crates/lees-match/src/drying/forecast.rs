//! When the limit is reached, by parametric bootstrap over all laws.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use serde::{Deserialize, Serialize};

use super::model::{Curve, fit};
use super::{DryingSettings, Fitted, Point};
use crate::digits::content;
use crate::interval::Z95;

/// What can be said about the time to the limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum State {
    /// The last point, with its interval, is under the limit already.
    Reached,
    /// It will be reached within the reach of the data.
    Expected,
    /// It may be reached, but too far beyond the data to say when.
    TooFar,
    /// It stays above: time alone will not do it.
    Plateau,
    /// No law fits the points, so no time can be said.
    Unfit,
}

/// The time to a limit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Forecast {
    /// The limit in wt%.
    pub limit_wt_percent: f64,
    /// What can be said.
    pub state: State,
    /// Hours from the beginning (median); `None` when nothing can be said.
    pub hours: Option<f64>,
    /// Lower end of the 95 % interval.
    pub hours_low: Option<f64>,
    /// Upper end; `None` when it lies beyond the reach of the data.
    pub hours_high: Option<f64>,
    /// Hours still needed after the last point (median).
    pub more_hours: Option<f64>,
    /// Share of the bootstrap in which the limit is never reached.
    pub share_never: f64,
    /// All that in one sentence.
    pub sentence: String,
}

/// A point of the curve for a figure.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CurvePoint {
    /// Hours since drying began.
    pub hours: f64,
    /// Content by the best law, wt%.
    pub wt_percent: f64,
    /// Lower end of the 95 % band.
    pub low: f64,
    /// Upper end of the 95 % band.
    pub high: f64,
}

/// Share of the bootstrap that must stay above the limit to speak of a plateau.
const SURE: f64 = 0.95;

/// Chi2 over this many times the degrees of freedom fits no law (a probability of 0.1 % for 1 degree, less for more).
const UNFIT: f64 = 10.8;

/// Standard uncertainties by which the last content lies over the first where a series does not dry.
const RISE: f64 = 3.0;

/// Curves refitted to series drawn from the fitted laws, each law as often as its weight.
pub(super) fn bootstrap(series: &[Point], laws: &[Fitted], settings: &DryingSettings) -> Vec<Curve> {
    let mut rng = ChaCha8Rng::seed_from_u64(settings.seed);
    let mut drawn = series.to_vec();
    (0..settings.draws.max(100))
        .filter_map(|_| {
            let law = pick(laws, rng.random_range(0.0..1.0))?;
            let inflation = inflation(law, series.len());
            for (draw, point) in drawn.iter_mut().zip(series) {
                let noise: f64 = StandardNormal.sample(&mut rng);
                draw.wt_percent = law.curve.at(point.hours) + inflation * point.u * noise;
            }
            Some(fit(law.curve.law(), &drawn))
        })
        .collect()
}

/// The law under whose share of the weights `at` (0 to 1) falls.
fn pick(laws: &[Fitted], mut at: f64) -> Option<&Fitted> {
    for law in laws {
        if at < law.weight {
            return Some(law);
        }
        at -= law.weight;
    }
    laws.first()
}

/// Birge ratio: scatter beyond the stated uncertainties widens them.
fn inflation(law: &Fitted, points: usize) -> f64 {
    law.reduced_chi2(points).map_or(1.0, |chi2| chi2.sqrt().max(1.0))
}

/// The time to the limit and what to say about it.
///
/// Where the last point is surely over the limit, a curve that is under it by then is none of this series.
pub(super) fn forecast(
    series: &[Point],
    laws: &[Fitted],
    draws: &[Curve],
    limit: f64,
    reach: f64,
) -> Forecast {
    let (first, last) = (series[0], series[series.len() - 1]);
    let over = last.wt_percent - Z95 * last.u > limit;
    let possible = |time: &f64| !over || *time > last.hours;
    let mut times: Vec<f64> = draws.iter().map(|curve| curve.hours_to(limit)).filter(possible).collect();
    times.sort_by(f64::total_cmp);
    let chi2 = laws.first().and_then(|law| law.reduced_chi2(series.len()));
    let unfit = times.is_empty() || chi2.is_some_and(|chi2| chi2 > UNFIT);
    let horizon = first.hours + reach * (last.hours - first.hours);
    let never = times.iter().filter(|time| time.is_infinite()).count() as f64 / times.len().max(1) as f64;
    let [low, median, high] = [0.025, 0.5, 0.975].map(|share| quantile(&times, share));
    let state = if last.high <= limit {
        State::Reached
    } else if rises(&first, &last) {
        State::TooFar
    } else if unfit {
        State::Unfit
    } else if never >= SURE {
        State::Plateau
    } else if median > horizon {
        State::TooFar
    } else {
        State::Expected
    };
    let known = state == State::Expected;
    let within = |time: f64| (known && time <= horizon).then_some(time);
    let mut found = Forecast {
        limit_wt_percent: limit,
        state,
        hours: within(median),
        hours_low: within(low),
        hours_high: within(high),
        more_hours: within(median).map(|time| (time - last.hours).max(0.0)),
        share_never: never,
        sentence: String::new(),
    };
    found.sentence = sentence(&found, &first, &last, horizon);
    found
}

fn rises(first: &Point, last: &Point) -> bool {
    last.wt_percent - first.wt_percent > RISE * libm::hypot(first.u, last.u)
}

fn quantile(sorted: &[f64], share: f64) -> f64 {
    let at = ((sorted.len() as f64 - 1.0) * share).round().max(0.0) as usize;
    sorted.get(at).copied().unwrap_or(f64::INFINITY)
}

fn sentence(found: &Forecast, first: &Point, last: &Point, horizon: f64) -> String {
    let limit = content(found.limit_wt_percent);
    let stuck = "solvent held as solvate, inclusion or in a glass needs another treatment (higher temperature if the product stands it, dissolving and evaporating again, another anti-solvent), not more hours";
    match found.state {
        State::Reached => {
            format!(
                "The last point ({} wt% after {:.1} h) is under the limit of {limit} wt%.",
                content(last.wt_percent),
                last.hours
            )
        }
        State::Plateau => format!("The content levels off above the limit of {limit} wt%: {stuck}."),
        State::TooFar if rises(first, last) => format!(
            "The content rises from {:.1} h to {:.1} h, so no time to the limit of {limit} wt% can be said: are the times those of the files?",
            first.hours, last.hours
        ),
        State::TooFar => {
            let doubt = if found.share_never > 1.0 - SURE {
                format!("; it may level off above it, and then {stuck}")
            } else {
                String::new()
            };
            format!(
                "The limit of {limit} wt% lies further ahead than the data reach ({horizon:.1} h); measure again later before planning{doubt}."
            )
        }
        State::Unfit => format!(
            "No drying law fits the points, so no time to the limit of {limit} wt% can be said: conditions may have changed between them, or what is left is held more firmly than what went; measure again later."
        ),
        State::Expected => expected_sentence(found, &limit, horizon),
    }
}

fn expected_sentence(found: &Forecast, limit: &str, horizon: f64) -> String {
    let more = found.more_hours.unwrap_or(0.0);
    let total = found.hours.unwrap_or(0.0);
    let low = found.hours_low.unwrap_or(0.0);
    let high =
        found.hours_high.map_or_else(|| format!("beyond {horizon:.1} h"), |high| format!("{high:.1} h"));
    let doubt = if found.share_never > 1.0 - SURE {
        format!("; in {:.0} % of the fits it levels off above the limit", 100.0 * found.share_never)
    } else {
        String::new()
    };
    format!(
        "The limit of {limit} wt% is expected after {total:.1} h of drying (95 % interval {low:.1} h to {high}), {more:.1} h more{doubt}."
    )
}

/// Points of the curve.
const CURVE_POINTS: usize = 61;

/// The best curve and the 95 % band of the bootstrap.
pub(super) fn band(
    series: &[Point],
    laws: &[Fitted],
    draws: &[Curve],
    forecast: Option<&Forecast>,
    reach: f64,
) -> Vec<CurvePoint> {
    let Some(best) = laws.first() else { return Vec::new() };
    let (first, last) = (series[0].hours, series[series.len() - 1].hours);
    let wanted = forecast.and_then(|found| found.hours_high.or(found.hours)).unwrap_or(last);
    let end = (1.1 * wanted.max(last)).min(first + reach * (last - first));
    (0..CURVE_POINTS)
        .map(|i| {
            let hours = end * i as f64 / (CURVE_POINTS - 1) as f64;
            let mut contents: Vec<f64> = draws.iter().map(|curve| curve.at(hours)).collect();
            contents.sort_by(f64::total_cmp);
            CurvePoint {
                hours,
                wt_percent: best.curve.at(hours),
                low: quantile(&contents, 0.025),
                high: quantile(&contents, 0.975),
            }
        })
        .collect()
}
