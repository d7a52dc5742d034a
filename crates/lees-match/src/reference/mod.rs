//! Setting the shift axis: the NMR solvent's own lines, TMS, water and the product's signals must agree.
//!
//! The choice itself is [`lees_process::reference::choose`]; here are the solvents it chooses among, what each should
//! show, and what is said about the answer (Harris et al., Pure Appl. Chem. 2001, 73, 1795, for the scale itself).

mod candidates;
mod own;
mod words;

use lees_core::check::{Reference, Unexplained};
use lees_core::{Multiplicity, Ppm, Product, ShiftAxis};
use lees_process::Processed;
use lees_process::reference::{Doubtful, ReferenceHypothesis, choose};

use self::candidates::candidates;
use self::own::{by_standard, is_of_product};
use self::words::{
    DESCRIPTION, LABEL, axis_remark, fits, residual_remark, solvent_remark, taken_from_description, unsure,
};
use crate::MatchError;
use crate::product::{offset_by_product, offset_by_product_near};
use crate::settings::Settings;
use crate::table::{NmrSolvent, Tables};

/// The axis and what it rests on.
#[derive(Debug, Clone)]
pub(crate) struct Settled<'t> {
    /// The NMR solvent, when it is known.
    pub solvent: Option<&'t NmrSolvent>,
    /// The referenced axis.
    pub axis: ShiftAxis,
    /// What was used; `None` when the axis was left as it came.
    pub reference: Option<Reference>,
    /// Whether a line of the spectrum was told to be the NMR solvent's, or a label agrees with an axis set by TMS.
    pub confirmed: bool,
    /// Whether the NMR solvent was named by hand.
    pub asked: bool,
    /// What a careful reader should know.
    pub warnings: Vec<String>,
}

impl Settled<'_> {
    /// Whether the axis rests on a line that stands among the product's, all of which stand `moved` from where they were described.
    pub(crate) fn rests_on(&self, product: &Product, moved: Ppm) -> bool {
        self.reference.as_ref().is_some_and(|line| is_of_product(product, line.expected - moved, self.axis))
    }

    /// Why names rest on the wrong tables when no line of the spectrum bears the NMR solvent out: a volatile in another
    /// solvent stays unexplained. Nothing when every signal is explained, or when its line was `recognised` in the end, beside all
    /// that is known of product and volatiles.
    pub(crate) fn doubt(&self, unexplained: &[Unexplained], recognised: bool) -> Option<String> {
        let sure = self.confirmed || recognised || unexplained.is_empty();
        let solvent = self.solvent.filter(|_| !sure)?;
        if self.asked {
            return Some(format!(
                "No line of the spectrum could be told to be that of {}, the NMR solvent that was asked for: what is unexplained may be a volatile in another one, or beside its place on this axis.",
                solvent.name
            ));
        }
        Some(format!(
            "No line of the spectrum could be told to be that of {}, in which the volatiles were looked for: what is unexplained may be one of them in another NMR solvent. Name the right one with --solvent.",
            solvent.name
        ))
    }
}

/// An axis that is off by more than this, in ppm, is worth a word.
const WORTH_A_WORD: f64 = 0.02;
/// Share of solvent labels that are right (corpus of public files: 4 of some 40 contradict the spectrum).
const LABEL_RIGHT: f64 = 0.9;
/// Solvents the sample may be in when label or flag do not name the right one.
const USUAL: [&str; 8] = ["CDCl3", "DMSO-d6", "acetone-d6", "CD3CN", "CD3OD", "CD2Cl2", "C6D6", "D2O"];
/// The product's signals and the NMR solvent's line agree on the axis within this, in ppm.
const PRODUCT_AGREES: f64 = 0.04;

