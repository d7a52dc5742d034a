//! What may be there although it was not found: absence is known only down to a detection limit.

use lees_core::check::{Check, Estimate, NotFound};

/// How far the usual volatiles could hide.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Unseen {
    /// The largest content, in wt%, at which one more usual volatile would have gone unseen; those of `hidden` apart.
    pub reach: f64,
    /// Usual volatiles that could be over the limit on the total, or that could not be looked for at all.
    pub hidden: Vec<String>,
}

impl Unseen {
    /// From what was not found, against a limit on the total in wt% (none: nothing counts as hidden while its detection
    /// limit is known).
    pub(crate) fn of(not_found: &[NotFound], limit: Option<f64>) -> Self {
        let mut unseen = Self::default();
        for entry in not_found.iter().filter(|entry| entry.usual) {
            match entry.detection_limit_wt_percent {
                Some(seen) if limit.is_none_or(|limit| seen <= limit) => {
                    unseen.reach = unseen.reach.max(seen);
                }
                _ => unseen.hidden.push(entry.name.clone()),
            }
        }
        unseen
    }
}

/// Lets the upper end of the total reach as far as one more usual volatile could go unseen.
///
/// With nothing found the value is 0 and the interval runs from 0 to the largest detection limit; beside findings the two
/// ranges, being independent, add in quadrature.
pub(crate) fn widen(check: &mut Check, reach: f64) {
    let measured = check.product.as_ref().is_some_and(|product| product.area_per_proton.is_some());
    if !measured {
        return;
    }
    let found = check.total.wt_percent.unwrap_or(Estimate { value: 0.0, low: 0.0, high: 0.0, u: 0.0 });
    let high = (found.value + (found.high - found.value).hypot(reach)).min(100.0);
    // anything from none to the detection limit is as likely: a rectangular law (JCGM 100:2008, 4.3.7)
    let u = found.u.hypot(reach / 12f64.sqrt());
    check.total.wt_percent = Some(Estimate { high, u, ..found });
}
