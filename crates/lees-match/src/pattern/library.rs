//! Everything that may be found in one NMR solvent at one field.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};

use lees_core::{Megahertz, Product};

use super::{Pattern, Role, in_slow_exchange, of_compound, of_residual};
use crate::settings::Settings;
use crate::table::{Class, Compound, NmrSolvent, Tables, plain_name};

/// Prior log-odds of a compound that the chemist named with a limit: as likely as not.
const NAMED_PRIOR: f64 = 0.0;
/// The undeuterated solvent is told from the residual species when their lines lie further apart than this, ppm.
const SAME_PLACE: f64 = 0.012;

/// Patterns of all compounds, and of the NMR solvent's residual species, in table order.
pub(crate) fn library(
    tables: &Tables,
    solvent: Option<&NmrSolvent>,
    field: Megahertz,
    product: Option<&Product>,
    settings: &Settings,
) -> Vec<Pattern> {
    let Some(solvent) = solvent else {
        return Vec::new();
    };
    let mut patterns = all(tables, solvent, field).as_ref().clone();
    patterns.retain_mut(|pattern| {
        let Some(compound) = pattern.compound_in(tables) else { return true };
        if product.is_some_and(|p| has_limit(p, compound)) || is_among(compound, &settings.used) {
            pattern.prior = pattern.prior.max(NAMED_PRIOR);
        }
        !is_among(compound, &settings.exclude)
    });
    patterns
}

/// Solved spin systems are kept for this many combinations of tables, NMR solvent and field.
const MOST_KEPT: usize = 16;

/// Patterns by digest of the tables, NMR solvent and field in kilohertz. Only saves the time of solving the same spin
/// systems for every spectrum of a batch; no result depends on it.
type Kept = BTreeMap<(String, usize, i64), Arc<Vec<Pattern>>>;
static KEPT: Mutex<Kept> = Mutex::new(BTreeMap::new());

/// All patterns of the tables and of the NMR solvent's residual species, in table order.
fn all(tables: &Tables, solvent: &NmrSolvent, field: Megahertz) -> Arc<Vec<Pattern>> {
    let key = (tables.digest().to_owned(), solvent.index, (field.0 * 1e3).round() as i64);
    let mut kept = KEPT.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    if let Some(known) = kept.get(&key) {
        return Arc::clone(known);
    }
    let mut patterns = of_residual(solvent, field);
    let wanted = |c: &Compound| c.class != Class::Water && !is_residual(c, solvent);
    for (index, compound) in tables.compounds().iter().enumerate().filter(|(_, c)| wanted(c)) {
        patterns.extend(of_compound(compound, index, solvent, field));
        patterns.extend(in_slow_exchange(compound, index, solvent, field));
    }
    if kept.len() >= MOST_KEPT {
        kept.clear();
    }
    let patterns = Arc::new(patterns);
    kept.insert(key, Arc::clone(&patterns));
    patterns
}

pub(crate) fn is_among(compound: &Compound, names: &[String]) -> bool {
    names.iter().any(|name| answers_to(compound, name))
}

fn has_limit(product: &Product, compound: &Compound) -> bool {
    product.limits.each.keys().any(|name| answers_to(compound, name))
}

/// Whether a name means this compound.
pub(crate) fn answers_to(compound: &Compound, name: &str) -> bool {
    let plain = plain_name(name);
    std::iter::once(&compound.name).chain(&compound.aliases).any(|own| plain_name(own) == plain)
}

/// Whether the compound's only line is the residual line itself, such as chloroform in CDCl3.
pub(crate) fn is_residual(compound: &Compound, solvent: &NmrSolvent) -> bool {
    solvent.protio.as_ref().is_some_and(|name| answers_to(compound, name))
        && compound.groups.len() == 1
        && compound.groups[0].shift_in(solvent).is_none_or(|place| {
            solvent
                .residual
                .iter()
                .any(|line| line.deuterons == 0 && (line.shift.0 - place.centre().0).abs() < SAME_PLACE)
        })
}

/// Whether the pattern enters the sums.
pub(crate) fn counts(pattern: &Pattern, settings: &Settings) -> bool {
    pattern.role == Role::Volatile || (pattern.role == Role::Water && settings.count_water)
}