/// Finds NMR solvent and axis.
///
/// # Errors
/// When the settings name an NMR solvent that is in no table.
pub(crate) fn settle<'t>(
    processed: &Processed,
    product: Option<&Product>,
    tables: &'t Tables,
    settings: &Settings,
) -> Result<Settled<'t>, MatchError> {
    let mut warnings = Vec::new();
    let named = match &settings.solvent {
        Some(name) => {
            let given = tables.require_nmr_solvent(name)?;
            warnings.extend(overruled(processed, given, tables));
            Some(given)
        }
        None => from_label(processed, tables, &mut warnings),
    };
    let described = product.and_then(|p| tables.nmr_solvent(p.nmr_solvent.as_deref()?));
    let (named, source) = match (named, described) {
        (None, Some(solvent)) => (Some(solvent), DESCRIPTION),
        _ => (named, LABEL),
    };
    let possible = possible(named, settings.solvent.is_some(), tables);
    let temperature = processed.spectrum.acquisition.temperature_k;
    let hypotheses: Vec<ReferenceHypothesis> = possible
        .iter()
        .map(|(solvent, prior)| ReferenceHypothesis {
            name: solvent.name.clone(),
            prior: *prior,
            candidates: candidates(solvent, product, tables, temperature),
        })
        .collect();
    let by_product = product.and_then(|product| offset_by_product(processed, product));
    let asked = &settings.reference;
    let choice = choose(processed, &hypotheses, asked);
    let agrees = |offset: Ppm| by_product.is_none_or(|own| (own.0 - offset.0).abs() < PRODUCT_AGREES);
    let near = |offset: Ppm| by_product.or_else(|| offset_by_product_near(processed, product?, offset));
    let own = choice.found.as_ref().and_then(|found| {
        let own = near(found.offset).filter(|own| (own.0 - found.offset.0).abs() > WORTH_A_WORD)?;
        is_of_product(product?, found.observed + own, processed.spectrum.axis).then_some(own)
    });
    let by_product = own.or(by_product);
    let choice_found = choice.found.filter(|found| agrees(found.offset) && own.is_none());
    let Some(found) = choice_found.map(|found| by_standard(found, by_product)) else {
        // The product has the axis; which solvent it is may be sure all the same.
        let sure = |d: &Doubtful| by_product.is_some() && agrees(d.offset) && d.odds >= asked.least_odds;
        let told = choice.doubtful.filter(sure).map(|d| possible[d.solvent].0).filter(|_| named.is_none());
        let doubtful = choice.doubtful.map(|d| (possible[d.solvent].0, d.offset));
        warnings.extend(named.filter(|_| source == DESCRIPTION).map(taken_from_description));
        let unsure = || unsure(named, doubtful, processed.spectrum.axis, by_product.is_some());
        warnings.push(told.map_or_else(unsure, fits));
        let solvent = named.or(told);
        let left = left_to_product(processed.spectrum.axis, solvent, product.zip(by_product), warnings);
        return Ok(Settled { asked: settings.solvent.is_some(), ..left });
    };
    let axis = processed.spectrum.axis;
    let solvent = choice.solvent.map(|(index, _)| possible[index].0);
    warnings.extend(solvent_remark(named.map(|named| (named, source)), solvent, &found));
    warnings.extend(axis_remark(&found));
    warnings.extend(solvent.or(named).and_then(|solvent| residual_remark(solvent, &found)));
    let reference = Reference {
        signal: found.name,
        observed: found.observed,
        expected: found.expected,
        applied: found.offset,
    };
    Ok(Settled {
        solvent: solvent.or(named),
        axis: axis.moved(found.offset),
        reference: Some(reference),
        confirmed: true,
        asked: settings.solvent.is_some(),
        warnings,
    })
}

/// The axis by the product's own signals, or as it came.
fn left_to_product<'t>(
    axis: ShiftAxis,
    solvent: Option<&'t NmrSolvent>,
    by_product: Option<(&Product, Ppm)>,
    mut warnings: Vec<String>,
) -> Settled<'t> {
    let Some((product, offset)) = by_product else {
        return Settled { solvent, axis, reference: None, confirmed: false, asked: false, warnings };
    };
    warnings.push(format!(
        "the product's own signals set the shift axis instead, moved by {:+.3} ppm: it is as right as their description",
        offset.0
    ));
    // protons that exchange wander: the axis did not rest on them
    let fixed = product.signals.iter().find(|s| !s.multiplicity.as_ref().is_some_and(Multiplicity::is_broad));
    let expected = fixed.or(product.signals.first()).map_or(Ppm(0.0), |signal| signal.range.centre());
    let reference = Reference {
        signal: "the product's signals".to_owned(),
        observed: expected - offset,
        expected,
        applied: offset,
    };
    Settled {
        solvent,
        axis: axis.moved(offset),
        reference: Some(reference),
        confirmed: false,
        asked: false,
        warnings,
    }
}

