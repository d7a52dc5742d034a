//! A standard in the tube: from its signals and the weighed masses to the product's mass fraction.

use lees_core::check::{AbsolutePurity, Check, Estimate, Finding, FoundSignal, LimitStatus, NotCounted};
use lees_core::{Acquisition, Product, Seconds};
use serde::{Deserialize, Serialize};

use super::find::{Found, Seen, find};
use super::{Side, Weighing, absolute_purity};
use crate::MatchError;
use crate::fit::scene::Scene;
use crate::interval::nonnegative;
use crate::product::Described;
use crate::relaxation::{T1, Timing, corrected, warning};
use crate::settings::Settings;
use crate::table::{NmrSolvent, Standard, StandardSignal, Tables, plain_name};
use crate::uncertainty::Effect;

/// What an internal standard's entry among the things not counted says.
const WHY: &str = "internal standard, weighed in";
/// T1 to expect of a standard's protons when the table gives none, in seconds (common practice, no source).
const USUAL_T1: (f64, f64) = (1.5, 8.0);

/// An internal standard that was weighed into the sample.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct InternalStandard {
    /// Its name in the tables.
    pub name: String,
    /// The masses and the standard's purity.
    pub weighing: Weighing,
}

/// The standard in one spectrum.
pub(crate) struct Tube<'a> {
    given: &'a InternalStandard,
    standard: &'a Standard,
    solvent: &'a str,
    found: Found,
}

impl<'a> Tube<'a> {
    /// Finds the standard and sets its lines aside; the product as measured before says how large they must be.
    ///
    /// # Errors
    /// When the standard is in no table.
    pub(crate) fn find(
        given: &'a InternalStandard,
        tables: &'a Tables,
        solvent: Option<&'a NmrSolvent>,
        described: Option<&Described>,
        product: Option<&Product>,
        scene: &mut Scene<'_>,
    ) -> Result<Self, MatchError> {
        let standard = tables.require_standard(&given.name)?;
        let mut tube = Self { given, standard, solvent: "", found: Found::default() };
        let measured = described.and_then(|d| Some((d, d.per_proton.as_ref()?.value)));
        match (solvent, product.zip(measured)) {
            (Some(solvent), Some((product, (described, per_proton)))) => {
                tube.solvent = &solvent.name;
                let weighed = &given.weighing;
                let pure = per_proton * weighed.standard_mg / weighed.sample_mg
                    * weighed.standard_purity
                    * product.molar_mass
                    / standard.molar_mass;
                tube.found = find(scene, standard, solvent, &described.regions, pure);
            }
            (None, _) => tube.found.warnings.push("the NMR solvent is not known".to_owned()),
            (_, None) => tube.found.warnings.push("no signal of the product could be measured".to_owned()),
        }
        Ok(tube)
    }

    /// Whether a compound of the tables is this standard.
    pub(crate) fn is(&self, name: &str) -> bool {
        let plain = plain_name(name);
        std::iter::once(&self.standard.name).chain(&self.standard.aliases).any(|own| plain_name(own) == plain)
    }

    /// Writes purity, the standard's own entry and what went wrong into the result.
    ///
    /// # Errors
    /// When a weighed number cannot be meant.
    pub(crate) fn report(
        &self,
        check: &mut Check,
        product: Option<&Product>,
        described: Option<&Described>,
        settings: &Settings,
        acquisition: &Acquisition,
    ) -> Result<(), MatchError> {
        let measured = described.and_then(|d| d.per_proton.as_ref()).map(|p| (p.value, p.u / p.value));
        if let (Some(product), Some(own), Some(standard)) = (product, measured, self.found.per_proton) {
            let side = |side: (f64, f64), molar_mass| Side {
                area_per_proton: side.0,
                relative_u: side.1,
                molar_mass,
            };
            let relaxed = self.relaxation(settings, acquisition, Some(product));
            let purity = absolute_purity(
                side(own, product.molar_mass),
                side((standard.0 * relaxed.0, standard.1), self.standard.molar_mass),
                &self.given.weighing,
                (&self.standard.name, &self.signals()),
                &relaxed.1,
            )?;
            check.warnings.extend(relaxed.2);
            check.warnings.extend(too_pure(&purity));
            check.warnings.extend(too_much(&purity, check.total.wt_percent.as_ref()));
            check.not_counted.push(self.entry(standard, own));
            check.purity = Some(purity);
        } else {
            check.warnings.push(format!(
                "no purity: {0} could not be measured against the product; what is named or unexplained below may be {0}",
                self.standard.name
            ));
        }
        check.warnings.extend(self.found.warnings.iter().cloned());
        check.warnings.extend(self.unplaced(check));
        Ok(())
    }

