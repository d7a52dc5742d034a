//! What may be there although it was not found: absence is known only down to a detection limit.

use lees_core::check::{Check, Contribution, Estimate, NotFound};

/// The cause of a content's uncertainty that lies in what was not found.
const UNSEEN: &str = "volatiles that may be there unseen";
/// Contributions under this, in %, are not told.
const LEAST_TOLD: f64 = 0.01;

/// So many volatiles may be there unseen at once: of all that are usual, few were used (chosen on simulated samples).
const AT_ONCE: usize = 2;

/// How far the usual volatiles could hide.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Unseen {
    /// The content, in wt%, that usual volatiles not found could have: the two that could have most, in quadrature.
    pub reach: f64,
    /// What other alkanes beside a named one may bring, in wt%.
    pub alkanes: f64,
    /// Usual volatiles that could not be looked for at all.
    pub hidden: Vec<String>,
    /// The total as measured, without what may be unseen; `None` when nothing could be looked for.
    pub measured: Option<Estimate>,
}

impl Unseen {
    /// From a result whose total is still what was found alone.
    pub(crate) fn of(check: &Check) -> Self {
        let usual = || check.not_found.iter().filter(|entry| entry.usual);
        let mut most: Vec<f64> = usual().filter_map(|entry| entry.at_most_wt_percent).collect();
        most.sort_by(|a, b| b.total_cmp(a));
        let reach = most.iter().take(AT_ONCE).fold(0.0, |sum: f64, most| libm::hypot(sum, *most));
        let blind = |entry: &&NotFound| entry.at_most_wt_percent.is_none();
        let hidden = usual().filter(blind).map(|entry| entry.name.clone()).collect();
        let described = check.product.as_ref().is_some_and(|product| product.area_per_proton.is_some());
        let looked_for = check.input.solvent.is_some();
        let nothing = Estimate { value: 0.0, low: 0.0, high: 0.0, u: 0.0 };
        let measured = (described && looked_for).then(|| check.total.wt_percent.unwrap_or(nothing));
        let alkanes = alkanes(check, measured.map_or(0.0, |total| total.value));
        Self { reach, alkanes, hidden, measured }
    }

    /// The total with its upper end as far as usual volatiles could go unseen; `None` without a measured product.
    ///
    /// With nothing found the value is 0 and the interval runs from 0 to what could be unseen; beside findings the
    /// two ranges, being independent, add in quadrature. Other alkanes beside a named one are seen, and come on top.
    pub(crate) fn total(&self) -> Option<Estimate> {
        self.measured.map(|found| {
            let high = found.value + libm::hypot(found.high - found.value, self.reach) + self.alkanes;
            let high = high.min(100.0);
            // anything from none to the most possible is as likely: a rectangular law (JCGM 100:2008, 4.3.7)
            let u = libm::hypot(libm::hypot(found.u, self.reach / 12f64.sqrt()), self.alkanes / 12f64.sqrt());
            Estimate { high, u, ..found }
        })
    }

    /// Lowers the lower ends of the contents by mass: the sample is heavier by what may be there unseen.
    pub(crate) fn dilute(&self, check: &mut Check) {
        let most = self.reach.min(100.0) / 100.0;
        if most <= 0.0 {
            return;
        }
        // anything from none to the most possible is as likely: a rectangular law (JCGM 100:2008, 4.3.7)
        let relative = most / 12f64.sqrt();
        let others = check.not_counted.iter_mut().map(|entry| &mut entry.finding);
        for finding in check.volatiles.iter_mut().chain(others) {
            let Some(content) = &mut finding.wt_percent else { continue };
            content.low =
                (content.value - libm::hypot(content.value - content.low, content.value * most)).max(0.0);
            content.u = libm::hypot(content.u, content.value * relative);
            if 100.0 * relative >= LEAST_TOLD {
                finding.budget.push(Contribution {
                    source: UNSEEN.to_owned(),
                    percent: 100.0 * relative,
                    remedy: "more scans or another NMR solvent".to_owned(),
                });
                finding.budget.sort_by(|a, b| b.percent.total_cmp(&a.percent));
            }
        }
    }

