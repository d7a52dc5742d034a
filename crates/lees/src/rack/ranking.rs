//! Cleanest first.

use lees_core::check::Estimate;
use lees_core::rack::Brief;

/// The indices of the spectra, cleanest first.
///
/// Cleanest is whose upper end of the interval is the smallest part of its limit (the worst of the sum and each
/// volatile); without limits, whose sum has the lowest upper end; at a draw, whose unexplained share is smaller. What
/// is not known ranks last.
///
/// ```
/// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/wet_dye.rs")); }
/// # use made::*;
/// // Ethyl acetate in wt%.
/// let rack = [fraction("1", 2.0, 0.3, 0.0), fraction("2", 0.2, 1.0, 0.0), fraction("3", 0.4, 1.0, 0.0)];
/// assert_eq!(lees::rack::ranking(&rack), [1, 2, 0]);
/// ```
#[must_use]
pub fn ranking(rack: &[Brief]) -> Vec<usize> {
    let limited = rack.iter().any(|brief| part_of_limit(brief).is_some());
    let load = |brief: &Brief| if limited { part_of_limit(brief) } else { brief.total.map(|e| e.high) };
    let key = |i: &usize| {
        let brief = &rack[*i];
        (or_last(load(brief)), or_last(brief.unexplained_percent))
    };
    let mut order: Vec<usize> = (0..rack.len()).collect();
    order.sort_by(|a, b| {
        let (a, b) = (key(a), key(b));
        a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))
    });
    order
}

fn or_last(x: Option<f64>) -> f64 {
    x.unwrap_or(f64::INFINITY)
}

/// The largest upper end in parts of its limit, over the sum and every volatile that has a limit.
pub(super) fn part_of_limit(brief: &Brief) -> Option<f64> {
    let each = brief.contents.iter().map(|c| (c.wt_percent, c.limit_wt_percent));
    let all = each.chain([(brief.total, brief.total_limit)]);
    all.filter_map(|(content, limit)| part(content?, limit?))
        .max_by(f64::total_cmp)
        .or_else(|| clean_part(brief))
}

/// A spectrum that shows no limited volatile has used none of its limits.
fn clean_part(brief: &Brief) -> Option<f64> {
    (brief.contents.is_empty() && brief.product.is_some()).then_some(0.0)
}

fn part(content: Estimate, limit: f64) -> Option<f64> {
    (limit > 0.0).then(|| content.high / limit)
}

#[cfg(test)]
mod tests {
    use super::super::fixture::{estimate, fraction};
    use super::*;

    #[test]
    fn the_largest_part_of_a_limit_decides() {
        let mut rack = vec![fraction("1", 0.4, None), fraction("2", 0.1, None), fraction("3", 2.0, None)];
        assert_eq!(ranking(&rack), [1, 0, 2]);
        rack[1].total = Some(estimate(0.1, 0.01));
        rack[1].total_limit = Some(0.05);
        assert_eq!(ranking(&rack), [0, 1, 2], "0.12 of 0.05 is 2.4 parts, more than 0.44 of 0.5");
    }

    #[test]
    fn draws_go_by_what_is_unexplained_and_the_unknown_is_last() {
        let mut rack = vec![fraction("1", 0.1, None), fraction("2", 0.1, None), fraction("3", 0.1, None)];
        rack[0].unexplained_percent = Some(3.0);
        rack[2].contents[0].wt_percent = None;
        rack[2].total = None;
        assert_eq!(ranking(&rack), [1, 0, 2]);
    }
}
