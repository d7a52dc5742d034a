//! Which fractions to put together.

use std::collections::BTreeMap;

use lees_core::check::Estimate;
use lees_core::rack::{Brief, Content, LeftOut, Pool};

use super::ranking;

/// A fraction with more unexplained protons than this, in per cent of the product's, is another mixture and not for
/// the pool, however little solvent it holds. Common practice, no source.
const MOST_UNEXPLAINED_PERCENT: f64 = 5.0;

/// Chooses fractions for a pool that meets every limit with the upper end of its interval, taking the cleanest first,
/// and predicts what it would contain.
///
/// The content of a pool is the mean of the contents weighted by mass. The ends of its interval are the weighted
/// means of the ends: errors of one instrument and method go the same way, so nothing is gained by averaging. A
/// volatile not seen in a fraction counts as nothing there. When a mass is missing, equal masses are taken and the
/// pool's mass stays unknown. `None` when no limit is set, so that there is nothing to pool towards.
///
/// ```
/// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/wet_dye.rs")); }
/// # use made::*;
/// // Ethyl acetate in wt% against 0.5, and grams.
/// let rack = [fraction("1", 2.0, 0.3, 0.0), fraction("2", 0.2, 1.0, 0.0), fraction("3", 0.4, 1.0, 0.0)];
/// let pool = lees::rack::pool(&rack).expect("a limit is set");
/// assert_eq!((pool.members, pool.mass_g), (vec![1, 2], Some(2.0)));
/// assert!((pool.total.expect("known").value - 0.3).abs() < 1e-9, "the mean by mass");
/// assert_eq!(pool.left_out[0].index, 0);
/// ```
#[must_use]
pub fn pool(rack: &[Brief]) -> Option<Pool> {
    let limited = rack
        .iter()
        .any(|b| b.total_limit.is_some() || b.contents.iter().any(|c| c.limit_wt_percent.is_some()));
    if !limited {
        return None;
    }
    let (mut members, mut left_out) = (Vec::new(), Vec::new());
    for index in ranking(rack) {
        match why_not(rack, &members, index) {
            None => members.push(index),
            Some(why) => left_out.push(LeftOut { index, why }),
        }
    }
    members.sort_unstable();
    left_out.sort_by_key(|out| out.index);
    Some(predicted(rack, members, left_out))
}

/// Why a fraction may not join the pool.
fn why_not(rack: &[Brief], members: &[usize], index: usize) -> Option<String> {
    let brief = &rack[index];
    if brief.total.is_none() {
        return Some("content not known".to_owned());
    }
    if let Some(percent) = brief.unexplained_percent.filter(|p| *p > MOST_UNEXPLAINED_PERCENT) {
        return Some(format!("unexplained signals, {percent:.1} % of the product's protons"));
    }
    let with: Vec<usize> = members.iter().copied().chain([index]).collect();
    let pool = predicted(rack, with, Vec::new());
    let over = |content: Option<Estimate>, limit: Option<f64>| matches!((content, limit), (Some(c), Some(l)) if c.high > l);
    if over(pool.total, pool.total_limit) {
        return Some("the pool's sum would pass its limit".to_owned());
    }
    let worst = pool.contents.iter().find(|c| over(c.wt_percent, c.limit_wt_percent));
    worst.map(|content| format!("{} in the pool would pass its limit", content.name))
}

fn predicted(rack: &[Brief], members: Vec<usize>, left_out: Vec<LeftOut>) -> Pool {
    let briefs: Vec<&Brief> = members.iter().map(|i| &rack[*i]).collect();
    let masses: Option<Vec<f64>> = briefs.iter().map(|b| b.tags.mass_g.filter(|m| *m > 0.0)).collect();
    let mass_g = masses.as_ref().map(|m| m.iter().sum::<f64>()).filter(|sum| *sum > 0.0);
    let weights = masses.unwrap_or_else(|| vec![1.0; briefs.len()]);
    let totals: Option<Vec<Estimate>> = briefs.iter().map(|b| b.total).collect();
    let total = totals.and_then(|totals| mean(&totals, &weights, weights.iter().sum()));
    Pool {
        product_g: mass_g.zip(total).map(|(mass, total)| product(mass, total)),
        total,
        total_limit: smallest(briefs.iter().filter_map(|b| b.total_limit)),
        contents: contents(&briefs, &weights),
        mass_g,
        members,
        left_out,
    }
}