    /// Whether only what may be unseen keeps the total from being under a limit, in wt%.
    pub(crate) fn decides(&self, limit: f64) -> bool {
        self.measured.is_some_and(|found| found.high <= limit)
    }

    /// The usual volatiles that could lift the total over a limit by hiding, with how far each could; that which could hide
    /// furthest is always among them.
    pub(crate) fn suspects(&self, not_found: &[NotFound], limit: f64) -> Vec<(String, f64)> {
        let alkanes = (self.alkanes > 0.0).then(|| (OTHER_ALKANES.to_owned(), self.alkanes));
        let room = limit - self.measured.map_or(0.0, |found| found.value);
        let each: Vec<(String, f64)> = not_found
            .iter()
            .filter(|entry| entry.usual)
            .filter_map(|entry| Some((entry.name.clone(), entry.at_most_wt_percent?)))
            .chain(alkanes)
            .collect();
        let furthest = each.iter().fold(0.0, |most: f64, (_, seen)| most.max(*seen));
        let matters = MATTERS * if room > 0.0 { room.min(furthest) } else { furthest };
        let mut all: Vec<_> = each.into_iter().filter(|(_, seen)| *seen >= matters).collect();
        all.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        all
    }
}

/// Mass of alkanes by one of their protons, in g/mol: half of CH2 (IUPAC atomic weights 2021, abridged).
const CH2_HALF: f64 = 14.027 / 2.0;
/// What they are called.
const OTHER_ALKANES: &str = "other alkanes beside the named one";

/// Content in wt% that unexplained alkanes would have beside a total.
fn alkanes(check: &Check, total: f64) -> f64 {
    let Some(product) = &check.product else { return 0.0 };
    let signals = check.unexplained.iter().filter(|signal| signal.alkanes);
    let protons: f64 = signals.filter_map(|signal| signal.relative_protons).map(|e| e.value).sum();
    let sample = product.molar_mass / (1.0 - total / 100.0).max(f64::MIN_POSITIVE);
    100.0 * protons * CH2_HALF / (sample + protons * CH2_HALF)
}

/// A volatile that could hide at least this share of what is left below the limit, or of the furthest, is worth naming.
const MATTERS: f64 = 0.8;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::table::Tables;
    use crate::{Settings, identify};
    use lees_core::{ExpectedSignal, LimitSet, Measurement, Ppm, Product, ShiftRange};
    use lees_process::{Workspace, process};
    use lees_spin::simulate::{Recipe, simulate};

    /// With up to 10 wt% unseen a content may be a tenth less of the sample; 10 / sqrt 12 is the standard deviation of anything up to 10.
    #[test]
    fn what_may_be_unseen_makes_contents_smaller() {
        let made = Measurement::Spectrum(simulate(&Recipe::wet_dye()).expect("a sound recipe").spectrum);
        let done = process(&made, &Default::default(), &mut Workspace::new()).expect("a spectrum");
        let methyls = ExpectedSignal {
            range: ShiftRange::new(Ppm(1.25), Ppm(1.25)),
            multiplicity: None,
            couplings: Vec::new(),
            protons: 6.0,
            assignment: None,
        };
        let dye = Product {
            name: "dye".to_owned(),
            formula: None,
            molar_mass: 296.4,
            signals: vec![methyls],
            nmr_solvent: None,
            quantify: Vec::new(),
            limits: LimitSet::default(),
        };
        let mut check =
            identify(&done, Some(&dye), Tables::bundled(), &Settings::default()).expect("a result");
        let before = check.volatiles[0].wt_percent.expect("measured");
        Unseen { reach: 10.0, ..Unseen::default() }.dilute(&mut check);
        let after = check.volatiles[0].wt_percent.expect("measured");
        let lower = before.value - libm::hypot(before.value - before.low, 0.1 * before.value);
        assert!((after.low - lower).abs() < 1e-12, "{after:?} after {before:?}");
        assert_eq!((after.value, after.high), (before.value, before.high));
        let told = check.volatiles[0].budget.iter().filter(|entry| entry.source == UNSEEN);
        let percents: Vec<f64> = told.map(|entry| entry.percent).collect();
        assert!(percents.iter().any(|percent| (percent - 10.0 / 12f64.sqrt()).abs() < 1e-9), "{percents:?}");
    }
}
