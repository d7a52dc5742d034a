//! Named molecules as findings: amounts, intervals, budgets, rivals.

mod absent;
mod effects;
mod signals;
mod solvent_own;

pub(crate) use absent::{Nearly, not_found};
pub(crate) use solvent_own::{same_line, shown};

use lees_core::check::{Estimate, Finding, LimitStatus, NotCounted, Rival};
use lees_core::{Acquisition, Product};
use nalgebra::DMatrix;

use crate::MatchError;
use crate::amount::{Amount, Instead, Shares, add_cause, composition, ratios, wt_percent_alone};
use crate::assign::probe::Assessment;
use crate::assign::quantify::Quantified;
use crate::assign::search::{Accepted, is_all_crowded, is_clear};
use crate::blank::{Blank, Measured};
use crate::fit::scene::Scene;
use crate::interval::nonnegative;
use crate::pattern::{Pattern, Role, counts};
use crate::product::Described;
use crate::relaxation::{Correction, T1, Timing, correction};
use crate::settings::Settings;
use crate::table::{Compound, NmrSolvent, Tables};
use crate::uncertainty::{Combined, Effect, combine};

/// One-sided 98 % point of the normal law: a content this many standard uncertainties over the naming threshold
/// is named in 98 of 100 spectra.
const POWER: f64 = 2.054;

/// All that the findings are made from.
pub(crate) struct Sources<'a> {
    pub scene: &'a Scene<'a>,
    pub patterns: &'a [Pattern],
    pub named: &'a [Accepted],
    pub fitted: &'a Quantified,
    pub described: Option<&'a Described>,
    pub product: Option<&'a Product>,
    pub solvent: Option<&'a NmrSolvent>,
    pub tables: &'a Tables,
    pub settings: &'a Settings,
    pub acquisition: &'a Acquisition,
    pub blank: Option<&'a Blank>,
}

/// The findings in the order of the result.
pub(crate) struct Findings {
    pub volatiles: Vec<Finding>,
    pub not_counted: Vec<NotCounted>,
    /// Sum of the counted mass fractions; `None` without product.
    pub total: Option<Estimate>,
    /// Sentences on relaxation and the like.
    pub warnings: Vec<String>,
}

/// One molecule on its way to a finding.
struct Entry<'a> {
    named: usize,
    pattern: &'a Pattern,
    compound: Option<&'a Compound>,
    counted: bool,
    effects: Vec<Effect>,
    combined: Combined,
    /// Factor that makes up for saturation.
    factor: f64,
    /// What of its area per proton the NMR solvent brought, by the blank.
    brought: Option<Measured>,
}

/// A rival of longer odds than this against it lies outside a 95 % interval, one tail.
const INTERVAL_ODDS: f64 = 39.0;

/// ... and of what is no volatile, since patterns of crowded multiplets are rough (chosen on simulated samples).
const GREASE_ODDS: f64 = 400.0;

/// A name of higher odds than this is taken as sure.
const SURE_ODDS: f64 = 20.0;

/// Makes the findings.
pub(crate) fn findings(sources: &Sources<'_>) -> Result<Findings, MatchError> {
    let mut warnings = solvent_own::sentences(sources);
    let entries: Vec<Entry<'_>> = (0..sources.named.len())
        .filter(|&k| sources.fitted.amounts.each[k].is_some_and(|a| a.value > 0.0))
        .map(|k| entry(sources, k, &mut warnings))
        .collect();
    let shares = shares(sources, &entries)?;
    let total = shares.as_ref().and_then(|s| s.1);
    let mut out = Findings { volatiles: Vec::new(), not_counted: Vec::new(), total, warnings };
    for (k, entry) in entries.iter().enumerate() {
        let share = shares.as_ref().map(|s| s.0[k]);
        let finding = finding(sources, entry, share);
        if entry.counted {
            out.volatiles.push(finding);
        } else {
            let why = why(sources, entry);
            out.not_counted.push(NotCounted { finding, why });
        }
    }
    out.warnings.extend(by_one_line(sources, &entries));
    out.warnings.extend(on_low_odds(&out.volatiles));
    out.volatiles.sort_by(|a, b| weight(b).total_cmp(&weight(a)).then(a.name.cmp(&b.name)));
    Ok(out)
}