    /// Protons of the standard that show nobody knows where.
    fn unplaced(&self, check: &Check) -> Option<String> {
        let (open, all) = (self.standard.unplaced(self.solvent), self.standard.formula.count("H"));
        let something = !check.volatiles.is_empty() || !check.unexplained.is_empty();
        (open > 0 && something && self.found.per_proton.is_some()).then(|| {
            format!(
                "{open} of the {all} protons of {} have no place in the table for {}: what is named or unexplained may be theirs",
                self.standard.name, self.solvent
            )
        })
    }

    /// Factor on the standard's area, what stays open, and the sentence about it.
    fn relaxation(
        &self,
        settings: &Settings,
        acquisition: &Acquisition,
        product: Option<&Product>,
    ) -> (f64, Vec<Effect>, Option<String>) {
        let timing = Timing::of(acquisition, &settings.relaxation);
        let given =
            settings.t1_s.iter().find(|(name, _)| self.is(name)).map(|(_, t1)| T1::Known(Seconds(*t1)));
        let own = given.unwrap_or_else(|| self.tabulated_t1());
        let found = corrected(
            &timing,
            "standard",
            own,
            settings.product_t1(product.map(|p| p.molar_mass), Some(self.solvent)),
        );
        let said = warning(&self.standard.name, &timing, &found, &settings.relaxation);
        (found.factor, found.effects, said)
    }

    /// The range over all signals used.
    fn tabulated_t1(&self) -> T1 {
        let used = |signal: &&StandardSignal| self.found.seen.iter().any(|s| s.used && s.name == signal.name);
        let ranges = self
            .standard
            .signals
            .iter()
            .filter(used)
            .filter_map(|signal| t1_range(signal.t1_s.as_deref()?, self.solvent));
        let wide = ranges.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1))).unwrap_or(USUAL_T1);
        T1::Between(Seconds(wide.0), Seconds(wide.1))
    }

    fn signals(&self) -> String {
        let used = self.found.seen.iter().filter(|s| s.used);
        used.map(|s| format!("{} at {:.2} ppm", s.name, s.shift.0)).collect::<Vec<_>>().join(", ")
    }

    /// The standard as something seen that is no volatile of the batch.
    fn entry(&self, standard: (f64, f64), product: (f64, f64)) -> NotCounted {
        let ratio = standard.0 / product.0;
        let finding = Finding {
            name: self.standard.name.clone(),
            cas: Some(self.standard.cas.clone()).filter(|cas| !cas.is_empty()),
            molar_mass: Some(self.standard.molar_mass),
            mole_ratio: Some(nonnegative(ratio, ratio * libm::hypot(standard.1, product.1))),
            mol_percent: None,
            wt_percent: None,
            detection_limit_wt_percent: None,
            limit_wt_percent: None,
            status: LimitStatus::NoLimit,
            conformance: None,
            signals: self.found.seen.iter().map(signal).collect(),
            evidence: f64::INFINITY,
            rivals: Vec::new(),
            budget: Vec::new(),
        };
        NotCounted { finding, why: WHY.to_owned() }
    }
}

fn signal(seen: &Seen) -> FoundSignal {
    FoundSignal {
        group: seen.name.clone(),
        shift: seen.shift,
        range: seen.range,
        protons: Some(seen.protons),
        multiplicity: seen.multiplicity.clone(),
        area: Some(seen.area),
        used: seen.used,
        note: seen.note.clone(),
    }
}

