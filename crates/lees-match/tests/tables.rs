//! The bundled tables are sound, and agree with what was published.

use std::collections::HashSet;

use approx::assert_abs_diff_eq;
use lees_match::table::{Class, ShiftStatus, Tables, plain_name};

/// NMR solvents of the first published table, in its order.
const COMMON: [&str; 7] = ["CDCl3", "acetone-d6", "DMSO-d6", "C6D6", "CD3CN", "CD3OD", "D2O"];

#[test]
fn every_row_parses_and_the_tables_have_their_size() {
    let tables = Tables::bundled();
    assert!(tables.compounds().len() >= 120, "{}", tables.compounds().len());
    assert_eq!(tables.nmr_solvents().len(), 20);
    assert_eq!(tables.limits().len(), 72);
    assert_eq!(tables.standards().len(), 25);
    assert_eq!(tables.digest().len(), 64);
}

#[test]
fn names_and_numbers_are_unique() {
    let tables = Tables::bundled();
    let mut names = HashSet::new();
    let mut numbers = HashSet::new();
    for compound in tables.compounds() {
        for name in std::iter::once(&compound.name).chain(&compound.aliases) {
            assert!(names.insert(plain_name(name)), "`{name}` names two compounds");
        }
        if let Some(cas) = &compound.cas {
            assert!(numbers.insert(cas.clone()), "{cas} twice");
        }
        let groups: HashSet<&str> = compound.groups.iter().map(|group| group.name.as_str()).collect();
        assert_eq!(groups.len(), compound.groups.len(), "{}", compound.name);
    }
    let mut labels = HashSet::new();
    for solvent in tables.nmr_solvents() {
        let own: HashSet<String> = std::iter::once(&solvent.name)
            .chain(&solvent.aliases)
            .chain(&solvent.labels)
            .map(|name| plain_name(name))
            .collect();
        for label in own {
            assert!(labels.insert(label.clone()), "`{label}` means two NMR solvents");
        }
    }
}

/// Check digit of CAS registry numbers: the digits before it, counted from the right, weighted 1, 2, 3 ..., sum
/// modulo 10 (CAS, "Check digit verification of CAS registry numbers").
#[test]
fn cas_numbers_carry_their_check_digit() {
    let tables = Tables::bundled();
    let compounds = tables.compounds().iter().filter_map(|c| c.cas.clone());
    let solvents = tables.nmr_solvents().iter().map(|s| s.cas.clone());
    let limits = tables.limits().iter().map(|l| l.cas.clone());
    let standards = tables.standards().iter().map(|s| s.cas.clone());
    for cas in compounds.chain(solvents).chain(limits).chain(standards) {
        let digits: Vec<u32> = cas.chars().filter_map(|c| c.to_digit(10)).collect();
        let (check, body) = digits.split_last().expect("digits");
        let sum: u32 = body.iter().rev().zip(1..).map(|(digit, weight)| digit * weight).sum();
        assert_eq!(sum % 10, *check, "{cas}");
    }
}

/// Every proton of every molecule stands in exactly one group.
#[test]
fn groups_hold_all_protons_of_the_formula() {
    for compound in Tables::bundled().compounds() {
        let Some(formula) = &compound.formula else {
            assert_ne!(compound.class, Class::Volatile, "{} needs a formula", compound.name);
            continue;
        };
        let listed: u32 = compound.groups.iter().filter_map(|group| group.protons).sum();
        assert_eq!(listed, formula.count("H"), "{} {formula}", compound.name);
    }
}

/// Couplings are written from both sides and with the same constant.
#[test]
fn partners_are_mutual() {
    for compound in Tables::bundled().compounds() {
        for (at, group) in compound.groups.iter().enumerate() {
            for partner in &group.partners {
                let back = compound.groups[partner.group].partners.iter().find(|p| p.group == at);
                assert_eq!(back.map(|p| p.j), Some(partner.j), "{} {}", compound.name, group.name);
            }
        }
    }
}

/// Molar masses of ten solvents as printed in the CRC Handbook of Chemistry and Physics (physical constants of
/// organic compounds; typed from memory), which rest on IUPAC standard atomic weights.
#[test]
fn molar_masses_agree_with_the_handbook() {
    let printed = [
        ("water", 18.015),
        ("acetone", 58.079),
        ("chloroform", 119.378),
        ("dichloromethane", 84.933),
        ("2-propanol", 60.095),
        ("N,N-dimethylformamide", 73.094),
        ("ethyl acetate", 88.106),
        ("tetrahydrofuran", 72.106),
        ("toluene", 92.139),
        ("dimethyl sulfoxide", 78.133),
    ];
    for (name, mass) in printed {
        let computed = Tables::bundled().compound(name).and_then(|c| c.molar_mass).expect("tabulated");
        // older atomic weights of S and Cl move the last digits: 35.453 -> 35.45, 32.065 -> 32.06
        assert_abs_diff_eq!(computed, mass, epsilon = 0.010);
    }
    let standard_masses =
        Tables::bundled().standards().iter().map(|s| (s.formula.molar_mass(), s.molar_mass));
    for (computed, tabulated) in standard_masses {
        assert_abs_diff_eq!(computed, tabulated, epsilon = 0.0012);
    }
}