/// Whether a name of such log-evidence rests on low odds.
pub(crate) fn is_thin(evidence: f64) -> bool {
    evidence < libm::log(SURE_ODDS)
}

/// A sentence on the volatiles that are named by nothing but one line, the only one they have or the only one that is free.
fn by_one_line(sources: &Sources<'_>, entries: &[Entry<'_>]) -> Option<String> {
    let one_line = |entry: &&Entry<'_>| {
        let groups = &sources.named[entry.named].found.groups;
        let mut clear = groups.iter().filter(|g| is_clear(g));
        match (clear.next(), clear.next()) {
            (Some(only), None) => entry.pattern.groups[only.group].sticks.len() == 1,
            _ => false,
        }
    };
    let names: Vec<&str> =
        entries.iter().filter(|e| e.counted).filter(one_line).map(|e| e.pattern.name.as_str()).collect();
    (!names.is_empty()).then(|| {
        format!(
            "named by one free line each: {}; an unknown signal at exactly that place would look the same",
            names.join(", ")
        )
    })
}

/// A sentence on the volatiles whose evidence is thin. In the validation as many names are wrong as these odds say.
fn on_low_odds(volatiles: &[Finding]) -> Option<String> {
    let thin = |finding: &&Finding| is_thin(finding.evidence);
    let named = |finding: &Finding| {
        format!("{} (about {:.0} to 1 in favour)", finding.name, libm::exp(finding.evidence))
    };
    let names: Vec<String> = volatiles.iter().filter(thin).map(named).collect();
    (!names.is_empty())
        .then(|| format!("named on low odds: {}; something else may stand at these places", names.join(", ")))
}

fn weight(finding: &Finding) -> f64 {
    finding.wt_percent.or(finding.mole_ratio).map_or(0.0, |e| e.value)
}

fn why(sources: &Sources<'_>, entry: &Entry<'_>) -> String {
    match entry.pattern.role {
        Role::Residual => {
            let also = sources.solvent.and_then(|solvent| solvent_own::of_the_batch(sources.tables, solvent));
            let also =
                also.map_or_else(String::new, |name| format!("; {name} of the batch would stand here too"));
            format!("residual protons of the NMR solvent{also}")
        }
        Role::Water => crate::table::Class::Water.why_not_counted().unwrap_or_default().to_owned(),
        _ => {
            entry.compound.and_then(|c| c.class.why_not_counted()).unwrap_or("it does not dry off").to_owned()
        }
    }
}

fn entry<'a>(sources: &Sources<'a>, named: usize, warnings: &mut Vec<String>) -> Entry<'a> {
    let pattern = &sources.patterns[sources.named[named].pattern];
    let compound = pattern.compound_in(sources.tables);
    let brought = solvent_own::brought(sources, named);
    let counted = counts(pattern, sources.settings) || (brought.is_some() && pattern.role == Role::Water);
    let mut effects = effects::of_fit(sources, named);
    solvent_own::effects(sources, named, brought, &mut effects);
    let mut factor = 1.0;
    if let Some(compound) = compound.filter(|_| sources.product.is_some()) {
        let found = saturation(sources, t1(sources, compound));
        factor = found.factor;
        let warned = crate::relaxation::warning(
            &compound.name,
            &timing(sources),
            &found,
            &sources.settings.relaxation,
        );
        warnings.extend(warned.filter(|_| counted));
        effects.extend(found.effects);
    }
    let combined = combine(&effects);
    Entry { named, pattern, compound, counted, effects, combined, factor, brought }
}

fn timing(sources: &Sources<'_>) -> Timing {
    Timing::of(sources.acquisition, &sources.settings.relaxation)
}

fn t1(sources: &Sources<'_>, compound: &Compound) -> T1 {
    sources.settings.t1(compound, solvent_name(sources))
}

fn solvent_name<'a>(sources: &Sources<'a>) -> Option<&'a str> {
    sources.solvent.map(|solvent| solvent.name.as_str())
}

