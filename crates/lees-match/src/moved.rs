//! Protons of the product that exchange wander with concentration and water: a signal that nothing answers for may be one that is missing.

use lees_core::check::{ProductFound, ProductSignal, SignalState, Unexplained};

/// A wandered signal has the protons of the missing one within this share.
const SAME_PROTONS: f64 = 0.3;
/// It stands within this of the described place, in ppm (OH, NH and COOH between dilute and neat; common practice, no source).
const WANDERS: f64 = 3.0;

/// Says of each unexplained signal when it has as many protons as an exchanging signal of the product that is missing.
pub(crate) fn tell(product: &ProductFound, unexplained: &mut [Unexplained]) {
    for missing in product.signals.iter().filter(|s| s.state == SignalState::Missing && exchanges(s)) {
        let fits = |signal: &&mut Unexplained| {
            let far = (signal.shift - missing.range.centre()).0.abs();
            let same = |protons: f64| (protons - missing.protons).abs() < SAME_PROTONS * missing.protons;
            far < WANDERS && signal.relative_protons.is_some_and(|p| same(p.value))
        };
        let mut fitting: Vec<&mut Unexplained> = unexplained.iter_mut().filter(fits).collect();
        if let [only] = &mut fitting[..] {
            only.note = Some(format!(
                "as many protons as the product's {}, which is missing: moved by exchange?",
                missing.text
            ));
        }
    }
}

/// Whether a signal was described as broad.
fn exchanges(signal: &ProductSignal) -> bool {
    signal.text.contains("(br")
}

#[cfg(test)]
mod tests {
    use super::*;
    use lees_core::check::Estimate;
    use lees_core::{Multiplicity, Ppm, ShiftRange};

    fn acid(text: &str, state: SignalState) -> ProductFound {
        let range = ShiftRange::new(Ppm(11.5), Ppm(11.5));
        let signal = ProductSignal {
            range,
            text: text.to_owned(),
            protons: 1.0,
            found_protons: None,
            used: false,
            state,
            note: None,
        };
        ProductFound {
            name: "acid".to_owned(),
            formula: None,
            molar_mass: 206.28,
            signals: vec![signal],
            relative_u: None,
            area_per_proton: None,
        }
    }

    fn left(at: f64, protons: f64) -> Unexplained {
        Unexplained {
            shift: Ppm(at),
            range: ShiftRange::new(Ppm(at), Ppm(at)),
            multiplicity: Multiplicity::singlet(),
            relative_protons: Some(Estimate { value: protons, low: protons, high: protons, u: 0.02 }),
            area: protons,
            note: None,
            alkanes: false,
        }
    }

    #[test]
    fn a_lone_signal_of_as_many_protons_may_be_the_missing_one() {
        let told = |text: &str, state: SignalState, mut signals: Vec<Unexplained>| {
            tell(&acid(text, state), &mut signals);
            signals.iter().map(|s| s.note.is_some()).collect::<Vec<bool>>()
        };
        let (broad, gone) = ("11.50 (br s, 1H)", SignalState::Missing);
        assert_eq!(told(broad, gone, vec![left(10.51, 1.02), left(1.26, 0.48)]), [true, false]);
        assert_eq!(told(broad, gone, vec![left(10.51, 0.5)]), [false], "half a proton");
        assert_eq!(told(broad, gone, vec![left(1.26, 1.0)]), [false], "too far");
        assert_eq!(told(broad, gone, vec![left(10.5, 1.0), left(9.7, 1.1)]), [false, false], "either");
        assert_eq!(told("11.50 (s, 1H)", gone, vec![left(10.51, 1.0)]), [false], "not said to exchange");
        assert_eq!(told(broad, SignalState::Agrees, vec![left(10.51, 1.0)]), [false], "not missing");
    }
}
