//! Verdicts on made-up findings: the sentences a chemist reads.

#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use std::collections::BTreeMap;

use lees_core::check::{
    Check, Contribution, Estimate, Finding, Input, InputKind, LimitStatus, NotCounted, NotFound,
    ProductFound, Provenance, Rival, Total, Unexplained, Verdict,
};
use lees_core::{
    Acquisition, LimitSet, Megahertz, Multiplicity, Ppm, SettingMap, ShiftAxis, ShiftRange, Spectrum,
};
use lees_match::interval::nonnegative;
use lees_match::limits::Limits;
use lees_match::table::Tables;
use lees_match::verdict::decide;

fn finding(name: &str, wt_percent: f64, u: f64) -> Finding {
    Finding {
        name: name.to_owned(),
        cas: None,
        molar_mass: Tables::bundled().compound(name).and_then(|c| c.molar_mass),
        mole_ratio: None,
        mol_percent: None,
        wt_percent: Some(nonnegative(wt_percent, u)),
        detection_limit_wt_percent: Some(3.3 * u),
        limit_wt_percent: None,
        status: LimitStatus::NoLimit,
        conformance: None,
        signals: Vec::new(),
        evidence: 50.0,
        rivals: Vec::new(),
        budget: vec![Contribution {
            source: "noise and overlap".to_owned(),
            percent: 100.0 * u / wt_percent,
            remedy: "more scans".to_owned(),
        }],
    }
}

fn total(volatiles: &[Finding]) -> Option<Estimate> {
    let value: f64 = volatiles.iter().filter_map(|f| Some(f.wt_percent?.value)).sum();
    let u: f64 = volatiles.iter().filter_map(|f| Some(f.wt_percent?.u.powi(2))).sum::<f64>().sqrt();
    Some(nonnegative(value, u.max(1e-4)))
}

fn check(volatiles: Vec<Finding>) -> Check {
    let field = Megahertz(400.0);
    let mut acquisition = Acquisition::at_field(field);
    acquisition.scans = Some(16);
    Check {
        input: Input {
            path: String::new(),
            title: String::new(),
            kind: InputKind::Spectrum,
            field,
            solvent: Some("CDCl3".to_owned()),
            points: 2,
            sha256: String::new(),
            acquisition: acquisition.clone(),
        },
        reference: None,
        product: Some(ProductFound {
            name: "dye".to_owned(),
            formula: None,
            molar_mass: 300.0,
            signals: Vec::new(),
            relative_u: Some(0.005),
            area_per_proton: Some(1.0),
        }),
        total: Total { wt_percent: total(&volatiles), limit_wt_percent: None, status: LimitStatus::NoLimit },
        volatiles,
        not_counted: Vec::new(),
        not_found: Vec::new(),
        unexplained: Vec::new(),
        purity: None,
        corrected_yield: None,
        verdict: Verdict::Undecided,
        reasons: Vec::new(),
        advice: Vec::new(),
        cautions: Vec::new(),
        warnings: Vec::new(),
        settings: SettingMap::new(),
        provenance: Provenance { version: String::new(), tables: String::new(), settings: String::new() },
        lines: Vec::new(),
        multiplets: Vec::new(),
        spectrum: Spectrum {
            axis: ShiftAxis::new(Ppm(10.0), Ppm(0.0), 2, field).unwrap(),
            real: vec![0.0, 0.0].into(),
            imaginary: None,
            acquisition,
        },
        noise: 1.0,
    }
}

fn limits(total: Option<&str>, each: &[(&str, &str)], named: Option<&str>) -> Limits {
    let each: BTreeMap<_, _> =
        each.iter().map(|(name, text)| ((*name).to_owned(), text.parse().unwrap())).collect();
    let set = LimitSet { total: total.map(|text| text.parse().unwrap()), each };
    Limits::resolve(&set, named, Tables::bundled()).unwrap()
}

fn absent(name: &str, at_most_wt_percent: Option<f64>) -> NotFound {
    NotFound {
        name: name.to_owned(),
        usual: true,
        detection_limit_wt_percent: at_most_wt_percent,
        at_most_wt_percent,
    }
}

fn decided(mut check: Check, limits: &Limits, not_found: &[NotFound]) -> Check {
    check.not_found = not_found.to_vec();
    decide(&mut check, limits, Tables::bundled());
    check
}