/// Mean weighted by mass; `whole` is the mass it is spread over.
fn mean(each: &[Estimate], weights: &[f64], whole: f64) -> Option<Estimate> {
    let sum =
        |part: fn(&Estimate) -> f64| each.iter().zip(weights).map(|(e, w)| part(e) * w).sum::<f64>() / whole;
    (whole > 0.0 && !each.is_empty()).then(|| Estimate {
        value: sum(|e| e.value),
        low: sum(|e| e.low),
        high: sum(|e| e.high),
        u: sum(|e| e.u),
    })
}

/// What is not volatile is product, as far as the spectrum sees.
fn product(mass: f64, total: Estimate) -> Estimate {
    let left = |wt_percent: f64| mass * (1.0 - wt_percent / 100.0);
    Estimate {
        value: left(total.value),
        low: left(total.high),
        high: left(total.low),
        u: mass * total.u / 100.0,
    }
}

/// Contents, masses and limits of one volatile.
type Gathered = (Vec<Estimate>, Vec<f64>, Vec<f64>);

fn contents(briefs: &[&Brief], weights: &[f64]) -> Vec<Content> {
    let mut by_name: BTreeMap<&str, Gathered> = BTreeMap::new();
    for (brief, weight) in briefs.iter().zip(weights) {
        for content in &brief.contents {
            let (each, masses, limits) = by_name.entry(&content.name).or_default();
            limits.extend(content.limit_wt_percent);
            if let Some(wt) = content.wt_percent {
                each.push(wt);
                masses.push(*weight);
            }
        }
    }
    let whole: f64 = weights.iter().sum();
    let mut contents: Vec<Content> = by_name
        .into_iter()
        .map(|(name, (each, masses, limits))| Content {
            name: name.to_owned(),
            wt_percent: mean(&each, &masses, whole),
            limit_wt_percent: smallest(limits.into_iter()),
        })
        .collect();
    let size = |c: &Content| c.wt_percent.map_or(f64::NEG_INFINITY, |e| e.value);
    contents.sort_by(|a, b| size(b).total_cmp(&size(a)));
    contents
}

fn smallest(limits: impl Iterator<Item = f64>) -> Option<f64> {
    limits.min_by(f64::total_cmp)
}

#[cfg(test)]
mod tests {
    use super::super::fixture::fraction;
    use super::*;
    use approx::assert_relative_eq;

    /// Worked by hand: (2 x 0.1 + 1 x 0.4) / 3 = 0.2 wt%; ends 0.2 x 0.9 and 0.2 x 1.1; product 3 x 0.998 = 2.994 g.
    #[test]
    fn the_pool_is_weighted_by_mass() {
        let rack =
            [fraction("4", 0.1, Some(2.0)), fraction("5", 0.4, Some(1.0)), fraction("6", 9.0, Some(1.0))];
        let pool = pool(&rack).unwrap();
        assert_eq!(pool.members, [0, 1]);
        assert_eq!(pool.left_out[0].index, 2);
        assert!(pool.left_out[0].why.contains("ethyl acetate"), "{:?}", pool.left_out);
        let total = pool.total.unwrap();
        assert_relative_eq!(total.value, 0.2, max_relative = 1e-12);
        assert_relative_eq!(total.low, 0.18, max_relative = 1e-12);
        assert_relative_eq!(total.high, 0.22, max_relative = 1e-12);
        assert_relative_eq!(pool.product_g.unwrap().value, 2.994, max_relative = 1e-12);
        assert_eq!(pool.contents[0].wt_percent, pool.total);
    }

