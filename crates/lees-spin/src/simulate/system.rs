//! From a compound's signals to a spin system.

use lees_core::{Hertz, Ppm};

use super::{Compound, RecipeError};
use crate::{PartnerSpin, SpinSystem};

/// Couplings given from both sides must agree to this (Hz), the rounding of a journal's one decimal.
const SAME_COUPLING: f64 = 0.051;

/// The spin system of a compound; group indices are signal indices.
pub(crate) fn system(compound: &Compound) -> Result<SpinSystem, RecipeError> {
    let mut system = SpinSystem::default();
    for signal in &compound.signals {
        let group = system.add(&signal.label(), Ppm(signal.at), signal.spins());
        for &(count, coupling) in signal.split.iter().flat_map(|split| split.parts()) {
            system.split(group, PartnerSpin::Half, count, Hertz(coupling));
        }
        if let Some(deuterium) = signal.deuterium {
            system.split(group, PartnerSpin::One, deuterium.n, Hertz(deuterium.j));
        }
    }
    for (a, b, coupling) in couplings(compound)? {
        system.couple(a, b, Hertz(coupling));
    }
    Ok(system)
}

fn couplings(compound: &Compound) -> Result<Vec<(usize, usize, f64)>, RecipeError> {
    let mut found: Vec<(usize, usize, f64)> = Vec::new();
    for (a, signal) in compound.signals.iter().enumerate() {
        for (name, &coupling) in &signal.with {
            let b = partner(compound, a, name)?;
            if compound.signals[b].parts != signal.parts {
                let what = format!("`{}` and `{name}` couple but differ in `parts`", signal.label());
                return Err(RecipeError::compound(&compound.name, what));
            }
            let pair = (a.min(b), a.max(b));
            match found.iter().find(|known| (known.0, known.1) == pair) {
                Some(known) if (known.2 - coupling).abs() > SAME_COUPLING => {
                    let what = format!("`{}` and `{name}` differ in their coupling", signal.label());
                    return Err(RecipeError::compound(&compound.name, what));
                }
                Some(_) => {}
                None => found.push((pair.0, pair.1, coupling)),
            }
        }
    }
    Ok(found)
}

fn partner(compound: &Compound, of: usize, name: &str) -> Result<usize, RecipeError> {
    let named = |signal: &super::Signal| signal.name.as_deref() == Some(name);
    let mut matches = compound.signals.iter().enumerate().filter(|(_, signal)| named(signal));
    match (matches.next(), matches.next()) {
        (Some((index, _)), None) if index != of => Ok(index),
        (Some(_), Some(_)) => {
            Err(RecipeError::compound(&compound.name, format!("two signals are named `{name}`")))
        }
        _ => Err(RecipeError::compound(
            &compound.name,
            format!("`with` names `{name}`, which is no other signal"),
        )),
    }
}
