//! What would turn an undecided content into a decided one.

use lees_core::check::{Contribution, Estimate, Finding};

use crate::uncertainty::quadrature;

/// Beyond this factor in uncertainty no reasonable effort decides.
const HOPELESS: f64 = 8.0;
/// The same in scans.
const MOST_SCANS: f64 = 64.0;

/// The end of a sentence: more scans by a factor, or the remedy of the largest contribution.
pub(crate) fn what_would_decide(finding: &Finding, scans: Option<u32>) -> String {
    let (Some(estimate), Some(limit)) = (&finding.wt_percent, finding.limit_wt_percent) else {
        return "give a limit.".to_owned();
    };
    let shrink = needed(estimate, limit);
    if shrink > HOPELESS {
        return "it is too close to the limit for NMR to decide; dry it further or use another method."
            .to_owned();
    }
    let noise = noise_share(&finding.budget);
    let all = quadrature(finding.budget.iter().map(|entry| entry.percent));
    let rest = quadrature(finding.budget.iter().filter(|e| !is_noise(e)).map(|entry| entry.percent));
    let room = (all / shrink).powi(2) - rest * rest;
    let factor = if room > 0.0 { noise * noise / room } else { f64::INFINITY };
    if factor <= MOST_SCANS && factor > 0.0 {
        return scans_sentence(factor, scans);
    }
    let largest = finding.budget.iter().find(|entry| !is_noise(entry));
    largest.map_or_else(
        || "more scans would decide it.".to_owned(),
        |entry| {
            let remedy = if entry.remedy.is_empty() { "a cleaner signal" } else { &entry.remedy };
            format!(
                "what stands in the way is {} ({:.1} %): {remedy} would help.",
                entry.source, entry.percent
            )
        },
    )
}

/// By how much the interval must shrink for the limit to fall outside it.
fn needed(estimate: &Estimate, limit: f64) -> f64 {
    let (reach, distance) = if limit >= estimate.value {
        (estimate.high - estimate.value, limit - estimate.value)
    } else {
        (estimate.value - estimate.low, estimate.value - limit)
    };
    if distance > 0.0 { (reach / distance).max(1.0) } else { f64::INFINITY }
}

fn is_noise(entry: &Contribution) -> bool {
    entry.source.contains("noise")
}

fn noise_share(budget: &[Contribution]) -> f64 {
    quadrature(budget.iter().filter(|entry| is_noise(entry)).map(|entry| entry.percent))
}

fn scans_sentence(factor: f64, scans: Option<u32>) -> String {
    let times = factor.max(1.1);
    let words = if times < 10.0 {
        format!("{:.1}", (times * 10.0).ceil() / 10.0)
    } else {
        format!("{:.0}", times.ceil())
    };
    let count = scans.map_or_else(String::new, |scans| {
        format!(" ({:.0} instead of {scans})", (f64::from(scans) * times).ceil())
    });
    format!("about {words} times as many scans{count} would decide it, if the content is as estimated.")
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn the_interval_must_shrink_to_the_distance() {
        let estimate = Estimate { value: 0.40, low: 0.28, high: 0.52, u: 0.06 };
        assert_abs_diff_eq!(needed(&estimate, 0.46), 2.0, epsilon = 1e-9);
        assert_abs_diff_eq!(needed(&estimate, 0.34), 2.0, epsilon = 1e-9);
        assert!(needed(&estimate, 0.40).is_infinite());
    }

    #[test]
    fn scans_grow_with_the_square() {
        assert_eq!(
            scans_sentence(4.0, Some(16)),
            "about 4.0 times as many scans (64 instead of 16) would decide it, if the content is as estimated."
        );
        assert!(scans_sentence(12.3, None).starts_with("about 13 times as many scans would"));
    }
}