/// What makes up for saturation of a volatile with such a T1 beside the product.
fn saturation(sources: &Sources<'_>, own: T1) -> Correction {
    let mass = sources.product.map(|p| p.molar_mass);
    correction(&timing(sources), own, sources.settings.product_t1(mass, solvent_name(sources)))
}

/// Shares of all entries and their total: on the product, or on the most abundant volatile without one.
type AllShares = (Vec<Shares>, Option<Estimate>);

fn shares(sources: &Sources<'_>, entries: &[Entry<'_>]) -> Result<Option<AllShares>, MatchError> {
    let amount = |e: &Entry<'_>| sources.fitted.amounts.each[e.named].map_or(0.0, |a| a.value);
    let (base, base_u) = match sources.described.and_then(|d| d.per_proton.as_ref()) {
        Some(product) => (product.value, product.u),
        None => {
            let most = entries.iter().filter(|e| e.counted).map(amount).fold(0.0, f64::max);
            (most, 0.0)
        }
    };
    if base <= 0.0 || entries.is_empty() {
        return Ok(None);
    }
    let n = entries.len();
    let mut values = vec![base];
    values.extend(entries.iter().map(amount));
    let covariance = DMatrix::from_fn(n + 1, n + 1, |i, j| match (i, j) {
        (0, 0) => base_u * base_u,
        (0, _) | (_, 0) => 0.0,
        _ => sources.fitted.amounts.covariance[(entries[i - 1].named, entries[j - 1].named)],
    });
    let (mut ratio, mut spread) = ratios(&values, &covariance, 0)?;
    solvent_own::take_off(sources, entries, base, &mut ratio, &mut spread);
    for (k, entry) in entries.iter().enumerate() {
        ratio[k] *= entry.factor;
        for j in 0..n {
            spread[(k, j)] *= entry.factor;
            spread[(j, k)] *= entry.factor;
        }
    }
    relaxation_causes(entries, &ratio, &mut spread);
    let amounts: Vec<Amount> = entries
        .iter()
        .zip(&ratio)
        .map(|(entry, ratio)| Amount {
            ratio: *ratio,
            molar_mass: entry.compound.and_then(|c| c.molar_mass).or(water_mass(entry)),
            counted: entry.counted,
            factor: entry.combined.factor,
            instead: instead(sources, entry, base),
        })
        .collect();
    let measured = sources.described.is_some_and(|described| described.per_proton.is_some());
    let mass = sources.product.filter(|_| measured).map(|p| p.molar_mass);
    let made = composition(mass.unwrap_or(1.0), &amounts, &spread)?;
    let mut each = made.shares;
    if mass.is_none() {
        for share in &mut each {
            share.mol_percent = None;
            share.wt_percent = None;
        }
    }
    Ok(Some((each, mass.map(|_| made.total_wt_percent))))
}

/// The rival of a molecule whose mass in the sample would differ most from its own, or nothing at all where the name rests on low
/// odds, beside a product of area `base` a proton. Odds between crowded multiplets are too rough to rule one out.
fn instead(sources: &Sources<'_>, entry: &Entry<'_>, base: f64) -> Option<Instead> {
    let accepted = &sources.named[entry.named];
    let own = entry.compound?.molar_mass? * entry.factor * accepted.found.amount / base;
    let read = |(pattern, found): &(usize, Assessment)| {
        let compound = sources.patterns[*pattern].compound_in(sources.tables)?;
        let factor = saturation(sources, t1(sources, compound)).factor;
        Some(Instead { ratio: factor * found.amount / base, molar_mass: compound.molar_mass? })
    };
    let off = |rival: &Instead| (rival.ratio * rival.molar_mass - own).abs();
    let behind = |rival: &Assessment| accepted.found.evidence - rival.evidence;
    let likely = |(_, rival): &&(usize, Assessment)| {
        behind(rival) < libm::log(INTERVAL_ODDS) || (is_all_crowded(rival) && is_all_crowded(&accepted.found))
    };
    // named on low odds, or as likely grease: it may be none of the volatiles at all
    let is_grease = |rival: &(usize, Assessment)| {
        sources.patterns[rival.0].role == Role::Bystander && behind(&rival.1) < libm::log(GREASE_ODDS)
    };
    let grease = accepted.rivals.iter().any(is_grease);
    let nothing = (grease || is_thin(accepted.found.evidence))
        .then_some(Instead { ratio: 0.0, molar_mass: entry.compound?.molar_mass? });
    let rivals = accepted.rivals.iter().filter(likely).filter_map(read);
    rivals.chain(nothing).max_by(|a, b| off(a).total_cmp(&off(b)))
}

