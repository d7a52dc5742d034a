//! Which lines the shift axis may rest on: not the product's own, and TMS before a residual line that wanders.

use lees_core::{Ppm, Product, ShiftAxis};
use lees_process::reference::ReferenceFound;

use super::WORTH_A_WORD;
use crate::table::NmrSolvent;

/// The product's signals and TMS agree on the axis within this, in ppm: journals round to 0.01 ppm.
const STANDARD_AGREES: f64 = 0.01;
/// A line this near to the outermost lines of a product's signal, in ppm, is among them.
const OWN_ROOM: f64 = 0.006;
/// An axis may be off by so much, in ppm, when it is asked what it reaches.
const ROOM: f64 = 0.1;

/// Whether a line stands within one of the product's signals: it is that signal's, whatever else is expected there.
pub(super) fn is_of_product(product: &Product, place: Ppm, axis: ShiftAxis) -> bool {
    product.signals.iter().any(|signal| {
        let half = 0.5 * signal.couplings.iter().map(|j| j.0).sum::<f64>() / axis.field().0;
        let range = signal.range.widened(Ppm(half + OWN_ROOM));
        range.low.0 < place.0 && place.0 < range.high.0
    })
}

/// TMS instead of the residual line where the product stands by TMS as described and by the residual line beside: in a concentrated
/// or basic sample the residual line wanders, TMS does not.
pub(super) fn by_standard(found: ReferenceFound, by_product: Option<Ppm>) -> ReferenceFound {
    let standard = found.agreeing.iter().position(|name| name == "TMS").and_then(|k| found.seen.get(k));
    let told = standard.zip(by_product).map(|((expected, seen), own)| (*expected, *seen, own));
    let Some((expected, observed, own)) = told else { return found };
    let offset = expected - observed;
    let beside = (found.offset - own).0.abs() > WORTH_A_WORD;
    if !beside || (offset - own).0.abs() > STANDARD_AGREES {
        return found;
    }
    ReferenceFound { name: "TMS".to_owned(), expected, observed, offset, ..found }
}

/// Whether no residual line of a solvent lies in the recorded range.
pub(super) fn is_outside(solvent: &NmrSolvent, axis: ShiftAxis) -> bool {
    let (high, low) = (axis.first(), axis.last());
    !solvent.residual.is_empty()
        && solvent.residual.iter().all(|line| line.shift.0 > high.0 + ROOM || line.shift.0 < low.0 - ROOM)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::table::Tables;
    use lees_core::{ExpectedSignal, Hertz, LimitSet, Megahertz, ShiftRange};

    fn axis(first: f64, last: f64) -> ShiftAxis {
        ShiftAxis::new(Ppm(first), Ppm(last), 16_384, Megahertz(400.0)).expect("falls")
    }

    #[test]
    fn a_line_of_the_product_s_multiplet_is_the_product_s() {
        let signal = |at: f64, couplings: &[f64]| ExpectedSignal {
            range: ShiftRange::new(Ppm(at), Ppm(at)),
            multiplicity: "dd".parse().ok(),
            couplings: couplings.iter().map(|j| Hertz(*j)).collect(),
            protons: 2.0,
            assignment: None,
        };
        let product = Product {
            name: "amine".to_owned(),
            formula: None,
            molar_mass: 139.17,
            signals: vec![signal(7.30, &[8.6, 5.5])],
            nmr_solvent: None,
            quantify: Vec::new(),
            limits: LimitSet::default(),
        };
        // the outer lines stand 7.05 Hz or 0.0176 ppm from the centre
        for (at, own) in [(7.30, true), (7.283, true), (7.317, true), (7.26, false), (7.33, false)] {
            assert_eq!(is_of_product(&product, Ppm(at), axis(12.0, -2.0)), own, "{at}");
        }
    }

    #[test]
    fn tms_sets_the_axis_where_the_product_agrees_with_it_and_not_with_the_residual_line() {
        let found = |tms: f64| ReferenceFound {
            name: "CHCl3 in CDCl3".to_owned(),
            expected: Ppm(7.26),
            observed: Ppm(7.294),
            offset: Ppm(-0.034),
            offset_u: Ppm(0.0002),
            agreeing: vec!["CHCl3 in CDCl3".to_owned(), "TMS".to_owned()],
            seen: vec![(Ppm(7.26), Ppm(7.294)), (Ppm(0.0), Ppm(tms))],
            evidence: 9.0,
            lead: 9.0,
        };
        let set = |tms: f64, own: Option<f64>| by_standard(found(tms), own.map(Ppm)).offset.0;
        assert!((set(0.002, Some(0.0)) + 0.002).abs() < 1e-9, "TMS");
        assert!((set(0.002, Some(-0.030)) + 0.034).abs() < 1e-9, "the product agrees with CHCl3");
        assert!((set(0.002, None) + 0.034).abs() < 1e-9, "the product does not tell");
        assert!((set(0.060, Some(0.0)) + 0.034).abs() < 1e-9, "the product agrees with neither");
        assert_eq!(by_standard(found(0.002), Some(Ppm(0.0))).name, "TMS");
    }

    #[test]
    fn a_narrow_range_does_not_reach_the_residual_line() {
        let solvent = |name: &str| Tables::bundled().nmr_solvent(name).expect("tabulated");
        assert!(is_outside(solvent("CDCl3"), axis(5.45, 0.19)));
        assert!(!is_outside(solvent("CDCl3"), axis(7.2, 0.19)), "an axis may be off");
        assert!(!is_outside(solvent("DMSO-d6"), axis(5.45, 0.19)));
    }
}