/// Shifts of Gottlieb, Kotlyar, Nudelman, J. Org. Chem. 1997, 62, 7512, in the order CDCl3, acetone-d6, DMSO-d6,
/// C6D6, CD3CN, CD3OD, D2O (typed from a reprint of its table 1; NaN where the table has no value).
const PUBLISHED: [(&str, &str, [f64; 7]); 16] = [
    ("acetone", "CH3", [2.17, 2.09, 2.09, 1.55, 2.08, 2.15, 2.22]),
    ("chloroform", "CH", [7.26, 8.02, 8.32, 6.15, 7.58, 7.90, f64::NAN]),
    ("dichloromethane", "CH2", [5.30, 5.63, 5.76, 4.27, 5.44, 5.49, f64::NAN]),
    ("diethyl ether", "CH3", [1.21, 1.11, 1.09, 1.11, 1.12, 1.18, 1.17]),
    ("diethyl ether", "CH2", [3.48, 3.41, 3.38, 3.26, 3.42, 3.49, 3.56]),
    ("N,N-dimethylformamide", "CHO", [8.02, 7.96, 7.95, 7.63, 7.92, 7.97, 7.92]),
    ("N,N-dimethylformamide", "NCH3a", [2.96, 2.94, 2.89, 2.36, 2.89, 2.99, 3.01]),
    ("N,N-dimethylformamide", "NCH3b", [2.88, 2.78, 2.73, 1.86, 2.77, 2.86, 2.85]),
    ("1,4-dioxane", "CH2", [3.71, 3.59, 3.57, 3.35, 3.60, 3.66, 3.75]),
    ("ethyl acetate", "CH3CO", [2.05, 1.97, 1.99, 1.65, 1.97, 2.01, 2.07]),
    ("ethyl acetate", "OCH2", [4.12, 4.05, 4.03, 3.89, 4.06, 4.09, 4.14]),
    ("2-propanol", "CH", [4.04, 3.90, 3.78, 3.67, 3.87, 3.92, 4.02]),
    ("tetrahydrofuran", "OCH2", [3.76, 3.63, 3.60, 3.57, 3.64, 3.71, 3.74]),
    ("toluene", "CH3", [2.36, 2.32, 2.30, 2.11, 2.33, 2.32, f64::NAN]),
    ("water", "OH", [1.56, 2.84, 3.33, 0.40, 2.13, 4.87, 4.79]),
    ("dimethyl sulfoxide", "CH3", [2.62, 2.52, 2.54, 1.68, 2.50, 2.65, 2.71]),
];

#[test]
fn shifts_agree_with_the_published_table() {
    let tables = Tables::bundled();
    for (name, group, row) in PUBLISHED {
        let group = tables.compound(name).and_then(|c| c.group(group)).expect("tabulated");
        for (label, published) in COMMON.into_iter().zip(row) {
            let solvent = tables.nmr_solvent(label).expect("known");
            match group.shift_in(solvent) {
                Some(shift) => assert_abs_diff_eq!(shift.centre().value(), published, epsilon = 1e-9),
                None => assert!(published.is_nan(), "{name} in {label}"),
            }
        }
    }
}

/// Chloroform and dichloromethane have no value in D2O in either published table (they hardly dissolve); the table
/// says so rather than leaving a bare gap.
#[test]
fn the_five_that_matter_most_are_complete() {
    let tables = Tables::bundled();
    for name in ["chloroform", "water", "2-propanol", "N,N-dimethylformamide", "dichloromethane"] {
        let compound = tables.compound(name).expect("tabulated");
        for label in COMMON {
            let solvent = tables.nmr_solvent(label).expect("known");
            let declared = label == "D2O" && ["chloroform", "dichloromethane"].contains(&name);
            for group in compound.groups.iter().filter(|g| !g.exchangeable || name == "water") {
                assert_eq!(group.shift_in(solvent).is_none(), declared, "{name} {} in {label}", group.name);
                assert_eq!(group.is_declared_empty(solvent), declared, "{name} {} in {label}", group.name);
            }
        }
    }
}

