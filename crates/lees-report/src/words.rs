//! The words shared by every rendering.

use lees_core::check::{Check, Finding, InputKind, LimitStatus, SignalState, Verdict, YieldBasis};

use crate::{clean, number};

pub(crate) fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Dry => "dry",
        Verdict::NeedsDrying => "needs drying",
        Verdict::Undecided => "undecided",
    }
}

/// Verdicts, the most urgent first, and how many checks have each.
pub(crate) fn tally(checks: &[&Check]) -> [(Verdict, usize); 3] {
    [Verdict::NeedsDrying, Verdict::Undecided, Verdict::Dry]
        .map(|verdict| (verdict, checks.iter().filter(|check| check.verdict == verdict).count()))
}

/// So many spectra of a verdict, in words: `1 needs drying`, `3 need drying`.
pub(crate) fn counted(count: usize, word: &str) -> String {
    match word.strip_prefix("needs ") {
        Some(rest) if count != 1 => format!("{count} need {rest}"),
        _ => format!("{count} {word}"),
    }
}

/// One plain sentence that says what the verdict means.
pub(crate) fn meaning(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Dry => "every limit is met with 95 % confidence",
        Verdict::NeedsDrying => "at least one limit is exceeded with 95 % confidence",
        Verdict::Undecided => "this spectrum cannot tell",
    }
}

pub(crate) fn status(status: LimitStatus) -> &'static str {
    match status {
        LimitStatus::Above => "above limit",
        LimitStatus::Below => "within limit",
        LimitStatus::Undecided => "undecided",
        LimitStatus::NoLimit => "no limit",
    }
}

/// What a corrected yield rests on.
pub(crate) fn basis(basis: YieldBasis) -> &'static str {
    match basis {
        YieldBasis::InternalStandard => "by internal standard",
        YieldBasis::Difference => "by difference: an upper bound, blind to salts and silica",
    }
}

/// Purity and corrected yield, a sentence each.
pub(crate) fn purity(check: &Check) -> Vec<String> {
    let mut lines = Vec::new();
    if let Some(purity) = &check.purity {
        lines.push(format!(
            "{} wt % product in the weighed sample, against {} ({})",
            number::interval(&purity.wt_percent),
            clean(&purity.standard),
            clean(&purity.standard_signal)
        ));
    }
    if let Some(corrected) = &check.corrected_yield {
        let mass = number::of_mass(&corrected.product_mass_g, corrected.crude_mass_g);
        let basis = basis(corrected.basis);
        lines.push(format!(
            "{mass} g product in {} g crude, {basis}",
            number::weighed(corrected.crude_mass_g)
        ));
        if let Some(percent) = &corrected.yield_percent {
            lines.push(format!("corrected yield {} %, {basis}", number::of_yield(percent)));
        }
    }
    lines
}

/// What the shift axis rests on.
pub(crate) fn referenced(check: &Check) -> String {
    check.reference.as_ref().map_or_else(
        || "not referenced: no known signal found".to_owned(),
        |r| {
            let (at, moved) = (number::shift(r.expected.0), number::signed(r.applied.0));
            format!("referenced to {} at {at} ppm (moved by {moved})", clean(&r.signal))
        },
    )
}

pub(crate) fn state(state: SignalState) -> &'static str {
    match state {
        SignalState::Agrees => "as expected",
        SignalState::Missing => "missing",
        SignalState::TooLarge => "too large",
        SignalState::TooSmall => "too small",
        SignalState::Covered => "covered",
        SignalState::NotMeasured => "not measured",
    }
}

pub(crate) fn kind(kind: InputKind) -> &'static str {
    match kind {
        InputKind::Fid => "fid",
        InputKind::Spectrum => "spectrum",
    }
}

/// The signals of a compound as `4.04 sept, 1.22 d`.
pub(crate) fn signals(finding: &Finding) -> String {
    let each = finding.signals.iter().map(|s| format!("{} {}", number::shift(s.shift.0), s.multiplicity));
    each.collect::<Vec<_>>().join(", ")
}

/// The name with the compounds that would explain the lines as well, each with its content.
pub(crate) fn names(finding: &Finding) -> String {
    let mut names = crate::clean(&finding.name);
    for rival in &finding.rivals {
        names.push_str(" or ");
        names.push_str(&crate::clean(&rival.name));
        if let Some(content) = &rival.wt_percent {
            names.push_str(&format!(" ({} wt %)", number::value(content)));
        }
    }
    names
}

/// The name of a finding, with what it may be instead, where there is little room.
pub(crate) fn either(finding: &Finding) -> String {
    let name = clean(&finding.name);
    match finding.rivals.as_slice() {
        [] => name,
        [rival] => format!("{name} or {}", clean(&rival.name)),
        _ => format!("{name} or others"),
    }
}

/// A share of an uncertainty in per cent; small ones are bounds, for their digits mean nothing.
pub(crate) fn share(percent: f64) -> String {
    if percent > 0.0 && percent < LEAST_SHARE {
        format!("under {LEAST_SHARE}")
    } else {
        number::significant(percent, 2)
    }
}

/// Shares under this are not written out, in per cent.
const LEAST_SHARE: f64 = 0.001;

/// `3 of 8 expected signals as found`, for one line about the product.
pub(crate) fn product_tally(check: &Check) -> Option<String> {
    let product = check.product.as_ref()?;
    let good = product.signals.iter().filter(|s| s.state == SignalState::Agrees).count();
    let used = product.signals.iter().filter(|s| s.used).count();
    let total = product.signals.len();
    Some(format!("{good} of {total} signals as expected, {used} used for the amount"))
}

/// The content of a finding in words, or what is known instead.
pub(crate) fn content(finding: &Finding) -> String {
    match (&finding.wt_percent, finding.detection_limit_wt_percent) {
        (Some(estimate), _) => number::interval(estimate),
        (None, Some(limit)) => format!("below {}", number::significant(limit, 2)),
        (None, None) => "n/a".to_owned(),
    }
}

/// Whether what was found under another name may be this: then it cannot be said to be below anything.
fn is_rival(check: &Check, name: &str) -> bool {
    check.volatiles.iter().any(|finding| finding.rivals.iter().any(|rival| rival.name == name))
}

/// What was looked for in vain, with the most that could be there unseen; `None` without usual volatiles or product.
pub(crate) fn not_found(check: &Check) -> Option<String> {
    let mut usual: Vec<(&str, Option<f64>)> = check
        .not_found
        .iter()
        .filter(|entry| entry.usual && check.product.is_some() && !is_rival(check, &entry.name))
        .map(|entry| (entry.name.as_str(), entry.at_most_wt_percent))
        .collect();
    usual.sort_by(|a, b| {
        b.1.unwrap_or(f64::INFINITY).total_cmp(&a.1.unwrap_or(f64::INFINITY)).then(a.0.cmp(b.0))
    });
    let below: Vec<String> = usual
        .iter()
        .filter_map(|(name, limit)| Some(format!("{name} below {}", number::significant((*limit)?, 2))))
        .collect();
    let blind: Vec<&str> = usual.iter().filter(|entry| entry.1.is_none()).map(|entry| entry.0).collect();
    let below = (!below.is_empty()).then(|| format!("{} wt %", below.join(", ")));
    let blind =
        (!blind.is_empty()).then(|| format!("how much is there cannot be told of {}", blind.join(", ")));
    match (below, blind) {
        (Some(below), Some(blind)) => Some(format!("{below}; {blind}")),
        (below, blind) => below.or(blind),
    }
}
