//! Settings of the matching.

use std::collections::BTreeMap;

use lees_core::Seconds;
use lees_process::reference::ReferenceSettings;
use serde::{Deserialize, Serialize};

use crate::pattern::answers_to;
use crate::relaxation::{RelaxationSettings, T1};
use crate::standard::WeighedSettings;
use crate::table::Compound;

/// What the chemist may decide about the matching; the defaults need no touching.
///
/// ```
/// let settings = lees_match::Settings::default();
/// assert!(settings.solvent.is_none(), "taken from the file's label, else from the spectrum");
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Settings {
    /// The NMR solvent, overruling the file's label.
    pub solvent: Option<String>,
    /// A named set of limits, such as `ich-q3c`, beside the product's own.
    pub limits: Option<String>,
    /// Whether water counts among the volatiles.
    pub count_water: bool,
    /// Compounds never to be named.
    pub exclude: Vec<String>,
    /// Compounds that were used on the way: as likely as not to be there, as those with a limit of their own.
    pub used: Vec<String>,
    /// Log-evidence from which a compound is named.
    pub least_evidence: f64,
    /// Amount over its noise from which a compound is named.
    pub least_significance: f64,
    /// Setting the shift axis.
    pub reference: ReferenceSettings,
    /// What is assumed of relaxation.
    pub relaxation: RelaxationSettings,
    /// T1 of compounds by name, in seconds, where measured.
    pub t1_s: BTreeMap<String, f64>,
    /// T1 of the product's protons in seconds, where measured.
    pub product_t1_s: Option<f64>,
    /// What is assumed of weighing and of blanks.
    pub weighed: WeighedSettings,
    /// Unexplained signals under this share of one product proton are not listed.
    pub least_unexplained_protons: f64,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            solvent: None,
            limits: None,
            count_water: false,
            exclude: Vec::new(),
            used: Vec::new(),
            least_evidence: crate::assign::search::LEAST_EVIDENCE,
            least_significance: crate::assign::search::LEAST_SIGNIFICANCE,
            reference: ReferenceSettings::default(),
            relaxation: RelaxationSettings::default(),
            t1_s: BTreeMap::new(),
            product_t1_s: None,
            weighed: WeighedSettings::default(),
            least_unexplained_protons: 0.005,
        }
    }
}

/// The range of a product's T1 is that of molecules from this mass on, in g/mol; lighter ones turn faster and relax the more slowly
/// (dimethyl terephthalate, 194 g/mol, in CDCl3: 2.5-3.5 s by the table of internal standards), up to so many times.
const USUAL_MASS: f64 = 400.0;
const LIGHTEST: f64 = 2.0;
/// In this viscous NMR solvent protons may relax so much faster (by the table of internal standards maleic acid has 2.5-3.5 s instead
/// of 6-7 s in D2O, dimethyl sulfone 3-4 s instead of 4-5 s in CDCl3).
const VISCOUS: (&str, f64) = ("DMSO-d6", 0.5);

/// What the shorter end of a range of T1 is multiplied with in an NMR solvent.
fn shortened(solvent: Option<&str>) -> f64 {
    if solvent == Some(VISCOUS.0) { VISCOUS.1 } else { 1.0 }
}

impl Settings {
    /// T1 of a compound in an NMR solvent: as given, else the range to expect.
    pub(crate) fn t1(&self, compound: &Compound, solvent: Option<&str>) -> T1 {
        let given = self.t1_s.iter().find(|(name, _)| answers_to(compound, name)).map(|(_, t1)| *t1);
        let (short, long) = compound.t1;
        given.map_or(T1::Between(Seconds(short.0 * shortened(solvent)), long), |t1| T1::Known(Seconds(t1)))
    }

    /// T1 of a product of some molar mass in an NMR solvent: as given, else the range to expect.
    pub(crate) fn product_t1(&self, molar_mass: Option<f64>, solvent: Option<&str>) -> T1 {
        let range = &self.relaxation;
        let light = molar_mass.map_or(1.0, |mass| (USUAL_MASS / mass).clamp(1.0, LIGHTEST));
        let short = Seconds(range.product_t1_low_s * shortened(solvent));
        let expected = T1::Between(short, Seconds(range.product_t1_high_s * light));
        self.product_t1_s.map_or(expected, |t1| T1::Known(Seconds(t1)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::table::Tables;

    /// By the table of internal standards dimethyl terephthalate, 194 g/mol, has 2.5 to 3.5 s in CDCl3.
    #[test]
    fn light_products_relax_slowly_and_everything_faster_in_dimethyl_sulfoxide() {
        let settings = Settings::default();
        let range = |t1: T1| match t1 {
            T1::Between(short, long) => (short.0, long.0),
            T1::Known(t1) => (t1.0, t1.0),
        };
        let usual = range(settings.product_t1(Some(500.0), Some("CDCl3")));
        assert_eq!(usual, range(settings.product_t1(None, None)));
        assert!(range(settings.product_t1(Some(194.2), Some("CDCl3"))).1 >= 3.5);
        assert!((range(settings.product_t1(Some(40.0), None)).1 - 2.0 * usual.1).abs() < 1e-12);
        assert!((range(settings.product_t1(Some(500.0), Some("DMSO-d6"))).0 - 0.5 * usual.0).abs() < 1e-12);
        let ether = Tables::bundled().compound("diethyl ether").expect("in the table");
        let in_thin = range(settings.t1(ether, Some("CDCl3")));
        let in_thick = range(settings.t1(ether, Some("DMSO-d6")));
        assert_eq!((in_thick.0, in_thick.1), (0.5 * in_thin.0, in_thin.1));
        let given = Settings { product_t1_s: Some(1.2), ..Settings::default() };
        assert_eq!(range(given.product_t1(Some(194.2), Some("DMSO-d6"))), (1.2, 1.2));
    }
}
