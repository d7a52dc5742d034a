//! The product as the result shows it.

use lees_core::check::{Estimate, ProductFound, ProductSignal, SignalState};
use lees_core::{ExpectedSignal, Product};

use super::amount::spread;
use super::{Described, Region};
use crate::interval::nonnegative;

/// Protons may be off by this share of the expected ones before the signal is called too large or too small.
const TOLERANCE: f64 = 0.1;
/// ... and by this many standard uncertainties.
const SIGMAS: f64 = 3.0;
/// Other signals only ever add: one is too large beyond so many of what those that agree let expect, where that is less than the
/// share.
const SPREADS: f64 = 2.0;
/// Less than this share of the expected protons is called missing.
const MISSING: f64 = 0.1;

impl Described {
    /// The product's part of the result.
    pub(crate) fn found(&self, product: &Product) -> ProductFound {
        let mut signals: Vec<ProductSignal> = Vec::new();
        for k in 0..self.regions.len() {
            signals.push(self.signal(product, k));
        }
        ProductFound {
            name: product.name.clone(),
            formula: product.formula.clone(),
            molar_mass: product.molar_mass,
            signals,
            relative_u: self.per_proton.as_ref().map(|p| p.u / p.value),
            area_per_proton: self.per_proton.as_ref().map(|p| p.value),
        }
    }

    fn signal(&self, product: &Product, k: usize) -> ProductSignal {
        let region = &self.regions[k];
        let used = self.per_proton.as_ref().is_some_and(|p| p.used[k]);
        let found = self.protons(k);
        let (state, note) = self.state(k, found);
        ProductSignal {
            range: region.range,
            text: texts(region, product),
            protons: region.protons,
            found_protons: found,
            used,
            state,
            note,
        }
    }

    /// Protons found in a stretch, on the scale of the signals used.
    fn protons(&self, k: usize) -> Option<Estimate> {
        let scale = self.per_proton.as_ref()?;
        let (region, others) = (&self.regions[k], &self.others[k]);
        let value = (region.area - others.area) / scale.value;
        let own = (region.area_u * region.area_u + others.variance).sqrt() / scale.value;
        Some(nonnegative(value, libm::hypot(own, value * scale.u / scale.value)))
    }

    /// Whether something else lies in a signal of the product about a position, in hertz from the first point.
    pub(crate) fn is_too_large(&self, position: f64) -> bool {
        let holds = |k: &usize| self.regions[*k].from <= position && position <= self.regions[*k].to;
        let state = |k: usize| self.state(k, self.protons(k)).0;
        (0..self.regions.len()).filter(holds).any(|k| state(k) == SignalState::TooLarge)
    }

    /// What the other signals used say of the scale, relative to that of all, and by how much another may differ from it.
    fn by_others(&self, k: usize) -> (f64, f64) {
        let used = |j: &usize| self.per_proton.as_ref().is_some_and(|p| p.used[*j]);
        let others = (0..self.regions.len()).filter(|j| *j != k && used(j));
        let ratios: Vec<f64> =
            others.filter_map(|j| Some(self.protons(j)?.value / self.regions[j].protons)).collect();
        let scale = if ratios.is_empty() { 1.0 } else { ratios.iter().sum::<f64>() / ratios.len() as f64 };
        (scale, spread(ratios.iter().map(|ratio| ratio / scale)))
    }

    fn state(&self, k: usize, found: Option<Estimate>) -> (SignalState, Option<String>) {
        let region = &self.regions[k];
        let Some(found) = found else {
            return (SignalState::NotMeasured, None);
        };
        let off = found.value - region.protons;
        let slack = (SIGMAS * found.u).max(TOLERANCE * region.protons);
        let (scale, spread) = self.by_others(k);
        let beyond = found.value / scale - region.protons;
        let room = (SIGMAS * found.u).max((SPREADS * spread).min(TOLERANCE) * region.protons);
        let other = self.others[k].name.clone().filter(|_| self.is_covered(k));
        match other {
            Some(name) => (SignalState::Covered, Some(format!("{name} lies here too"))),
            None if found.value < MISSING * region.protons => {
                (SignalState::Missing, exchange_note(region.exchanging))
            }
            None if beyond > room => (SignalState::TooLarge, Some("something else lies here".to_owned())),
            None if off < -slack => (SignalState::TooSmall, exchange_note(region.exchanging)),
            None if self.is_displaced(region) => {
                (SignalState::Agrees, Some("not where it was described".to_owned()))
            }
            None => (SignalState::Agrees, None),
        }
    }
}

fn exchange_note(exchanging: bool) -> Option<String> {
    exchanging.then(|| "protons that exchange are often broad or missing".to_owned())
}

/// The entries of a region as a journal writes them.
pub(super) fn texts(region: &Region, product: &Product) -> String {
    let texts: Vec<String> = region.signals.iter().map(|&s| text(&product.signals[s])).collect();
    texts.join(" + ")
}

/// The entry as a journal writes it.
fn text(signal: &ExpectedSignal) -> String {
    let (high, low) = (signal.range.high.0, signal.range.low.0);
    let place = if high - low < 1e-9 { format!("{high:.2}") } else { format!("{high:.2}-{low:.2}") };
    let mut inner: Vec<String> = Vec::new();
    if let Some(m) = &signal.multiplicity {
        inner.push(m.to_string());
    }
    if !signal.couplings.is_empty() {
        let list: Vec<String> = signal.couplings.iter().map(|j| format!("{:.1}", j.0)).collect();
        inner.push(format!("J = {} Hz", list.join(", ")));
    }
    let protons = (signal.protons * 100.0).round() / 100.0;
    inner.push(format!("{protons}H"));
    format!("{place} ({})", inner.join(", "))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_entry_reads_as_in_the_journal() {
        for entry in [
            "8.79 (s, 1H)",
            "6.66 (dd, J = 8.9, 2.4 Hz, 1H)",
            "7.35-7.20 (m, 5H)",
            "0.88 (t, J = 7.0 Hz, 3H)",
        ] {
            let signals = lees_format::journal::parse(entry).expect("an entry");
            assert_eq!(text(&signals[0]), entry);
        }
    }
}
