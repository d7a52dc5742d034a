//! The whole story of one spectrum: axis, product, molecules, amounts, what is left.

use lees_core::check::{
    Check, Input, InputKind, LimitStatus, ProductFound, ProductSignal, Provenance, SignalState, Total,
    Unexplained, Verdict,
};
use lees_core::{LimitSet, Product, SettingMap, setting_list};
use lees_process::Processed;
use serde::{Deserialize, Serialize};

use crate::MatchError;
use crate::assign::bound::{doubted, stands};
use crate::assign::context::Context;
use crate::assign::memory::Memory;
use crate::assign::probe::at_most as most_by_evidence;
use crate::assign::quantify::{Quantified, quantify};
use crate::assign::search::{search, solvent_places, without_crowded_bystanders};
use crate::assign::water::Wet;
use crate::blank::{Blank, Shown};
use crate::digits::content;
use crate::finding::{Findings, Sources, findings, not_found, same_line, shown};
use crate::fit::scene::Scene;
use crate::hump;
use crate::limits::Limits;
use crate::moved;
use crate::pattern::{Role, library, of_water};
use crate::product::Described;
use crate::reference::{Settled, settle};
use crate::settings::Settings;
use crate::sharpness;
use crate::standard::{InternalStandard, Tube};
use crate::table::Tables;
use crate::unexplained::{Search, exchanging};
use crate::unseen::Unseen;
use crate::verdict::{Doubts, decide_in_doubt};

/// Rounds of naming molecules and of leaving out those that the joint fit refutes.
const ROUNDS: usize = 3;
/// Uncertainty of the phase when processing does not state one, in degrees: what the eye accepts.
const PHASE_U_DEG: f64 = 0.5;
/// Log-evidence from which a line is recognised as the NMR solvent's: odds of 20.
const RECOGNISED: f64 = 3.0;
/// A product's signal is as expected within this share of its protons.
const ELSEWHERE_TOLERANCE: f64 = 0.2;
/// The product is elsewhere when more than this share of its protons is left unexplained.
const ELSEWHERE_LEFT: f64 = 0.5;
/// So many times the product's protons left unexplained, the product is not the main component of the sample.
const MOST_LEFT: f64 = 10.0;
/// No more than this is believed of a stated uncertainty, in degrees.
const MOST_PHASE_U_DEG: f64 = 3.0;

/// Finds what is beside the product, how much of it, and whether the limits are met.
///
/// `check.input.path` and `sha256` and the provenance are left empty: the caller knows the file.
///
/// # Errors
/// When the settings name an NMR solvent or a compound that is in no table, or the amounts cannot be combined.
///
/// ```
/// use lees_core::{Measurement, check::Verdict};
/// use lees_match::{Settings, identify, table::Tables};
/// use lees_process::{Workspace, process};
/// use lees_spin::simulate::{Recipe, simulate};
/// let text = "formula = 'C16H16N2O2S'\nsignals = '8.79 (s, 1H), 7.87 (d, 1H), 7.47 (d, 1H), 7.41 (d, 1H), \
///             6.66 (dd, 1H), 6.55 (d, 1H), 3.46 (q, 4H), 1.25 (t, 6H)'\n[limits]\ntotal = '0.5 wt%'";
/// let dye = lees_format::product::parse(text, "dye.toml").expect("a product");
/// let made = Measurement::Spectrum(simulate(&Recipe::wet_dye()).expect("a sound recipe").spectrum);
/// let processed = process(&made, &Default::default(), &mut Workspace::new()).expect("a spectrum");
/// let check = identify(&processed, Some(&dye), Tables::bundled(), &Settings::default())?;
/// assert_eq!(check.verdict, Verdict::NeedsDrying);
/// assert_eq!(check.volatiles[0].name, "2-propanol");
/// let content = check.volatiles[0].wt_percent.expect("a product was given");
/// assert!(content.low < 1.4 && 1.4 < content.high, "1.4 wt% was put in");
/// # Ok::<(), lees_match::MatchError>(())
/// ```
pub fn identify(
    processed: &Processed,
    product: Option<&Product>,
    tables: &Tables,
    settings: &Settings,
) -> Result<Check, MatchError> {
    explain(processed, product, tables, settings).map(|explained| explained.check)
}

