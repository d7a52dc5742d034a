//! Tables of the user's own: what is taken, what is refused and how that is said.

use lees_match::table::{ShiftStatus, Tables};

fn read(text: &str) -> Result<Tables, String> {
    Tables::bundled().with_rows(text, "own.csv").map_err(|error| error.to_string())
}

const GOOD: &str = "# my solvents\n\
    compound,aliases,formula,group,n_h,multiplicity,j_hz,partners,CDCl3,DMF-d7\n\
    ethyl lactate,lactate,C5H10O3,OCH2,2,q,7.1,CH2CH3=7.1,4.24,\n\
    ethyl lactate,,C5H10O3,CH2CH3,3,t,7.1,OCH2=7.1,1.29,1.2..1.3\n";

#[test]
fn a_new_compound_is_taken() {
    let tables = read(GOOD).unwrap();
    let compound = tables.compound("Ethyl Lactate").unwrap();
    assert!((compound.molar_mass.unwrap() - 118.13).abs() < 0.01);
    assert_eq!(compound.groups[0].partners[0].group, 1);
    let solvent = tables.nmr_solvent("DMF-d7").unwrap();
    let shift = compound.groups[1].shift_in(solvent).unwrap();
    assert_eq!((shift.low.value(), shift.high.value(), shift.status), (1.2, 1.3, ShiftStatus::User));
    assert_ne!(tables.digest(), Tables::bundled().digest());
    assert!(tables.compound("lactate").is_some());
}

#[test]
fn rows_of_a_known_compound_fill_in_and_keep_the_rest() {
    let tables = read("compound,group,CDCl3,pyridine-d5\nIPA,CH3,1.30,1.25\n").unwrap();
    let methyl = tables.compound("2-propanol").and_then(|c| c.group("CH3")).unwrap();
    let at = |label: &str| methyl.shift_in(tables.nmr_solvent(label).unwrap()).unwrap().centre().value();
    assert_eq!((at("CDCl3"), at("pyridine-d5"), at("DMSO-d6")), (1.30, 1.25, 1.04));
    assert_eq!(methyl.protons, Some(6));
    assert_eq!(tables.compounds().len(), Tables::bundled().compounds().len());
}

/// Every refusal names file, line, column, what was read and what is allowed.
#[test]
fn bad_rows_are_refused_with_their_place() {
    let cases = [
        (GOOD.replace("4.24", "4,24"), "own.csv, line 3"),
        (GOOD.replace("4.24", "four"), "own.csv, line 3, column `CDCl3`: read `four`; allowed: a number"),
        (
            GOOD.replace("4.24", "424"),
            "line 3, column `CDCl3`: read `424`; allowed: a chemical shift between",
        ),
        (GOOD.replace("1.2..1.3", "1.3..1.2"), "line 4, column `DMF-d7`: read `1.3..1.2`"),
        (GOOD.replace(",2,q", ",two,q"), "line 3, column `n_h`: read `two`; allowed: a whole number"),
        (GOOD.replace(",2,q", ",0,q"), "line 3, column `n_h`: read `0`"),
        (GOOD.replace(",2,q", ",20,q"), "at most 10 protons in all groups of C5H10O3, not 23"),
        (GOOD.replace(",2,q", ",,q"), "the number of protons of the group"),
        (GOOD.replace(",q,", ",wiggly,"), "line 3, column `multiplicity`: read `wiggly`"),
        (GOOD.replace("C5H10O3", "C5Hx"), "line 3, column `formula`: read `C5Hx`"),
        (GOOD.replace("C5H10O3", ""), "line 3, column `formula`: read ``; allowed: a molecular formula"),
        (GOOD.replace("CH2CH3=7.1", "CH9=7.1"), "line 3, column `partners`: read `CH9=7.1`"),
        (GOOD.replace("DMF-d7", "CDC13"), "line 2, column `CDC13`"),
        (GOOD.replace("CDCl3,DMF-d7", "note,note"), "at least one column named after an NMR solvent"),
        (GOOD.replace("compound,", "name,"), "line 2, column `compound`"),
        (GOOD.replace("OCH2,2", ",2"), "line 3, column `group`"),
        ("not a table".to_owned(), "a header with at least `compound` and `group`"),
        (String::new(), "a header with at least `compound` and `group`"),
        ("compound,group,CDCl3\nx,y,1.0,9\n".to_owned(), "line 2"),
        (
            GOOD.replace("4.24,", "4.24,\n# between\n").replace("1.29", "1.2.9"),
            "line 6, column `CDCl3`: read `1.2.9`",
        ),
    ];
    for (text, told) in cases {
        let error = read(&text).err().unwrap_or_default();
        assert!(error.contains("own.csv") && error.contains(told), "{told:?} not in {error:?}");
        assert!(!error.contains('\n'), "one line: {error:?}");
    }
}

