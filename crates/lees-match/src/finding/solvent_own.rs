//! What came with the NMR solvent: the blank's share of every compound, taken off.

use nalgebra::DMatrix;

use super::{Entry, Sources, effects::BLANK};
use crate::assign::search::LEAST_SIGNIFICANCE;
use crate::assign::water::Wet;
use crate::blank::{Measured, Shown};
use crate::pattern::{Role, is_residual};
use crate::table::{NmrSolvent, Tables};
use crate::uncertainty::{Effect, Shape};

/// Common widths over which a water line that was not found would spread.
const WATER_WIDTHS: f64 = 6.0;
/// Below this share, in per cent, the blank's part of a compound is not worth a sentence.
const WORTH_SAYING: f64 = 1.0;

/// The named molecule that links this spectrum with the blank.
fn link(sources: &Sources<'_>) -> Option<usize> {
    let blank = sources.blank?;
    let is_link = |k: &usize| {
        let pattern = &sources.patterns[sources.named[*k].pattern];
        pattern.role == Role::Residual && pattern.name == blank.residual && area(sources, *k).is_some()
    };
    (0..sources.named.len()).find(is_link)
}

/// Area per proton of a named molecule.
fn area(sources: &Sources<'_>, named: usize) -> Option<f64> {
    sources.fitted.amounts.each[named].map(|a| a.value).filter(|value| *value > 0.0)
}

/// Area per proton that the NMR solvent brought of a named molecule; the uncertainty is that of the blank and between tubes.
pub(super) fn brought(sources: &Sources<'_>, named: usize) -> Option<Measured> {
    let residual = area(sources, link(sources)?)?;
    let ratio = sources.blank?.ratio(&sources.patterns[sources.named[named].pattern].name)?;
    let nothing = Measured { value: 0.0, u: 0.0 };
    let rest = ratio.subtract(nothing, Measured { value: residual, u: 0.0 });
    Some(Measured { value: -rest.value, u: rest.u })
}

/// What the blank adds to the budget: effects are relative to what is left.
pub(super) fn effects(
    sources: &Sources<'_>,
    named: usize,
    brought: Option<Measured>,
    effects: &mut Vec<Effect>,
) {
    let (Some(brought), Some(whole)) = (brought, area(sources, named)) else { return };
    let left = if whole > brought.value { whole - brought.value } else { whole };
    effects.iter_mut().for_each(|effect| effect.on_volatile *= whole / left);
    effects.push(Effect::of_volatile(
        BLANK,
        brought.u / left,
        Shape::Normal,
        "a drier NMR solvent, a blank from the same bottle on the same day",
    ));
}

/// Takes the blank's share off the ratios to `base`, with its uncertainty; the residual line's own error is common to both.
pub(super) fn take_off(
    sources: &Sources<'_>,
    entries: &[Entry<'_>],
    base: f64,
    ratio: &mut [f64],
    spread: &mut DMatrix<f64>,
) {
    let Some(link) = link(sources).and_then(|named| entries.iter().position(|e| e.named == named)) else {
        return;
    };
    let n = entries.len();
    let residual = ratio[link];
    let mut change = DMatrix::identity(n, n);
    let mut own = DMatrix::zeros(n, n);
    for (k, entry) in entries.iter().enumerate() {
        let Some(brought) = entry.brought else { continue };
        ratio[k] -= brought.value / base;
        change[(k, link)] -= brought.value / base / residual;
        own[(k, k)] = (brought.u / base).powi(2);
    }
    let propagated = &change * &*spread * change.transpose() + own;
    *spread = propagated;
}

/// What the reader should know of the subtraction.
pub(super) fn sentences(sources: &Sources<'_>) -> Vec<String> {
    let Some(blank) = sources.blank else { return Vec::new() };
    if link(sources).is_none() {
        return vec![format!(
            "the blank {} was linked by {}, which this spectrum does not show: nothing was subtracted",
            blank.name, blank.residual
        )];
    }
    let said = (0..sources.named.len()).filter_map(|k| {
        let name = &sources.patterns[sources.named[k].pattern].name;
        let percent = 100.0 * brought(sources, k)?.value / area(sources, k)?;
        (percent >= WORTH_SAYING).then(|| {
            let how_much = if percent < 100.0 { format!("{percent:.0} %") } else { "all".to_owned() };
            format!(
                "{how_much} of the {name} comes with the NMR solvent by the blank {} and was taken off",
                blank.name
            )
        })
    });
    said.collect()
}

/// The sentence for an NMR solvent whose undeuterated form has no line of its own: a blank cannot tell it apart.
pub(crate) fn same_line(tables: &Tables, solvent: &NmrSolvent) -> Option<String> {
    of_the_batch(tables, solvent).map(|name| {
        format!(
            "{name} cannot be told from the residual line of {}, which links blank and sample: use another NMR solvent to look for it",
            solvent.name
        )
    })
}

/// The undeuterated form of an NMR solvent, where it has no line of its own: what the batch has of it is not told from the residual line.
pub(super) fn of_the_batch<'t>(tables: &'t Tables, solvent: &NmrSolvent) -> Option<&'t str> {
    let compound = tables.compound(solvent.protio.as_deref()?)?;
    is_residual(compound, solvent).then_some(compound.name.as_str())
}

/// Every substance that was seen; water also when it was not, as nothing with the uncertainty of what could hide.
pub(crate) fn shown(sources: &Sources<'_>, wet: Option<Wet>) -> Vec<Shown> {
    let mut all: Vec<Shown> = (0..sources.named.len())
        .filter_map(|k| {
            let pattern = &sources.patterns[sources.named[k].pattern];
            let amount = sources.fitted.amounts.each[k].filter(|a| a.value > 0.0)?;
            Some(Shown {
                name: pattern.name.clone(),
                residual: pattern.role == Role::Residual,
                per_proton: Measured { value: amount.value, u: amount.sources.total() },
            })
        })
        .collect();
    if let Some(pattern) = wet.map(|wet| &sources.patterns[wet.pattern])
        && !all.iter().any(|shown| shown.name == pattern.name)
    {
        let half = WATER_WIDTHS / 2.0 * sources.scene.width;
        let at = sources.scene.position(pattern.groups[0].expected);
        let range = sources.scene.range(at - half, at + half);
        let noise = sources.scene.noise.range_u(range) * sources.scene.hz / pattern.groups[0].protons;
        let per_proton = Measured { value: 0.0, u: LEAST_SIGNIFICANCE * noise };
        all.push(Shown { name: pattern.name.clone(), residual: false, per_proton });
    }
    all
}