/// What was weighed in or measured beside the sample.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Beside {
    /// The internal standard in the tube.
    pub standard: Option<InternalStandard>,
    /// The NMR solvent alone, measured before.
    pub blank: Option<Blank>,
}

/// A result with what can be taken off another one as a blank.
#[derive(Debug, Clone)]
pub struct Explained {
    /// The result.
    pub check: Check,
    /// Every substance that was seen, as area of one of its protons.
    pub amounts: Vec<Shown>,
}

/// As [`identify`], with the amount of every substance that was seen.
///
/// # Errors
/// As [`identify`].
///
/// ```
/// use lees_core::Measurement;
/// use lees_match::{Settings, explain, table::Tables};
/// use lees_process::{Workspace, process};
/// use lees_spin::simulate::{Recipe, simulate};
/// let made = Measurement::Spectrum(simulate(&Recipe::wet_dye()).expect("a sound recipe").spectrum);
/// let processed = process(&made, &Default::default(), &mut Workspace::new()).expect("a spectrum");
/// let explained = explain(&processed, None, Tables::bundled(), &Settings::default())?;
/// let residual = explained.amounts.iter().find(|seen| seen.residual).expect("CDCl3 shows its CHCl3");
/// assert_eq!(residual.name, "CHCl3 in CDCl3");
/// # Ok::<(), lees_match::MatchError>(())
/// ```
pub fn explain(
    processed: &Processed,
    product: Option<&Product>,
    tables: &Tables,
    settings: &Settings,
) -> Result<Explained, MatchError> {
    explain_beside(processed, product, tables, settings, &Beside::default())
}

