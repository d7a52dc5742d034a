//! Which volatile decides, and how much of the spectrum nobody answers for.

use crate::check::{Check, Finding};

/// The volatile that stands worst: the largest part of its own limit; where none has a limit, the largest content.
///
/// ```
/// use lees_core::rack::worst;
/// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/two_volatiles.rs")); }
/// # use made::*;
/// let mut check = two_volatiles(); // 0.21 wt% 2-propanol against 0.5, 0.05 wt% toluene against 0.089
/// assert_eq!(worst(&check).expect("two").name, "toluene", "56 % of its limit");
/// check.volatiles.iter_mut().for_each(|volatile| volatile.limit_wt_percent = None);
/// assert_eq!(worst(&check).expect("two").name, "2-propanol", "without limits the largest");
/// ```
#[must_use]
pub fn worst(check: &Check) -> Option<&Finding> {
    let by = |rank: fn(&Finding) -> Option<f64>| {
        let ranked = check.volatiles.iter().filter_map(|f| Some((f, rank(f)?)));
        ranked.max_by(|a, b| a.1.total_cmp(&b.1)).map(|(finding, _)| finding)
    };
    by(part_of_limit).or_else(|| by(content)).or_else(|| check.volatiles.first())
}

fn content(finding: &Finding) -> Option<f64> {
    finding.wt_percent.map(|e| e.value)
}

fn part_of_limit(finding: &Finding) -> Option<f64> {
    let limit = finding.limit_wt_percent.filter(|limit| *limit > 0.0)?;
    Some(content(finding)? / limit)
}

/// Unexplained protons per hundred protons of the product's expected signals; `None` without product or when one
/// of the signals could not be measured.
///
/// ```
/// use lees_core::rack::unexplained_percent;
/// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/two_volatiles.rs")); }
/// # use made::*;
/// let check = two_volatiles(); // checked without a product
/// assert_eq!(unexplained_percent(&check), None, "nothing to relate protons to");
/// ```
#[must_use]
pub fn unexplained_percent(check: &Check) -> Option<f64> {
    let expected: f64 = check.product.as_ref()?.signals.iter().map(|s| s.protons).sum();
    // from 0: the sum of nothing is -0
    let found = check.unexplained.iter().try_fold(0.0, |sum, u| Some(sum + u.relative_protons?.value))?;
    (expected > 0.0).then(|| 100.0 * found / expected)
}