fn water_mass(entry: &Entry<'_>) -> Option<f64> {
    (entry.pattern.role == Role::Water).then_some(18.015)
}

/// Causes beyond the fit and the product's own signals: they come from tables, not from this spectrum.
fn relaxation_causes(entries: &[Entry<'_>], ratio: &[f64], spread: &mut DMatrix<f64>) {
    let mut sources: Vec<&str> = entries.iter().flat_map(|e| &e.effects).map(|e| e.source.as_str()).collect();
    sources.sort_unstable();
    sources.dedup();
    for source in sources.into_iter().filter(|s| !effects::is_measured(s)) {
        let relative: Vec<f64> = entries
            .iter()
            .map(|entry| {
                entry
                    .effects
                    .iter()
                    .filter(|e| e.source == source)
                    .map(|e| e.on_volatile - e.on_product)
                    .sum()
            })
            .collect();
        add_cause(spread, ratio, &relative);
    }
}

fn finding(sources: &Sources<'_>, entry: &Entry<'_>, share: Option<Shares>) -> Finding {
    let accepted = &sources.named[entry.named];
    // grease and polymers have no moles
    let is_molecule = entry.compound.is_none_or(|c| c.molar_mass.is_some());
    Finding {
        name: entry.pattern.name.clone(),
        cas: entry.compound.and_then(|c| c.cas.clone()),
        molar_mass: entry.compound.and_then(|c| c.molar_mass).or(water_mass(entry)),
        mole_ratio: share.filter(|_| is_molecule).map(|s| s.mole_ratio),
        mol_percent: share.and_then(|s| s.mol_percent),
        wt_percent: share.and_then(|s| s.wt_percent),
        detection_limit_wt_percent: content(
            sources,
            entry.pattern,
            entry.factor * (sources.settings.least_significance + POWER) * accepted.found.noise,
        ),
        limit_wt_percent: None,
        status: LimitStatus::NoLimit,
        conformance: None,
        signals: signals::signals(sources, entry.named),
        evidence: accepted.found.evidence,
        rivals: rivals(sources, accepted),
        budget: entry.combined.budget.clone(),
    }
}

/// Content in wt% of an amount given as area per proton, in which saturation is made up for.
pub(crate) fn content(sources: &Sources<'_>, pattern: &Pattern, amount: f64) -> Option<f64> {
    let product = sources.product?;
    let per_proton = sources.described?.per_proton.as_ref()?.value;
    let compound = pattern.compound_in(sources.tables)?;
    Some(wt_percent_alone(amount / per_proton, compound.molar_mass?, product.molar_mass))
        .filter(|w| w.is_finite())
}

fn rivals(sources: &Sources<'_>, accepted: &Accepted) -> Vec<Rival> {
    // of a compound in slow and in fast exchange the likelier
    let mut seen = std::collections::BTreeSet::new();
    accepted
        .rivals
        .iter()
        .filter(|(pattern, _)| seen.insert(sources.patterns[*pattern].name.as_str()))
        .map(|(pattern, found)| {
            let pattern = &sources.patterns[*pattern];
            let compound = pattern.compound_in(sources.tables);
            let factor = compound.map_or(1.0, |c| saturation(sources, t1(sources, c)).factor);
            let value = content(sources, pattern, factor * found.amount);
            let u = content(sources, pattern, factor * libm::hypot(found.noise, 0.05 * found.amount));
            Rival {
                name: pattern.name.clone(),
                wt_percent: value.zip(u).map(|(value, u)| nonnegative(value, u)),
            }
        })
        .collect()
}