#[test]
fn under_over_and_between() {
    let half = limits(Some("0.5 wt%"), &[], None);
    let dry = decided(check(vec![finding("2-propanol", 0.2, 0.01)]), &half, &[]);
    assert_eq!(dry.verdict, Verdict::Dry);
    assert!(dry.reasons[0].contains("under the limit of 0.500 wt%"), "{:?}", dry.reasons);
    let wet = decided(check(vec![finding("2-propanol", 2.0, 0.05)]), &half, &[]);
    assert_eq!(wet.verdict, Verdict::NeedsDrying);
    assert!(wet.advice[0].contains("2-propanol (boils at 82 °C"), "{:?}", wet.advice);
    assert!(wet.cautions.iter().any(|c| c.contains("2-propanol forms peroxides")), "{:?}", wet.cautions);
    let open = decided(check(vec![finding("2-propanol", 0.48, 0.02)]), &half, &[]);
    assert_eq!(open.verdict, Verdict::Undecided);
    // the interval must shrink from 1.96 x 0.02 to 0.02, that is 3.84 times the scans
    assert!(
        open.reasons[0].contains("about 3.9 times as many scans (62 instead of 16)"),
        "{:?}",
        open.reasons
    );
}

#[test]
fn each_solvent_is_held_to_its_own_limit() {
    let own = limits(None, &[("isopropanol", "0.3 wt%"), ("DCM", "600 ppm")], None);
    let both = vec![finding("2-propanol", 0.1, 0.005), finding("dichloromethane", 0.2, 0.004)];
    let found = decided(check(both), &own, &[]);
    assert_eq!(found.volatiles[0].status, LimitStatus::Below);
    assert_eq!(found.volatiles[1].status, LimitStatus::Above);
    assert!(found.volatiles[0].conformance.unwrap() > 0.999);
    assert!(found.volatiles[1].conformance.unwrap() < 0.001);
    assert_eq!(found.verdict, Verdict::NeedsDrying);
    assert!(found.reasons[0].starts_with("dichloromethane"), "{:?}", found.reasons);
}

/// A volatile without a limit must not slip through.
#[test]
fn an_uncovered_volatile_is_undecided() {
    let own = limits(None, &[("2-propanol", "0.3 wt%")], None);
    let found =
        decided(check(vec![finding("toluene", 5.0, 0.1), finding("2-propanol", 0.1, 0.005)]), &own, &[]);
    assert_eq!(found.verdict, Verdict::Undecided);
    assert!(found.reasons[0].contains("toluene") && found.reasons[0].contains("no limit covers it"));
}

#[test]
fn without_limit_or_product_nothing_is_decided() {
    let found = decided(check(vec![finding("toluene", 0.1, 0.01)]), &Limits::default(), &[]);
    assert_eq!(found.verdict, Verdict::Undecided);
    assert!(found.reasons[0].contains("No limit was given"), "{:?}", found.reasons);
    let mut bare = check(Vec::new());
    bare.product = None;
    bare.total.wt_percent = None;
    let found = decided(bare, &limits(Some("0.5 wt%"), &[], None), &[]);
    assert_eq!(found.verdict, Verdict::Undecided);
    assert!(found.reasons[0].contains("No product was described"), "{:?}", found.reasons);
}

#[test]
fn dry_but_unexplained_is_its_own_sentence() {
    let mut start = check(vec![finding("2-propanol", 0.1, 0.005)]);
    start.unexplained.push(Unexplained {
        shift: Ppm(5.32),
        range: ShiftRange::new(Ppm(5.30), Ppm(5.34)),
        multiplicity: Multiplicity::singlet(),
        relative_protons: Some(nonnegative(0.04, 0.001)),
        area: 3.0,
        note: None,
        alkanes: false,
    });
    let found = decided(start, &limits(Some("0.5 wt%"), &[], None), &[]);
    assert_eq!(found.verdict, Verdict::Dry);
    let text = "Dry, but 1 signal is explained by neither the product nor a known compound (the largest at 5.32 ppm, 0.0400 H";
    assert!(found.reasons.iter().any(|reason| reason.starts_with(text)), "{:?}", found.reasons);
    assert!(found.advice.iter().any(|advice| advice.contains("do not dry off")));
}

/// 0.02 H of other alkanes, CH2 by mass (arithmetic): 0.02 times 7.01 g beside one mole of a product.
#[test]
fn other_alkanes_beside_a_named_one_may_lift_the_total() {
    let mut start = check(vec![finding("n-hexane", 0.1, 0.005)]);
    let molar_mass = start.product.as_ref().expect("a product").molar_mass;
    start.unexplained.push(Unexplained {
        shift: Ppm(0.87),
        range: ShiftRange::new(Ppm(0.80), Ppm(0.95)),
        multiplicity: Multiplicity::multiplet(),
        relative_protons: Some(nonnegative(0.2, 0.01)),
        area: 3.0,
        note: None,
        alkanes: true,
    });
    let extra = 100.0 * 0.2 * 7.01 / molar_mass;
    let found = decided(start, &limits(Some("0.3 wt%"), &[], None), &[]);
    let total = found.total.wt_percent.expect("measured");
    assert!(total.high > 0.1 + 0.95 * extra && total.high < 0.1 + 1.1 * extra, "{total:?} with {extra}");
    assert_eq!(found.verdict, Verdict::Undecided);
    assert!(found.reasons[0].contains("other alkanes"), "{:?}", found.reasons);
}

