//! The real binary on measured spectra: each is checked without failure, the NMR solvent's residual line is found where it
//! stands, and the NMR solvent is not taken for an impurity.
//!
//! The spectra lie in a folder of their own, named by `LEES_CORPUS` or beside the workspace; its index was made by
//! independent decoders. Without the folder nothing can be checked, and the test says so.

#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "helpers of tests fail the test"
)]

mod corpus;

use corpus::{Folder, Found, check};

/// Names under which the tables know what remains of each NMR solvent.
const PROTIO: [(&str, &str); 4] = [
    ("CDCl3", "chloroform"),
    ("DMSO-d6", "dimethyl sulfoxide"),
    ("acetone-d6", "acetone"),
    ("C6D6", "benzene"),
];

/// Spectra whose index names the residual line.
const INDEXED: [(&str, &str); 13] = [
    ("ds1_141-32-2_1h.dx", "CDCl3"),
    ("ds1_141-32-2_1h_presat.dx", "CDCl3"),
    ("ds1_141-32-2_1h_xydata.dx", "CDCl3"),
    ("ds1_2591-86-8_1h.dx", "CDCl3"),
    ("ds1_2591-86-8_1h_xydata.dx", "CDCl3"),
    ("ds1_492-62-6_1h.dx", "DMSO-d6"),
    ("ds1_492-62-6_1h_xydata.dx", "DMSO-d6"),
    ("ds1_57946-61-9_1h.dx", "DMSO-d6"),
    ("jc_bruker_fid_ft.jdx", "DMSO-d6"),
    ("jc_indometacin_1h.dx", "DMSO-d6"),
    ("jc_link_assign_1h_600.jdx", "DMSO-d6"),
    ("osdb_000000012.jdx", "CDCl3"),
    ("osdb_000000028.jdx", "CDCl3"),
];

/// Spectra whose index has another line, for the highest maximum near the place of the LABELLED solvent is not the residual
/// line there; read off the spectra by eye, with the reason.
const READ: [(&str, &str, f64, &str); 4] = [
    (
        "ds1_1047626-52-7_1h.dx",
        "CDCl3",
        7.287,
        "7.246 is one line of a doublet of 3.3 Hz, its partner stands at 7.77",
    ),
    (
        "ds1_517920-70-6_1h.dx",
        "DMSO-d6",
        2.509,
        "label CDCl3; the unresolved quintet and water of DMSO-d6 are there",
    ),
    ("ds1_517920-70-6_1h_xydata.dx", "DMSO-d6", 2.509, "as the same sample above"),
    ("jc_ethylvinylether_1h.jdx", "CDCl3", 7.285, "label DMSO; CHCl3, water and grease fit CDCl3"),
];

/// Spectra whose axis was set on TMS by those who measured them, with the label's solvent.
const ON_TMS: [&str; 6] = [
    "osdb_000000001.jdx",
    "osdb_000000020.jdx",
    "osdb_000000037.jdx",
    "osdb_000000045.jdx",
    "osdb_000000053.jdx",
    "osdb_000000070.jdx",
];

/// The index reads the highest point; lines are broader than a point, ppm.
const TOLERANCE: f64 = 0.003;
/// By eye, ppm.
const BY_EYE: f64 = 0.002;
/// TMS stands at zero on these axes but for one that is a line's satellite off, ppm.
const NEAR_ZERO: f64 = 0.012;

fn folder() -> Option<Folder> {
    let folder = Folder::find();
    if folder.is_none() {
        println!("no measured spectra here: name their folder by LEES_CORPUS; nothing was checked");
        assert!(std::env::var_os("LEES_CORPUS").is_none(), "LEES_CORPUS names no folder with an INDEX.csv");
    }
    folder
}

fn residual_is(found: &Found, file: &str, solvent: &str, place: f64, tolerance: f64) {
    assert_eq!(found.solvent.as_deref(), Some(solvent), "{file}: {found:?}");
    let seen = found.residual.unwrap_or_else(|| panic!("{file}: the residual line was not found: {found:?}"));
    println!(
        "{file}: {solvent}, residual line at {seen:.4} ppm, read {place:.4}; axis set by {}",
        found.signal
    );
    assert!((seen - place).abs() <= tolerance, "{file}: residual line at {seen:.4}, read {place:.4}");
    no_solvent(found, file);
}

fn no_solvent(found: &Found, file: &str) {
    for (solvent, protio) in PROTIO {
        let taken =
            found.solvent.as_deref() == Some(solvent) && found.volatiles.iter().any(|name| name == protio);
        assert!(!taken, "{file}: {solvent} itself was taken for {protio} in the sample");
    }
}

#[test]
fn the_residual_line_is_where_the_index_has_it() {
    let Some(folder) = folder() else { return };
    let readings = folder.readings();
    for (file, solvent) in INDEXED {
        let reading = readings.get(file).unwrap_or_else(|| panic!("{file}: no reading in the index"));
        let found = check(&folder, file);
        residual_is(&found, file, solvent, *reading, TOLERANCE);
    }
    println!("{} measured spectra of {}", INDEXED.len(), folder.path.display());
}

#[test]
fn the_residual_line_is_where_the_eye_has_it() {
    let Some(folder) = folder() else { return };
    for (file, solvent, place, why) in READ {
        println!("{file}: {why}");
        residual_is(&check(&folder, file), file, solvent, place, BY_EYE);
    }
}

#[test]
fn tms_sets_the_axis_where_it_stands() {
    let Some(folder) = folder() else { return };
    for file in ON_TMS {
        let found = check(&folder, file);
        println!("{file}: {} at {:.4} ppm", found.signal, found.observed);
        assert_eq!(found.signal, "TMS", "{file}: {found:?}");
        assert!(found.observed.abs() < NEAR_ZERO, "{file}: TMS at {}", found.observed);
        assert_eq!(found.solvent.as_deref(), Some("CDCl3"), "{file}");
        no_solvent(&found, file);
    }
}