#[test]
fn own_standards_are_checked_against_their_formula() {
    let good = "compound,cas,formula,molar_mass_g_per_mol,signal,n_h,multiplicity,CDCl3,shift_source\n\
                1-chloro-2-nitrobenzene,88-73-3,C6H4ClNO2,157.553,ArH,1,m,7.87,own\n";
    let tables = Tables::bundled().with_standards(good, "std.csv").unwrap();
    let shifts =
        tables.standard("1-chloro-2-nitrobenzene").unwrap().signals[0].shifts_in("CDCl3").unwrap().len();
    assert_eq!(shifts, 1);
    let wrong = Tables::bundled().with_standards(&good.replace("157.553", "175.553"), "std.csv").unwrap_err();
    assert!(wrong.to_string().contains("157.553 g/mol, the molar mass of C6H4ClNO2"), "{wrong}");
    let error = Tables::bundled().require_standard("maleic acit").unwrap_err().to_string();
    assert!(error.contains("did you mean `maleic acid`"), "{error}");
}

#[test]
fn signals_of_an_own_standard_that_are_not_integrated_are_stretches() {
    let own = "compound,formula,signal,n_h,multiplicity,quantify,CDCl3,C6D6\n\
               bromoanisole,C7H7BrO,OCH3,3,s,yes,3.78,3.20\n\
               bromoanisole,C7H7BrO,ArH,4,m,no,6.75..7.40,\n";
    let tables = Tables::bundled().with_standards(own, "std.csv").unwrap();
    let standard = tables.standard("bromoanisole").unwrap();
    let (methyl, ring) = (&standard.signals[0], &standard.signals[1]);
    assert!(methyl.quantify && !ring.quantify);
    assert_eq!(ring.shifts_in("CDCl3").unwrap().len(), 2);
    // any NMR solvent of the tables may be a column, and the formula gives the molar mass
    assert_eq!(methyl.shifts_in("C6D6").unwrap()[0].value(), 3.20);
    assert!((standard.molar_mass - standard.formula.molar_mass()).abs() < 1e-12);
    assert_eq!((standard.unplaced("CDCl3"), standard.unplaced("C6D6")), (0, 4));
    for (wrong, said) in [
        (own.replace("C6D6", "C6D7"), "line 1, column `C6D7`"),
        (own.replace(",3,s", ",4,s"), "7 protons in all"),
        (own.replace(",3,s", ",0,s"), "a whole number above 0"),
        (own.replace(",no,", ",perhaps,"), "true, false, yes, no"),
        (own.replace("n_h,", "protons,"), "a header with at least"),
    ] {
        let error = Tables::bundled().with_standards(&wrong, "std.csv").unwrap_err().to_string();
        assert!(error.contains(said) && error.contains("std.csv"), "{said}: {error}");
    }
}

/// Every bundled standard is known by all its protons in at least one NMR solvent, but for the few that exchange.
#[test]
fn bundled_standards_place_their_protons() {
    for standard in Tables::bundled().standards() {
        let solvents = standard.signals.iter().flat_map(|signal| &signal.shifts).map(|(name, _)| name);
        let open = solvents.map(|solvent| standard.unplaced(solvent)).min().unwrap();
        assert_eq!(open, 0, "{}", standard.name);
    }
}