/// As [`explain`], with what was weighed in or measured beside the sample: an internal standard gives the absolute purity, a
/// blank is subtracted.
///
/// # Errors
/// As [`identify`], and when the internal standard is in no table or its masses cannot be meant.
///
/// ```
/// use lees_core::Measurement;
/// use lees_match::standard::{InternalStandard, WeighedSettings, Weighing};
/// use lees_match::{Beside, MatchError, Settings, explain_beside, table::Tables};
/// use lees_process::{Workspace, process};
/// use lees_spin::simulate::{Recipe, simulate};
/// let made = Measurement::Spectrum(simulate(&Recipe::wet_dye()).expect("a sound recipe").spectrum);
/// let processed = process(&made, &Default::default(), &mut Workspace::new()).expect("a spectrum");
/// let weighing = Weighing::of(5.0, 20.0, 99.8, &WeighedSettings::default());
/// let beside = Beside { standard: Some(InternalStandard { name: "talc".into(), weighing }), blank: None };
/// let fault = explain_beside(&processed, None, Tables::bundled(), &Settings::default(), &beside);
/// assert!(matches!(fault, Err(MatchError::UnknownName { .. })), "no such internal standard");
/// ```
pub fn explain_beside(
    processed: &Processed,
    product: Option<&Product>,
    tables: &Tables,
    settings: &Settings,
    beside: &Beside,
) -> Result<Explained, MatchError> {
    for name in &settings.exclude {
        tables.require_compound(name)?;
    }
    let settled = settle(processed, product, tables, settings)?;
    let mut scene = Scene::of(processed, settled.axis);
    let acquisition = &processed.spectrum.acquisition;
    let mut patterns = library(tables, settled.solvent, settled.axis.field(), product, settings);

    let solvent_lines = solvent_places(&scene, &patterns);
    let mut described = product.map(|p| Described::of(p, &scene, &solvent_lines));
    let tube = match &beside.standard {
        Some(given) => {
            let tube = Tube::find(given, tables, settled.solvent, described.as_ref(), product, &mut scene)?;
            patterns.retain(|pattern| !tube.is(&pattern.name));
            described = product.map(|p| Described::of(p, &scene, &solvent_lines));
            Some(tube)
        }
        None => None,
    };
    let context = Context::of(described.as_ref().zip(product), &scene, settings);
    let wet = settled.solvent.and_then(|solvent| {
        let pattern = of_water(solvent, acquisition.temperature_k)?;
        let place = pattern.groups[0].expected;
        patterns.push(pattern);
        Some(Wet { pattern: patterns.len() - 1, place, solvent })
    });
    let (mut named, mut fitted, mut refuted) = (Vec::new(), Quantified::default(), Vec::new());
    let mut memory = Memory::new(&scene, &patterns);
    let mut open = context.clone();
    for _ in 0..ROUNDS {
        open = context.clone();
        let known = refuted.len();
        named = search(&mut scene, &patterns, &mut open, wet, &refuted, &mut memory);
        fitted = quantify(&scene, &patterns, &mut named, &mut refuted, &context, phase_u(processed));
        if refuted.len() == known {
            break;
        }
    }
    if let Some(described) = &mut described {
        described.correct(&patterns, &named, &fitted);
    }
    let sources = Sources {
        scene: &scene,
        patterns: &patterns,
        named: &named,
        fitted: &fitted,
        described: described.as_ref(),
        product,
        solvent: settled.solvent,
        tables,
        settings,
        acquisition,
        blank: beside.blank.as_ref(),
    };
    let found = findings(&sources)?;
    let per_proton = described.as_ref().and_then(|d| d.per_proton.as_ref()).map(|p| (p.value, p.u));
    let unexplained = Search {
        scene: &scene,
        processed,
        patterns: &patterns,
        named: &named,
        fitted: &fitted,
        described: described.as_ref(),
        solvent: settled.solvent,
        per_proton,
        least_protons: settings.least_unexplained_protons,
    };
    let (unexplained, humps) = unexplained.run(&exchanging(tables, &patterns, &named, &fitted));
    let mut check = assemble(processed, &settled, settings, found);
    check.unexplained = unexplained;
    check.warnings.extend(hump::warning(&humps));
    check.product = product.zip(described.as_ref()).map(|(p, d)| d.found(p));
    check
        .warnings
        .extend(product.zip(described.as_ref()).into_iter().flat_map(|(p, d)| d.displaced(&scene, p)));
    if let Some(found) = &check.product {
        moved::tell(found, &mut check.unexplained);
    }
    let elsewhere = check.product.as_ref().and_then(|p| elsewhere(p, &check.unexplained));
    if let Some(why) = elsewhere.filter(|_| beside.standard.is_none()) {
        return without_product(processed, tables, settings, check.product, &why);
    }
    if let Some(tube) = &tube {
        tube.report(&mut check, product, described.as_ref(), settings, acquisition)?;
    }
    if let (Some(_), Some(solvent)) = (&beside.blank, settled.solvent) {
        check.warnings.extend(same_line(tables, solvent));
    }
    let amounts = shown(&sources, wet);
    let none = LimitSet::default();
    let limits = Limits::resolve(product.map_or(&none, |p| &p.limits), settings.limits.as_deref(), tables)?;
    let apart = without_crowded_bystanders(&scene, &patterns, &context, &named);
    let (left, still_open) = apart.as_ref().map_or((&scene, &open), |(scene, context)| (scene, context));
    // where a line of the NMR solvent was not recognised, what stands there may be a volatile's
    let is_known = |place: &&(f64, f64)| !open.unrecognised.contains(place);
    let solvents_own: Vec<(f64, f64)> = solvent_lines.iter().filter(is_known).copied().collect();
    let mut nearly = |pattern: usize| {
        let found = memory.assess(left, &patterns, pattern, still_open);
        let doubted = found.map_or(0.0, |found| doubted(&found, &patterns[pattern], &context, &solvents_own));
        doubted.max(stands(left, &patterns[pattern], still_open, &solvents_own))
    };
    let corrected = Context::of(described.as_ref().zip(product), &scene, settings);
    let weighed = |pattern: usize, cap: f64| most_by_evidence(left, &patterns[pattern], still_open, cap);
    check.not_found = not_found(&sources, left, &corrected, &limits, &mut nearly, &weighed);
    Unseen::of(&check).dilute(&mut check);
    let recognised = named.iter().any(|n| {
        let pattern = &patterns[n.pattern];
        pattern.role == Role::Residual && n.found.evidence - pattern.prior > RECOGNISED
    });
    let blind = [assumed_field(processed), settled.doubt(&check.unexplained, recognised)];
    let doubts =
        Doubts { blurred: sharpness::doubt(processed), blind: blind.into_iter().flatten().collect() };
    decide_in_doubt(&mut check, &limits, tables, doubts);
    Ok(Explained { check, amounts })
}