/// The printed values that are probably misprints stay in the table but are not matched.
#[test]
fn doubtful_cells_are_not_matched_as_printed() {
    let tables = Tables::bundled();
    let cases = [
        ("2-propanol", "CH3", "CD3OD", 1.50, Some((1.15, 1.15))),
        ("tert-butanol", "CH3", "CD3OD", 1.40, Some((1.20, 1.42))),
        ("N,N-dimethylacetamide", "NCH3a", "CD3OD", 3.31, None),
        ("2-butanone", "CH2", "D2O", 3.18, None),
        ("2-butanone", "CH2CH3", "D2O", 1.26, None),
    ];
    for (name, group, label, printed, matched) in cases {
        let solvent = tables.nmr_solvent(label).expect("known");
        let group = tables.compound(name).and_then(|c| c.group(group)).expect("tabulated");
        assert_eq!(group.printed_in(solvent).map(|(low, _)| low.value()), Some(printed), "{name}");
        let shift = group.shift_in(solvent);
        assert_eq!(shift.map(|s| (s.low.value(), s.high.value())), matched, "{name}");
        assert!(shift.is_none_or(|s| s.status == ShiftStatus::Doubtful), "{name}");
    }
}

/// Residual lines by Gottlieb 1997 and Fulmer et al., Organometallics 2010, 29, 2176.
#[test]
fn residual_lines_agree_with_the_published_tables() {
    let tables = Tables::bundled();
    let published = [
        ("CDCl3", 7.26, 1.56, 0),
        ("acetone-d6", 2.05, 2.84, 2),
        ("DMSO-d6", 2.50, 3.33, 2),
        ("C6D6", 7.16, 0.40, 0),
        ("CD3CN", 1.94, 2.13, 2),
        ("CD3OD", 3.31, 4.87, 2),
        ("D2O", 4.79, 4.79, 0),
        ("CD2Cl2", 5.32, 1.52, 1),
    ];
    for (label, residual, water, deuterons) in published {
        let solvent = tables.nmr_solvent(label).expect("known");
        assert_abs_diff_eq!(solvent.residual[0].shift.value(), residual, epsilon = 1e-9);
        assert_abs_diff_eq!(solvent.water.expect("tabulated").value(), water, epsilon = 1e-9);
        assert_eq!(solvent.residual[0].deuterons, deuterons, "{label}");
        if let Some(protio) = &solvent.protio {
            assert!(tables.compound(protio).is_some(), "{protio}");
        }
    }
}

/// HDO in D2O, Gottlieb 1997: 5.060 - 0.0122 t + 2.11e-5 t^2.
#[test]
fn water_in_heavy_water_drifts_with_temperature() {
    let tables = Tables::bundled();
    let heavy = tables.nmr_solvent("D2O").expect("known");
    for (celsius, shift) in [(0.0, 5.060), (24.0, 4.779), (25.0, 4.768), (30.0, 4.713), (80.0, 4.219)] {
        let read = heavy.water_at(Some(celsius + 273.15)).expect("known").value();
        assert_abs_diff_eq!(read, shift, epsilon = 6e-4);
    }
    assert_eq!(heavy.water_at(None), heavy.water);
    let other = tables.nmr_solvent("CDCl3").expect("known");
    assert_eq!(other.water_at(Some(330.0)), other.water);
}

#[test]
fn labels_seen_in_files_are_understood() {
    let tables = Tables::bundled();
    for (label, name) in [
        ("CDCl3", "CDCl3"),
        ("<CDCl3>", "CDCl3"),
        ("CDCL3", "CDCl3"),
        ("CHLOROFORM-D", "CDCl3"),
        ("Chloroform-d", "CDCl3"),
        ("chloroform d", "CDCl3"),
        ("CDCl3 + 0.03 % TMS", "CDCl3"),
        ("cdcl3_7.26", "CDCl3"),
        ("DMSO", "DMSO-d6"),
        ("DMSO-D6", "DMSO-d6"),
        ("d6-DMSO", "DMSO-d6"),
        ("(CD3)2SO", "DMSO-d6"),
        ("Acetone", "acetone-d6"),
        ("Aceton", "acetone-d6"),
        ("C6D6", "C6D6"),
        ("BENZENE-d6", "C6D6"),
        ("Benzene", "C6D6"),
        ("D2O", "D2O"),
        ("H2O+D2O", "D2O"),
        ("MeOD", "CD3OD"),
        ("CD3OD", "CD3OD"),
        ("Methanol-d4", "CD3OD"),
        ("CD2Cl2", "CD2Cl2"),
        ("methylene chloride-d2", "CD2Cl2"),
        ("CD3CN", "CD3CN"),
        ("Acetonitrile-d3", "CD3CN"),
        ("THF", "THF-d8"),
        ("THF-d8", "THF-d8"),
        ("Tol", "toluene-d8"),
        ("Pyr", "pyridine-d5"),
        ("TFA", "TFA-d"),
    ] {
        assert_eq!(tables.nmr_solvent(label).map(|s| s.name.as_str()), Some(name), "{label}");
    }
    for label in ["", "<>", "None", "CDCl3/CD3OD 9:1", "solvent"] {
        assert!(tables.nmr_solvent(label).is_none(), "{label}");
    }
    let error = tables.require_nmr_solvent("CDCl4").expect_err("a slip");
    assert_eq!(error.to_string(), "`CDCl4` is no known NMR solvent; did you mean `CDCl3`?");
}