fn from_label<'t>(
    processed: &Processed,
    tables: &'t Tables,
    warnings: &mut Vec<String>,
) -> Option<&'t NmrSolvent> {
    let label = processed.spectrum.acquisition.solvent.as_deref()?;
    let known = tables.nmr_solvent(label);
    if known.is_none() {
        warnings.push(format!("the file's solvent label `{label}` is no known NMR solvent"));
    }
    known
}

/// A word on a solvent by hand that contradicts the file.
fn overruled(processed: &Processed, given: &NmrSolvent, tables: &Tables) -> Option<String> {
    let label = processed.spectrum.acquisition.solvent.as_deref()?;
    let differs = tables.nmr_solvent(label).is_none_or(|known| known.index != given.index);
    differs.then(|| format!("the file's label says {label}; {} was used, as asked for", given.name))
}

/// The solvents to choose among, with their chances beforehand; the named one first.
fn possible<'t>(
    named: Option<&'t NmrSolvent>,
    by_user: bool,
    tables: &'t Tables,
) -> Vec<(&'t NmrSolvent, f64)> {
    let usual = USUAL.iter().filter_map(|name| tables.nmr_solvent(name));
    match named {
        Some(solvent) if by_user => vec![(solvent, 1.0)],
        Some(solvent) => {
            let others: Vec<_> = usual.filter(|other| other.index != solvent.index).collect();
            let share = (1.0 - LABEL_RIGHT) / others.len().max(1) as f64;
            std::iter::once((solvent, LABEL_RIGHT)).chain(others.into_iter().map(|o| (o, share))).collect()
        }
        None => usual.map(|solvent| (solvent, 1.0 / USUAL.len() as f64)).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use lees_process::reference::ReferenceFound;

    #[test]
    fn chances_of_the_solvents_add_up_to_one_and_a_label_is_believed_mostly() {
        let tables = Tables::bundled();
        let chances = |name: Option<&str>, by_user| {
            possible(name.map(|name| tables.nmr_solvent(name).expect("tabulated")), by_user, tables)
        };
        for (name, by_user, count, first) in [
            (Some("CD3OD"), false, USUAL.len(), LABEL_RIGHT),
            (Some("THF-d8"), false, USUAL.len() + 1, LABEL_RIGHT),
            (Some("THF-d8"), true, 1, 1.0),
            (None, false, USUAL.len(), 1.0 / USUAL.len() as f64),
        ] {
            let all = chances(name, by_user);
            assert_eq!((all.len(), all[0].1), (count, first), "{name:?}");
            assert!(name.is_none_or(|name| all[0].0.name == name), "{name:?}");
            let sum: f64 = all.iter().map(|(_, chance)| chance).sum();
            assert!((sum - 1.0).abs() < 1e-12 && all.iter().all(|one| one.1 > 0.0), "{name:?}: {sum}");
        }
    }

    #[test]
    fn the_label_of_the_file_names_the_solvent_or_is_told_to_be_unknown() {
        let mut processed = crate::fit::scene::tests::wet_dye();
        let mut read = |label: Option<&str>| {
            processed.spectrum.acquisition.solvent = label.map(str::to_owned);
            let mut warnings = Vec::new();
            let solvent = from_label(&processed, Tables::bundled(), &mut warnings);
            (solvent.map(|solvent| solvent.name.clone()), warnings)
        };
        assert_eq!(read(Some("CDCl3")), (Some("CDCl3".to_owned()), Vec::new()));
        assert_eq!(read(None), (None, Vec::new()));
        let (none, warnings) = read(Some("brine"));
        assert!(none.is_none() && warnings.len() == 1 && warnings[0].contains("`brine`"), "{warnings:?}");
    }

    #[test]
    fn a_solvent_told_from_the_spectrum_is_named() {
        let tables = Tables::bundled();
        let found = ReferenceFound {
            name: "TMS".to_owned(),
            expected: Ppm(0.0),
            observed: Ppm(0.0),
            offset: Ppm(0.0),
            offset_u: Ppm(0.0),
            agreeing: Vec::new(),
            seen: Vec::new(),
            evidence: 20.0,
            lead: 20.0,
        };
        for name in ["CDCl3", "CD3OD"] {
            let solvent = tables.nmr_solvent(name).expect("tabulated");
            let said = solvent_remark(None, Some(solvent), &found).expect("a remark");
            assert!(said.contains("not stated") && said.contains(name), "{said}");
        }
    }
}