    /// Worked by hand: 0.7 (high end 0.77) alone passes 0.5; with 0.1 (0.11) at equal mass the pool's end is 0.44.
    #[test]
    fn a_clean_fraction_can_carry_a_wet_one_but_only_with_its_mass() {
        let heavy = [fraction("1", 0.1, Some(1.0)), fraction("2", 0.7, Some(1.0))];
        assert_eq!(pool(&heavy).unwrap().members, [0, 1]);
        let light = [fraction("1", 0.1, Some(0.1)), fraction("2", 0.7, Some(1.0))];
        assert_eq!(pool(&light).unwrap().members, [0]);
    }

    #[test]
    fn without_masses_the_pool_has_none_and_without_limits_there_is_no_pool() {
        let mut rack = [fraction("1", 0.1, Some(1.0)), fraction("2", 0.2, None)];
        let found = pool(&rack).unwrap();
        assert_eq!((found.mass_g, found.product_g), (None, None));
        assert_relative_eq!(found.total.unwrap().value, 0.15, max_relative = 1e-12);
        rack.iter_mut().for_each(|b| b.contents[0].limit_wt_percent = None);
        assert_eq!(pool(&rack), None);
    }

    /// Worked by hand: at equal masses 0.1 and 0.4 give an upper end of (0.11 + 0.44) / 2 = 0.275 for the sum.
    #[test]
    fn the_sum_has_a_limit_of_its_own_and_the_strictest_counts() {
        let mut rack = [fraction("1", 0.1, None), fraction("2", 0.4, None)];
        rack[0].total_limit = Some(0.28);
        rack[1].total_limit = Some(0.9);
        let found = pool(&rack).unwrap();
        assert_eq!((found.members.as_slice(), found.total_limit), ([0, 1].as_slice(), Some(0.28)));
        rack[1].total_limit = Some(0.27);
        let found = pool(&rack).unwrap();
        assert_eq!(found.members, [0]);
        assert_eq!(found.left_out[0].why, "the pool's sum would pass its limit");
    }

    #[test]
    fn a_fraction_whose_content_is_not_known_stays_out() {
        let mut rack = [fraction("1", 0.1, Some(1.0)), fraction("2", 0.1, Some(1.0))];
        rack[0].total = None;
        let found = pool(&rack).unwrap();
        assert_eq!(found.members, [1]);
        assert_eq!((found.left_out[0].index, found.left_out[0].why.as_str()), (0, "content not known"));
    }

    /// Worked by hand: toluene is in one of three equal fractions only, 0.3 / 3 = 0.1 wt% of the pool.
    #[test]
    fn a_volatile_of_one_fraction_is_spread_over_all_and_the_largest_comes_first() {
        let mut rack =
            [fraction("1", 0.2, Some(1.0)), fraction("2", 0.2, Some(1.0)), fraction("3", 0.2, Some(1.0))];
        let mut toluene = rack[0].contents[0].clone();
        toluene.name = "toluene".to_owned();
        toluene.limit_wt_percent = None;
        toluene.wt_percent = Some(super::super::fixture::estimate(0.3, 0.01));
        rack[1].contents.insert(0, toluene);
        let found = pool(&rack).unwrap();
        let names: Vec<&str> = found.contents.iter().map(|c| c.name.as_str()).collect();
        assert_eq!(names, ["ethyl acetate", "toluene"]);
        assert_relative_eq!(found.contents[1].wt_percent.unwrap().value, 0.1, max_relative = 1e-12);
        assert_eq!(found.contents[1].limit_wt_percent, None);
    }

    #[test]
    fn another_mixture_stays_out() {
        let mut rack = [fraction("1", 0.1, None), fraction("2", 0.01, None)];
        rack[1].unexplained_percent = Some(12.0);
        let found = pool(&rack).unwrap();
        assert_eq!(found.members, [0]);
        assert!(found.left_out[0].why.starts_with("unexplained signals, 12.0 %"));
    }
}