/// Why volatiles may not be recognised where the spectrometer frequency is a guess: they are told apart by couplings in hertz.
fn assumed_field(processed: &Processed) -> Option<String> {
    let acquisition = &processed.spectrum.acquisition;
    acquisition.field_assumed.then(|| {
        format!(
            "The spectrometer frequency is not known, {} MHz was assumed; patterns are told by couplings in Hz, so a volatile may stand there unrecognised. Give it: --field-mhz 300, or a line in the file such as `# frequency = 300 MHz`.",
            acquisition.field.0
        )
    })
}

/// Why the product does not stand where it was described: most of its signals are not as expected and much is left
/// unexplained, or so much is left that what was measured is no main component. It is something else.
fn elsewhere(product: &ProductFound, unexplained: &[Unexplained]) -> Option<String> {
    let left: f64 = unexplained.iter().filter_map(|u| u.relative_protons).map(|e| e.value).sum();
    let protons: f64 = product.signals.iter().map(|s| s.protons).sum();
    let as_expected = |s: &&ProductSignal| {
        s.found_protons.is_some_and(|e| (e.value - s.protons).abs() < ELSEWHERE_TOLERANCE * s.protons)
    };
    let good = product.signals.iter().filter(as_expected).count();
    if left > MOST_LEFT * protons {
        let times = content(left / protons);
        return Some(format!(
            "what is left unexplained has {times} times as many protons as what stands there"
        ));
    }
    let few = left > ELSEWHERE_LEFT * protons && 2 * good < product.signals.len();
    few.then(|| "most of its signals are not as expected, and much is left unexplained".to_owned())
}

/// The result when the product cannot be used: mole ratios only, and why.
fn without_product(
    processed: &Processed,
    tables: &Tables,
    settings: &Settings,
    found: Option<ProductFound>,
    why: &str,
) -> Result<Explained, MatchError> {
    let mut plain = explain_beside(processed, None, tables, settings, &Beside::default())?;
    plain.check.product = found.map(|mut product| {
        product.relative_u = None;
        product.area_per_proton = None;
        for signal in &mut product.signals {
            (signal.found_protons, signal.used, signal.note) = (None, false, None);
            signal.state = SignalState::NotMeasured;
        }
        product
    });
    plain.check.verdict = Verdict::Undecided;
    plain.check.reasons = vec![format!(
        "The product is not where it was described: {why}. Contents by mass need it; look at the description, the NMR solvent and the shift axis."
    )];
    Ok(plain)
}

/// Standard uncertainty of the phase in radians.
fn phase_u(processed: &Processed) -> f64 {
    let stated = processed.phase.u_ph0_deg;
    let degrees = if stated.is_finite() { stated.min(MOST_PHASE_U_DEG) } else { PHASE_U_DEG };
    degrees.to_radians()
}

