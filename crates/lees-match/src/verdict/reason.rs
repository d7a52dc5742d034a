//! Why a total is undecided, and what would decide it, in words.

use lees_core::check::{Check, Estimate, Finding};

use crate::decide::what_would_decide;
use crate::digits::content;
use crate::finding::is_thin;
use crate::unseen::Unseen;

/// So many volatiles that may hide are told by name; the report lists all.
const SUSPECTS: usize = 4;

/// How volatiles are left out.
const EXCLUDE: &str = "--set 'match.exclude=NAME; NAME'";

/// How volatiles that were used are told.
pub(super) const USED: &str = "--set 'match.used=NAME; NAME'";

/// Why a limit in wt% lies within the interval of the total, from the sign after that sentence on.
pub(super) fn why_open(check: &Check, total: &Estimate, unseen: &Unseen, limit: f64) -> String {
    if let Some(rival) = rival_over(check, total, limit) {
        return format!(", since {rival}");
    }
    if let Some(thin) = thin_over(check, total, limit) {
        return format!("; {thin}");
    }
    // where more may be unseen than is uncertain of what was found, scans do not tell
    let hides = unseen.measured.is_some_and(|found| total.high - found.high > found.high - found.value);
    if hides {
        format!(
            ", and there could be more unseen: {}. Dry it further, exclude what was not used ({EXCLUDE}), or take more scans or another NMR solvent.",
            suspects(check, unseen, limit)
        )
    } else {
        format!("; {}", remedy(check, total))
    }
}

/// What would decide the total.
fn remedy(check: &Check, total: &Estimate) -> String {
    let Some(largest) = check.volatiles.first() else {
        return "more scans would decide it.".to_owned();
    };
    let stand_in = Finding {
        wt_percent: Some(*total),
        limit_wt_percent: check.total.limit_wt_percent,
        ..largest.clone()
    };
    what_would_decide(&stand_in, check.input.acquisition.scans)
}

/// A rival that would take the total over a limit in wt%, where what it rivals leaves it under: in words, with what would tell.
fn rival_over(check: &Check, total: &Estimate, limit: f64) -> Option<String> {
    let over = |finding: &Finding| {
        let own = finding.wt_percent?.value;
        let rival = finding.rivals.iter().find(|rival| {
            rival.wt_percent.is_some_and(|e| total.value <= limit && total.value - own + e.value > limit)
        })?;
        let amount = content(rival.wt_percent?.value);
        Some(format!(
            "{0} may be {1} ({amount} wt%) instead: another NMR solvent would tell, or exclude what was not used (--set 'match.exclude={1}').",
            finding.name, rival.name
        ))
    };
    check.volatiles.iter().find_map(over)
}

/// Names on low odds without which the total would be under a limit in wt% that it is over: in words, with what would tell.
fn thin_over(check: &Check, total: &Estimate, limit: f64) -> Option<String> {
    let thin: Vec<&Finding> = check.volatiles.iter().filter(|f| is_thin(f.evidence)).collect();
    let in_doubt: f64 = thin.iter().filter_map(|finding| finding.wt_percent).map(|e| e.value).sum();
    (total.value > limit && total.value - in_doubt <= limit).then(|| {
        let names: Vec<&str> = thin.iter().map(|finding| finding.name.as_str()).collect();
        format!(
            "what was found without {}, named on low odds, is under it: another NMR solvent would tell, or say what was used ({USED}).",
            names.join(", ")
        )
    })
}

/// What was measured is under the limit, but something unseen could lift the total over it.
pub(super) fn unseen_sentence(found: &str, check: &Check, unseen: &Unseen, limit: f64) -> String {
    format!(
        "{found}: what was found is under the limit of {} wt%, but there could be more unseen: {}. Exclude what was not used ({EXCLUDE}), or take more scans or another NMR solvent.",
        content(limit),
        suspects(check, unseen, limit)
    )
}

/// The volatiles that could hide furthest, with how far.
fn suspects(check: &Check, unseen: &Unseen, limit: f64) -> String {
    let all = unseen.suspects(&check.not_found, limit);
    let told: Vec<String> = all
        .iter()
        .take(SUSPECTS)
        .map(|(name, seen)| format!("{name} (up to {} wt%)", content(*seen)))
        .collect();
    let more = all.len().saturating_sub(SUSPECTS);
    let rest = if more > 0 { format!(" and {more} more") } else { String::new() };
    format!("{}{rest}", told.join(", "))
}
