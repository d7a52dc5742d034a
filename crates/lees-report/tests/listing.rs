//! The journal line, read back by the reader of journal lines.

mod fixture;

use lees_core::Ppm;
use lees_format::journal;
use lees_report::listing::{ListingStyle, Order, line};

/// The form of the ACS guidelines (J. Org. Chem., Org. Lett.; from memory): nucleus with frequency and solvent, shift
/// to two decimals, pattern, J to one decimal in Hz, protons; solvents and impurities left out.
#[test]
fn the_dye_is_listed_as_papers_print_it() {
    let line = line(&fixture::batch(0.05, "wet.jdx"), &ListingStyle::default()).unwrap();
    assert_eq!(
        line,
        "1H NMR (400 MHz, CDCl3) δ 8.43 (s, 1H), 7.39 (d, J = 9.0 Hz, 1H), 6.62 (dd, J = 9.0, 2.5 Hz, 1H), \
         6.46 (d, J = 2.5 Hz, 1H), 3.45 (q, J = 7.1 Hz, 4H), 2.68 (s, 3H), 1.24 (t, J = 7.1 Hz, 6H)."
    );
}

#[test]
fn every_style_reads_back_equal() {
    let check = fixture::batch(0.05, "wet.jdx");
    let styles = [
        ListingStyle::default(),
        ListingStyle { order: Order::ProtonsFirst, ..ListingStyle::default() },
        ListingStyle { heading: false, separator: "; ".to_owned(), ..ListingStyle::default() },
        ListingStyle {
            descending: false,
            dash: "-".to_owned(),
            shift_decimals: 3,
            ..ListingStyle::default()
        },
    ];
    for style in styles {
        let line = line(&check, &style).unwrap();
        let mut read = journal::parse(&line).unwrap_or_else(|error| panic!("{line}\n{error}"));
        read.sort_by(|a, b| b.range.high.0.total_cmp(&a.range.high.0));
        assert_eq!(read.len(), fixture::dye().len(), "{line}");
        for (signal, dye) in read.iter().zip(fixture::dye()) {
            assert!((signal.range.centre().0 - dye.shift).abs() < 0.0051, "{line}");
            assert_eq!(signal.protons, dye.protons, "{line}");
            assert_eq!(signal.multiplicity, Some(dye.multiplicity()), "{line}");
            let j: Vec<f64> = signal.couplings.iter().map(|j| j.0).collect();
            assert_eq!(j, dye.couplings.iter().map(|c| c.0).collect::<Vec<_>>(), "{line}");
        }
    }
}

#[test]
fn unresolved_stretches_become_a_range() {
    let mut check = fixture::batch(0.05, "wet.jdx");
    let product = check.product.as_mut().unwrap();
    product.signals[2].range.low = Ppm(6.40);
    product.signals[2].found_protons = Some(fixture::estimate(2.02, 0.02));
    product.signals.remove(3);
    let text = line(&check, &ListingStyle::default()).unwrap();
    assert!(text.contains("6.64\u{2013}6.45 (m, 2H)"), "{text}");
    let ascending = ListingStyle { ranges_descend: false, dash: "-".to_owned(), ..ListingStyle::default() };
    let text = line(&check, &ascending).unwrap();
    assert!(text.contains("6.45-6.64 (m, 2H)"), "{text}");
    let read = journal::parse(&text).unwrap();
    assert_eq!((read[2].range.high, read[2].range.low), (Ppm(6.64), Ppm(6.45)));
}

#[test]
fn solvents_are_named_apart() {
    let style = ListingStyle { residuals: true, ..ListingStyle::default() };
    let text = line(&fixture::batch(0.05, "wet.jdx"), &style).unwrap();
    let (listing, sentence) = text.split_once("Residual solvents seen: ").unwrap();
    assert!(!listing.contains("4.04") && !listing.contains("5.30") && !listing.contains("7.26"), "{text}");
    assert!(sentence.starts_with("2-propanol (1.146 wt%, δ 4.04, 1.22), dichloromethane"), "{text}");
    let mut open = fixture::batch(0.05, "wet.jdx");
    open.volatiles[0].rivals =
        vec![lees_core::check::Rival { name: "diethyl ether".to_owned(), wt_percent: None }];
    let text = line(&open, &style).unwrap();
    assert!(text.contains("2-propanol or diethyl ether (1.146 wt%, δ"), "{text}");
}

#[test]
fn without_product_the_protons_must_be_given() {
    let mut check = fixture::batch(0.001, "wet.jdx");
    check.product = None;
    let error = line(&check, &ListingStyle::default()).unwrap_err();
    assert!(error.to_string().contains("proton counts"), "{error}");
    let style = ListingStyle { total_protons: Some(17.0), ..ListingStyle::default() };
    let text = line(&check, &style).unwrap();
    assert!(text.contains("8.43 (s, 1H)") && text.contains("3.45 (q, J = 7.1 Hz, 4H)"), "{text}");
}
