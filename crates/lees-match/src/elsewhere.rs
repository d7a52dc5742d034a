//! Whether the product stands where it was described at all.

use lees_core::check::{ProductFound, ProductSignal, Unexplained};

use crate::digits::content;

/// A product's signal is as expected within this share of its protons.
const TOLERANCE: f64 = 0.2;
/// The product is elsewhere when more than this share of its protons is left unexplained.
const LEAST_LEFT: f64 = 0.5;
/// So many times the product's protons left unexplained, the product is not the main component of the sample.
const MOST_LEFT: f64 = 10.0;

/// Why the product does not stand where it was described: most of its signals are not as expected and much is left
/// unexplained, or so much is left that what was measured is no main component. It is something else.
pub(crate) fn elsewhere(product: &ProductFound, unexplained: &[Unexplained]) -> Option<String> {
    let left: f64 = unexplained.iter().filter_map(|u| u.relative_protons).map(|e| e.value).sum();
    let protons: f64 = product.signals.iter().map(|s| s.protons).sum();
    let as_expected = |s: &&ProductSignal| {
        s.found_protons.is_some_and(|e| (e.value - s.protons).abs() < TOLERANCE * s.protons)
    };
    let good = product.signals.iter().filter(as_expected).count();
    if left > MOST_LEFT * protons {
        let times = content(left / protons);
        return Some(format!(
            "what is left unexplained has {times} times as many protons as what stands there"
        ));
    }
    let few = left > LEAST_LEFT * protons && 2 * good < product.signals.len();
    few.then(|| "most of its signals are not as expected, and much is left unexplained".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;
    use lees_core::check::{Estimate, SignalState};
    use lees_core::{Multiplicity, Ppm, ShiftRange};

    /// A tert-butyl group of which so many protons were found, and so many of something else.
    fn butyl(found: f64, left: f64) -> (ProductFound, [Unexplained; 1]) {
        let range = ShiftRange::new(Ppm(1.4), Ppm(1.4));
        let about = |value: f64| Estimate { value, low: value, high: value, u: 0.01 };
        let product = ProductFound {
            name: "ester".to_owned(),
            formula: None,
            molar_mass: 200.0,
            signals: vec![ProductSignal {
                range,
                text: String::new(),
                protons: 9.0,
                found_protons: Some(about(found)),
                used: true,
                state: SignalState::Agrees,
                note: None,
            }],
            relative_u: None,
            area_per_proton: None,
        };
        let left = Unexplained {
            shift: Ppm(3.0),
            range,
            multiplicity: Multiplicity::singlet(),
            relative_protons: Some(about(left)),
            area: left,
            note: None,
            alkanes: false,
        };
        (product, [left])
    }

    /// A tert-butyl group of which all, most or a third was found, beside the larger part of another compound.
    #[test]
    fn a_product_whose_signals_have_their_protons_stands_where_it_was_described() {
        let product = |found: f64| butyl(found, 6.0).0;
        let left = butyl(9.0, 6.0).1;
        assert_eq!(elsewhere(&product(9.0), &left), None);
        assert_eq!(elsewhere(&product(8.0), &left), None, "a ninth less is within what integrals err by");
        assert!(elsewhere(&product(3.0), &left).is_some_and(|why| why.contains("not as expected")));
        assert_eq!(elsewhere(&product(3.0), &[]), None, "nothing else is there");
    }

    /// The place of a product's only signal holds next to nothing, so that its own area is its own measure.
    #[test]
    fn what_has_far_fewer_protons_than_all_else_is_not_the_product() {
        let (product, left) = butyl(9.0, 2000.0);
        let why = elsewhere(&product, &left).expect("it is something else");
        assert!(why.contains("222 times as many protons"), "{why}");
        let (product, left) = butyl(9.0, 30.0);
        assert_eq!(elsewhere(&product, &left), None, "a batch with three times as much of something unknown");
    }
}
