//! The whole story of one spectrum: axis, product, molecules, amounts, what is left.

use lees_core::check::{Check, ProductFound, SignalState, Verdict};
use lees_core::{LimitSet, Ppm, Product};
use lees_process::Processed;
use serde::{Deserialize, Serialize};

use crate::MatchError;
use crate::assemble::assemble;
use crate::assign::bound::{doubted, is_probable, stands};
use crate::assign::context::Context;
use crate::assign::memory::Memory;
use crate::assign::probe::at_most as most_by_evidence;
use crate::assign::quantify::{Quantified, quantify};
use crate::assign::search::{search, solvent_places, without_crowded_bystanders};
use crate::assign::water::Wet;
use crate::blank::{Blank, Shown};
use crate::elsewhere::elsewhere;
use crate::finding::{Nearly, Sources, findings, not_found, same_line, shown};
use crate::fit::scene::Scene;
use crate::hump;
use crate::limits::Limits;
use crate::moved;
use crate::pattern::{Role, library, of_water};
use crate::product::{Described, moved_alike};
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
    for name in settings.exclude.iter().chain(&settings.used) {
        tables.require_compound(name)?;
    }
    explain_placed(processed, product, tables, settings, beside, None)
}

/// As [`explain_beside`], on a settled axis and all signals of the product looked for so many hertz from where they were described,
/// when that is known.
fn explain_placed(
    processed: &Processed,
    product: Option<&Product>,
    tables: &Tables,
    settings: &Settings,
    beside: &Beside,
    placed: Option<(Settled<'_>, f64)>,
) -> Result<Explained, MatchError> {
    let (settled, moved) = match placed {
        Some((settled, off)) => (settled, Some(off)),
        None => (settle(processed, product, tables, settings)?, None),
    };
    let mut scene = Scene::of(processed, settled.axis);
    let acquisition = &processed.spectrum.acquisition;
    let mut patterns = library(tables, settled.solvent, settled.axis.field(), product, settings);

    let solvent_lines = solvent_places(&scene, &patterns);
    let mut described = product.map(|p| match moved {
        None => Described::of(p, &scene, &solvent_lines),
        Some(off) => Described::placed(p, &scene, &solvent_lines, off),
    });
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
    // a line of a product that is not known may stand where the NMR solvent's was not told to be
    let told = settled.confirmed || described.is_some();
    let (mut named, mut fitted, mut refuted) = (Vec::new(), Quantified::default(), Vec::new());
    let mut memory = Memory::new(&scene, &patterns);
    let mut open = context.clone();
    for _ in 0..ROUNDS {
        open = context.clone();
        let known = refuted.len();
        named = search(&mut scene, &patterns, &mut open, wet, &refuted, &mut memory, told);
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
    let nowhere = described.as_ref().is_some_and(|d| d.per_proton.is_none());
    let untried = product.filter(|_| moved.is_none() && beside.standard.is_none());
    if let Some(product) = untried.filter(|_| nowhere || elsewhere.is_some())
        && let Some(placed) = elsewhere_alike(processed, product, tables, settings)?
    {
        return explain_placed(processed, Some(product), tables, settings, beside, Some(placed));
    }
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
        let stands = stands(left, &patterns[pattern], still_open, &solvents_own);
        found.map_or(Nearly { amount: stands, probable: false }, |found| Nearly {
            amount: stands.max(doubted(&found, &patterns[pattern], &context, &solvents_own)),
            probable: is_probable(&found, &context, &solvents_own),
        })
    };
    let corrected = Context::of(described.as_ref().zip(product), &scene, settings);
    let weighed = |pattern: usize, cap: f64| most_by_evidence(left, &patterns[pattern], still_open, cap);
    check.not_found = not_found(&sources, left, &corrected, &limits, &mut nearly, &weighed);
    Unseen::of(&check).dilute(&mut check);
    let recognised = named.iter().any(|n| {
        let pattern = &patterns[n.pattern];
        pattern.role == Role::Residual && n.found.evidence - pattern.prior > RECOGNISED
    });
    let off = described.as_ref().filter(|_| moved.is_some()).and_then(|d| d.doubt(&scene));
    let blind = [assumed_field(processed), settled.doubt(&check.unexplained, recognised), off];
    let doubts =
        Doubts { blurred: sharpness::doubt(processed), blind: blind.into_iter().flatten().collect() };
    decide_in_doubt(&mut check, &limits, tables, doubts);
    Ok(Explained { check, amounts })
}

/// The axis without help by the description, and how far from it on that axis all of the product stands, in hertz.
fn elsewhere_alike<'t>(
    processed: &Processed,
    product: &Product,
    tables: &'t Tables,
    settings: &Settings,
) -> Result<Option<(Settled<'t>, f64)>, MatchError> {
    // signals that are not where they were described say nothing of the axis
    let bare = Product { signals: Vec::new(), ..product.clone() };
    let settled = settle(processed, Some(&bare), tables, settings)?;
    let scene = Scene::of(processed, settled.axis);
    let patterns = library(tables, settled.solvent, settled.axis.field(), Some(product), settings);
    let off = moved_alike(&scene, product, &solvent_places(&scene, &patterns));
    let sound = |off: &f64| !settled.rests_on(product, Ppm(-off / scene.field()));
    Ok(off.filter(sound).map(|off| (settled, off)))
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
