//! How each batch dries.

use std::collections::BTreeMap;

use lees_core::check::Estimate;
use lees_core::rack::{Brief, Motion, Point, Trend};

/// Standard uncertainties of a difference beyond which it is taken as real (95 % of a normal distribution).
const REAL: f64 = 1.96;

/// A trend for every batch of which at least two drying times are known, in order of batch and time.
///
/// ```
/// use lees_core::rack::Motion;
/// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/wet_dye.rs")); }
/// # use made::*;
/// // One batch: 2.0 wt% before drying, 0.4 wt% after six hours.
/// let rack = [fraction("wet", 2.0, 1.0, 0.0), fraction("dried", 0.4, 1.0, 6.0)];
/// let trends = lees::rack::trends(&rack);
/// assert_eq!(trends[0].last_step, Motion::Falling);
/// ```
#[must_use]
pub fn trends(rack: &[Brief]) -> Vec<Trend> {
    let mut batches: BTreeMap<&str, Vec<Point>> = BTreeMap::new();
    for brief in rack {
        if let Some(hours) = brief.tags.drying_hours {
            let point = Point { hours, total: brief.total, verdict: brief.verdict };
            batches.entry(brief.tags.batch.as_deref().unwrap_or_default()).or_default().push(point);
        }
    }
    batches.into_iter().filter_map(|(batch, points)| trend(batch, points)).collect()
}

fn trend(batch: &str, mut points: Vec<Point>) -> Option<Trend> {
    points.sort_by(|a, b| a.hours.total_cmp(&b.hours));
    let last = points.last()?;
    let before = points.iter().rev().find(|p| p.hours < last.hours)?;
    let last_step =
        before.total.zip(last.total).map_or(Motion::Unknown, |(before, after)| motion(before, after));
    Some(Trend { batch: batch.to_owned(), points, last_step })
}

fn motion(before: Estimate, after: Estimate) -> Motion {
    let (change, u) = (after.value - before.value, libm::hypot(before.u, after.u));
    match change {
        c if c < -REAL * u => Motion::Falling,
        c if c > REAL * u => Motion::Rising,
        _ => Motion::Still,
    }
}

#[cfg(test)]
mod tests {
    use super::super::fixture::fraction;
    use super::*;

    fn dried(batch: &str, hours: f64, wt: f64) -> Brief {
        let mut brief = fraction("x", wt, None);
        brief.tags.fraction = None;
        brief.tags.batch = Some(batch.to_owned());
        brief.tags.drying_hours = Some(hours);
        brief
    }

    #[test]
    fn batches_are_followed_apart_and_in_order_of_time() {
        let rack = [dried("b", 6.0, 0.3), dried("a", 0.0, 2.0), dried("b", 0.0, 0.31), dried("a", 4.0, 1.0)];
        let found = trends(&rack);
        assert_eq!(found.iter().map(|t| t.batch.as_str()).collect::<Vec<_>>(), ["a", "b"]);
        assert_eq!(found[0].last_step, Motion::Falling, "2.0 to 1.0 with 5 % each");
        assert_eq!(found[1].last_step, Motion::Still, "0.31 to 0.30 with 5 % each");
        assert_eq!(found[1].points[0].hours, 0.0);
    }

    #[test]
    fn what_rises_rises_and_what_is_not_known_has_no_direction() {
        let rack = [dried("up", 0.0, 1.0), dried("up", 4.0, 1.3)];
        assert_eq!(trends(&rack)[0].last_step, Motion::Rising, "0.3 with u = 0.08: 3.7 of them");
        let mut rack = [dried("open", 0.0, 1.0), dried("open", 4.0, 0.5)];
        rack[1].total = None;
        let found = trends(&rack);
        assert_eq!((found[0].last_step, found[0].points.len()), (Motion::Unknown, 2));
    }

    /// Of two spectra at the last time the later in the list counts, and the step is from the time before.
    #[test]
    fn the_last_step_goes_from_an_earlier_time() {
        let rack = [dried("a", 0.0, 2.0), dried("a", 4.0, 0.5), dried("a", 4.0, 0.51)];
        let found = trends(&rack);
        assert_eq!(found[0].last_step, Motion::Falling, "not the half per cent between two of one time");
    }

    #[test]
    fn one_time_is_no_trend() {
        assert!(trends(&[dried("a", 1.0, 0.5), dried("a", 1.0, 0.4), fraction("1", 0.1, None)]).is_empty());
    }
}