/// ICH Q3C(R8), option 1. Acetonitrile and dichloromethane also in secondary texts; the R8 additions in the guideline.
#[test]
fn ich_limits() {
    let tables = Tables::bundled();
    for (name, class, ppm) in [
        ("benzene", 1, 2.0),
        ("acetonitrile", 2, 410.0),
        ("chloroform", 2, 60.0),
        ("dichloromethane", 2, 600.0),
        ("DMF", 2, 880.0),
        ("ethylene glycol", 2, 620.0),
        ("methanol", 2, 3000.0),
        ("THF", 2, 720.0),
        ("toluene", 2, 890.0),
        ("p-xylene", 2, 2170.0),
        ("CPME", 2, 1500.0),
        ("tert-butanol", 2, 3500.0),
        ("2-propanol", 3, 5000.0),
        ("2-MeTHF", 3, 5000.0),
        ("ethyl acetate", 3, 5000.0),
    ] {
        let ich = tables.compound(name).and_then(|c| c.ich.as_ref()).expect("has an entry");
        assert_eq!(ich.class, Some(class), "{name}");
        assert_abs_diff_eq!(ich.limit.expect("a limit").ppm(), ppm, epsilon = 1e-9);
    }
    // option 1: ppm = 1000 x PDE (mg/day) / 10 g/day
    for row in tables.limits() {
        if let (Some(pde), Some(limit)) = (row.limit.pde_mg_per_day, row.limit.limit) {
            assert_abs_diff_eq!(1000.0 * pde / 10.0, limit.ppm(), epsilon = 1e-6);
        }
    }
    assert!(tables.compound("water").expect("tabulated").ich.is_none());
    let ether = tables.compound("diisopropyl ether").and_then(|c| c.ich.as_ref()).expect("table 4");
    assert!(ether.class.is_none() && ether.limit.is_none());
}

/// The list of values on which sources differ agrees with what the table prints.
#[test]
fn discrepancies_are_those_of_the_table() {
    let tables = Tables::bundled();
    let text = include_str!("../../../reference-tables/shift_discrepancies.csv");
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let mut compared = 0;
    for record in reader.records() {
        let record = record.expect("a row");
        let (name, group, label) = (&record[0], &record[1], &record[2]);
        let Some(group) = tables.compound(name).and_then(|c| c.group(group)) else { continue };
        let Some(solvent) = tables.nmr_solvents().iter().find(|s| s.name == label) else { continue };
        let used: f64 = record[3].parse().expect("a number");
        let printed = match group.printed_in(solvent) {
            Some((low, _)) => low,
            None => group.shift_in(solvent).expect("tabulated").low,
        };
        assert_abs_diff_eq!(printed.value(), used, epsilon = 1e-9);
        compared += 1;
    }
    assert_eq!(compared, 10);
}

/// A chemist's eye as a test: protons on carbon between -0.5 and 10.5 ppm, and no value in an unlike place.
#[test]
fn shifts_are_plausible() {
    let tables = Tables::bundled();
    for compound in tables.compounds() {
        let fixed: Vec<_> = compound.groups.iter().filter(|g| !g.exchangeable).collect();
        for group in fixed {
            let values: Vec<_> =
                tables.nmr_solvents().iter().filter_map(|s| Some((s, group.shift_in(s)?))).collect();
            assert!(!values.is_empty(), "{} {} has no shift at all", compound.name, group.name);
            for (solvent, shift) in &values {
                assert!((-0.5..10.5).contains(&shift.low.value()), "{} {}", compound.name, solvent.name);
                for (other, second) in values.iter().filter(|(other, _)| other.family == solvent.family) {
                    let gap = (shift.centre() - second.centre()).abs().value();
                    assert!(gap < 0.80, "{} {}: {} {}", compound.name, group.name, solvent.name, other.name);
                }
            }
        }
    }
}