/// ICH Q3C: the guideline's limits, what they cannot reach, and the sum of xylenes.
#[test]
fn ich_limits_by_name() {
    let ich = limits(None, &[], Some("ich-q3c"));
    let not_found = [absent("benzene", Some(0.01)), absent("ethanol", Some(0.01))];
    let found = decided(check(vec![finding("toluene", 0.03, 0.002)]), &ich, &not_found);
    assert_eq!(found.verdict, Verdict::Dry);
    assert_eq!(found.volatiles[0].limit_wt_percent, Some(0.089));
    let blind = found.cautions.last().unwrap();
    assert!(blind.contains("benzene") && !blind.contains("ethanol"), "{blind}");
    let reason = found.reasons.last().unwrap();
    assert!(reason.starts_with("Dry as far as this spectrum can see: 1 of the guideline's"), "{reason}");
    // each xylene is under 0.217 wt%, their sum over it
    let xylenes = vec![finding("p-xylene", 0.15, 0.002), finding("o-xylene", 0.12, 0.002)];
    let found = decided(check(xylenes), &ich, &[]);
    assert_eq!(found.verdict, Verdict::NeedsDrying);
}

/// An own limit on something not found is met only if it would have been seen.
#[test]
fn what_was_not_found_counts_if_it_would_have_been_seen() {
    let own = limits(None, &[("THF", "0.05 wt%")], None);
    let seen = |wt: f64| [absent("tetrahydrofuran", Some(wt))];
    assert_eq!(decided(check(Vec::new()), &own, &seen(0.02)).verdict, Verdict::Dry);
    let blind = decided(check(Vec::new()), &own, &seen(0.1));
    assert_eq!(blind.verdict, Verdict::Undecided);
    assert!(blind.reasons[0].contains("about 4 times as many scans"), "{:?}", blind.reasons);
}

/// Nothing found is not nothing there: the total reaches up to what could be unseen, two volatiles at once, and that decides.
#[test]
fn nothing_found_is_dry_only_as_far_as_the_spectrum_can_see() {
    let half = limits(Some("0.5 wt%"), &[], None);
    let mut empty = check(Vec::new());
    empty.total.wt_percent = None;
    let seen = [absent("toluene", Some(0.02)), absent("ethyl acetate", Some(0.15))];
    let found = decided(empty.clone(), &half, &seen);
    let total = found.total.wt_percent.unwrap();
    assert_eq!((total.value, total.low), (0.0, 0.0));
    assert!((total.high - libm::hypot(0.15f64, 0.02)).abs() < 1e-12, "{total:?}");
    assert_eq!(found.verdict, Verdict::Dry);
    assert_eq!(found.total.status, LimitStatus::Below);
    for hidden in [Some(0.7), None] {
        let found =
            decided(empty.clone(), &half, &[absent("toluene", Some(0.02)), absent("ethyl acetate", hidden)]);
        assert_eq!(found.verdict, Verdict::Undecided);
        assert!(found.reasons[0].contains("ethyl acetate"), "{:?}", found.reasons);
    }
    // what was found and what could hide add up
    let beside =
        decided(check(vec![finding("2-propanol", 0.40, 0.02)]), &half, &[absent("toluene", Some(0.2))]);
    assert_eq!(beside.verdict, Verdict::Undecided);
    // the one that could hide furthest is named, however little of the way to the limit it goes alone
    let close =
        decided(check(vec![finding("2-propanol", 0.30, 0.095)]), &half, &[absent("toluene", Some(0.1))]);
    assert_eq!(close.verdict, Verdict::Undecided);
    assert!(close.reasons.iter().any(|r| r.contains("toluene (up to 0.1")), "{:?}", close.reasons);
}

/// A limit on water without a water line says nothing of the water.
#[test]
fn a_limit_on_water_does_not_pass_in_silence() {
    let own = limits(Some("0.5 wt%"), &[("water", "0.3 wt%")], None);
    let found = decided(check(vec![finding("2-propanol", 0.1, 0.005)]), &own, &[]);
    assert_eq!(found.verdict, Verdict::Undecided);
    assert!(found.reasons[0].contains("water"), "{:?}", found.reasons);
}