/// Everything that needs no more thought.
fn assemble(processed: &Processed, settled: &Settled<'_>, settings: &Settings, found: Findings) -> Check {
    let offset = settled.reference.as_ref().map_or(lees_core::Ppm(0.0), |r| r.applied);
    let mut spectrum = processed.spectrum.clone();
    spectrum.axis = settled.axis;
    let mut lines = processed.lines.clone();
    lines.iter_mut().for_each(|line| line.shift = line.shift + offset);
    let mut multiplets = processed.multiplets.clone();
    for multiplet in &mut multiplets {
        multiplet.shift = multiplet.shift + offset;
        multiplet.range.high = multiplet.range.high + offset;
        multiplet.range.low = multiplet.range.low + offset;
    }
    let mut warnings = processed.warnings.clone();
    warnings.extend(settled.warnings.iter().cloned());
    warnings.extend(found.warnings);
    Check {
        input: input(processed, settled),
        reference: settled.reference.clone(),
        product: None,
        volatiles: found.volatiles,
        total: Total { wt_percent: found.total, limit_wt_percent: None, status: LimitStatus::NoLimit },
        not_counted: found.not_counted,
        not_found: Vec::new(),
        unexplained: Vec::new(),
        purity: None,
        corrected_yield: None,
        verdict: Verdict::Undecided,
        reasons: Vec::new(),
        advice: Vec::new(),
        cautions: Vec::new(),
        warnings,
        settings: listed(settings),
        provenance: Provenance { version: String::new(), tables: String::new(), settings: String::new() },
        lines,
        multiplets,
        spectrum,
        noise: processed.noise.typical(),
    }
}

fn input(processed: &Processed, settled: &Settled<'_>) -> Input {
    let acquisition = &processed.spectrum.acquisition;
    Input {
        path: String::new(),
        title: acquisition.title.clone(),
        kind: if processed.kind == lees_process::InputKind::Fid {
            InputKind::Fid
        } else {
            InputKind::Spectrum
        },
        field: settled.axis.field(),
        solvent: settled.solvent.map(|s| s.name.clone()),
        points: settled.axis.points(),
        sha256: String::new(),
        acquisition: acquisition.clone(),
    }
}

/// The settings by name, each under `match.`.
fn listed(settings: &Settings) -> SettingMap {
    setting_list(settings).into_iter().map(|(name, value)| (format!("match.{name}"), value)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use lees_core::check::{Estimate, SignalState};
    use lees_core::{Multiplicity, Ppm, ShiftRange};

    /// A tert-butyl group of which so many protons were found, and so many of something else.
    fn butyl(found: f64, left: f64) -> (ProductFound, [Unexplained; 1]) {
        let range = ShiftRange::new(Ppm(1.4), Ppm(1.4));
        let about = |value: f64| Estimate { value, low: value, high: value, u: 0.01 };
        let product = ProductFound {
            name: "ester".to_owned(),
            formula: None,
            molar_mass: 200.0,
            signals: vec![ProductSignal {
                range,
                text: String::new(),
                protons: 9.0,
                found_protons: Some(about(found)),
                used: true,
                state: SignalState::Agrees,
                note: None,
            }],
            relative_u: None,
            area_per_proton: None,
        };
        let left = Unexplained {
            shift: Ppm(3.0),
            range,
            multiplicity: Multiplicity::singlet(),
            relative_protons: Some(about(left)),
            area: left,
            note: None,
            alkanes: false,
        };
        (product, [left])
    }

    /// A tert-butyl group of which all, most or a third was found, beside the larger part of another compound.
    #[test]
    fn a_product_whose_signals_have_their_protons_stands_where_it_was_described() {
        let product = |found: f64| butyl(found, 6.0).0;
        let left = butyl(9.0, 6.0).1;
        assert_eq!(elsewhere(&product(9.0), &left), None);
        assert_eq!(elsewhere(&product(8.0), &left), None, "a ninth less is within what integrals err by");
        assert!(elsewhere(&product(3.0), &left).is_some_and(|why| why.contains("not as expected")));
        assert_eq!(elsewhere(&product(3.0), &[]), None, "nothing else is there");
    }

    /// The place of a product's only signal holds next to nothing, so that its own area is its own measure.
    #[test]
    fn what_has_far_fewer_protons_than_all_else_is_not_the_product() {
        let (product, left) = butyl(9.0, 2000.0);
        let why = elsewhere(&product, &left).expect("it is something else");
        assert!(why.contains("222 times as many protons"), "{why}");
        let (product, left) = butyl(9.0, 30.0);
        assert_eq!(elsewhere(&product, &left), None, "a batch with three times as much of something unknown");
    }
}