/// A purity whose whole interval lies over 100 % says that a mass, a formula or a signal is wrong.
fn too_pure(purity: &AbsolutePurity) -> Option<String> {
    let Estimate { value, low, .. } = purity.wt_percent;
    (low > 100.0).then(|| {
        format!(
            "a purity of {value:.1} wt% cannot be: check both masses, the molar masses, and whether something lies under the product's signals"
        )
    })
}

/// Product and volatiles are parts of one weighed sample.
fn too_much(purity: &AbsolutePurity, volatiles: Option<&Estimate>) -> Option<String> {
    let share = |wt_percent: f64| (1.0 - wt_percent / 100.0).max(f64::EPSILON);
    let volatiles = volatiles.filter(|v| v.low > 0.0 && v.value < 100.0)?;
    let least = purity.wt_percent.low / share(volatiles.low);
    (least > 100.0 && purity.wt_percent.low <= 100.0).then(|| {
        format!(
            "product and volatiles together come to {:.1} % of the weighed sample, which cannot be: check both masses",
            purity.wt_percent.value / share(volatiles.value)
        )
    })
}

/// The T1 range, in seconds, that a cell such as `D2O 6-7; DMSO-d6 <6` or `2.5-3.5 (all)` gives for an NMR solvent.
fn t1_range(cell: &str, solvent: &str) -> Option<(f64, f64)> {
    let part = cell
        .split(';')
        .map(str::trim)
        .find_map(|part| part.strip_prefix(solvent).or_else(|| part.strip_suffix("(all)")))?;
    let part = part.trim();
    if let Some(most) = part.strip_prefix('<') {
        let most: f64 = most.trim().parse().ok()?;
        return Some((most / 2.0, most));
    }
    let (low, high) = part.split_once('-')?;
    Some((low.trim().parse().ok()?, high.trim().parse().ok()?))
}

#[cfg(test)]
mod tests {
    use super::{t1_range, too_much};
    use crate::table::Tables;
    use lees_core::check::{AbsolutePurity, Estimate};

    #[test]
    fn product_and_volatiles_are_no_more_than_the_whole_sample() {
        let estimate =
            |value: f64, half: f64| Estimate { value, low: value - half, high: value + half, u: half / 2.0 };
        let purity = |value, half| AbsolutePurity {
            standard: "dimethyl sulfone".to_owned(),
            standard_signal: "CH3 (2.99)".to_owned(),
            wt_percent: estimate(value, half),
            budget: Vec::new(),
        };
        // 98.5 / 0.975 is over 100 even at the low ends; the best values come to 99 / 0.97
        let said = too_much(&purity(99.0, 0.5), Some(&estimate(3.0, 0.5))).unwrap();
        assert!(said.contains("come to 102.1 % of the weighed sample"), "{said}");
        assert_eq!(too_much(&purity(99.0, 0.5), Some(&estimate(0.5, 0.2))), None, "within the uncertainty");
        assert_eq!(
            too_much(&purity(102.0, 0.5), Some(&estimate(3.0, 0.5))),
            None,
            "said of the purity itself"
        );
        assert_eq!(too_much(&purity(99.0, 0.5), None), None);
    }

    #[test]
    fn relaxation_cells_are_read_as_they_are_written() {
        let cell = "D2O 6-7; DMSO-d6 <6; CD3OD 2.5-3.5";
        assert_eq!(t1_range(cell, "D2O"), Some((6.0, 7.0)));
        assert_eq!(t1_range(cell, "DMSO-d6"), Some((3.0, 6.0)));
        assert_eq!(t1_range(cell, "CDCl3"), None);
        assert_eq!(t1_range("2.5-3.5 (all)", "CDCl3"), Some((2.5, 3.5)));
    }

    #[test]
    fn every_bundled_cell_that_names_a_solvent_is_understood() {
        for signal in Tables::bundled().standards().iter().flat_map(|s| &s.signals) {
            let Some(cell) = &signal.t1_s else { continue };
            for solvent in ["CDCl3", "DMSO-d6", "D2O", "CD3OD"].iter().filter(|s| cell.contains(**s)) {
                let (low, high) = t1_range(cell, solvent).unwrap();
                assert!(0.0 < low && low < high && high < 20.0, "{cell}");
            }
        }
    }
}