/// An own limit on water is judged although water is not counted; what is over it may be the NMR solvent's.
#[test]
fn water_has_a_verdict_when_it_has_a_limit() {
    let own = limits(Some("0.5 wt%"), &[("water", "0.3 wt%")], None);
    let with = |water: f64| {
        let mut start = check(vec![finding("2-propanol", 0.1, 0.005)]);
        start
            .not_counted
            .push(NotCounted { finding: finding("water", water, 0.05 * water), why: "water".to_owned() });
        let found = decided(start, &own, &[]);
        (found.not_counted[0].finding.status, found.verdict)
    };
    assert_eq!(with(1.0), (LimitStatus::Undecided, Verdict::Undecided));
    assert_eq!(with(0.2), (LimitStatus::Below, Verdict::Dry));
}

/// False "dry" on simulated contents just over the limit: at most 2.5 % of them (one-sided), 4000 draws.
#[test]
fn guarded_acceptance_keeps_its_risk() {
    use rand::SeedableRng;
    use rand_distr::{Distribution, StandardNormal};
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(2);
    let half = limits(Some("0.5 wt%"), &[], None);
    let draws = 4000;
    let mut wrong = 0;
    for _ in 0..draws {
        let z: f64 = StandardNormal.sample(&mut rng);
        let found = decided(check(vec![finding("2-propanol", 0.501 + 0.02 * z, 0.02)]), &half, &[]);
        wrong += u32::from(found.verdict == Verdict::Dry);
    }
    let share = f64::from(wrong) / f64::from(draws);
    assert!((0.010..0.030).contains(&share), "{share}");
}

#[test]
fn a_rival_is_named_as_what_leaves_the_total_open_only_if_it_would_take_it_over_the_limit() {
    let half = limits(Some("0.5 wt%"), &[], None);
    let beside = |rival: f64| {
        let rivals = vec![Rival { name: "ethanol".to_owned(), wt_percent: Some(nonnegative(rival, 0.01)) }];
        let one = Finding { rivals, ..finding("2-propanol", 0.48, 0.02) };
        decided(check(vec![one]), &half, &[]).reasons
    };
    assert!(beside(0.9)[0].contains("2-propanol may be ethanol"), "{:?}", beside(0.9));
    assert!(!beside(0.3)[0].contains("ethanol"), "{:?}", beside(0.3));
}

#[test]
fn a_name_on_low_odds_leaves_open_what_rests_on_it_alone() {
    let thin = |wt_percent: f64| Finding { evidence: 2.0, ..finding("toluene", wt_percent, 0.01) };
    let own = limits(None, &[("toluene", "0.3 wt%")], None);
    let found = decided(check(vec![thin(0.9)]), &own, &[]);
    assert_eq!(found.verdict, Verdict::Undecided);
    assert!(found.reasons[0].contains("over its limit of 0.300 wt%"), "{:?}", found.reasons);
    assert!(found.reasons[0].contains("named on low odds"), "{:?}", found.reasons);
    let sure = decided(check(vec![finding("toluene", 0.9, 0.01)]), &own, &[]);
    assert_eq!(sure.verdict, Verdict::NeedsDrying);
    // of a total that may be without it the interval reaches down as far
    let half = limits(Some("0.5 wt%"), &[], None);
    let mut both = check(vec![finding("2-propanol", 0.2, 0.01), thin(0.9)]);
    both.total.wt_percent = Some(Estimate { value: 1.1, low: 0.19, high: 1.13, u: 0.4 });
    let open = decided(both, &half, &[]);
    assert_eq!(open.verdict, Verdict::Undecided);
    assert!(
        open.reasons[0].contains("what was found without toluene, named on low odds, is under it"),
        "{:?}",
        open.reasons
    );
}

#[test]
fn what_may_be_unseen_is_told_beside_what_else_leaves_the_total_open() {
    let half = limits(Some("0.5 wt%"), &[], None);
    let hidden = [absent("n-hexane", Some(8.4)), absent("methanol", Some(0.1))];
    let open = decided(check(vec![finding("2-propanol", 0.51, 0.02)]), &half, &hidden);
    assert_eq!(open.verdict, Verdict::Undecided);
    let reason = &open.reasons[0];
    assert!(
        reason.contains(
            "interval, and there could be more unseen: n-hexane (up to 8.40 wt%). Dry it further, exclude"
        ),
        "{reason}"
    );
    let seen = decided(check(vec![finding("2-propanol", 0.51, 0.02)]), &half, &[]);
    assert!(!seen.reasons[0].contains("unseen"), "{:?}", seen.reasons);
}

/// A limit on a total that could not be measured is neither met nor exceeded.
#[test]
fn a_total_that_is_not_known_has_a_limit_all_the_same() {
    let mut bare = check(Vec::new());
    bare.product = None;
    bare.total.wt_percent = None;
    let found = decided(bare, &limits(Some("0.5 wt%"), &[], None), &[]);
    assert_eq!((found.total.status, found.verdict), (LimitStatus::Undecided, Verdict::Undecided));
}
