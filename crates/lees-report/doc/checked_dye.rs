include!(concat!(env!("CARGO_MANIFEST_DIR"), "/../lees/doc/wet_dye.rs"));

/// Included by examples: the simulated tube of a wet dye, checked.
pub fn checked_dye() -> lees_core::check::Check {
    let job = dye_job();
    let mut checker = lees::Checker::new(&job).expect("a sound job");
    checker.check(&wet_dye(), "dye.jdx").expect("one spectrum").remove(0).expect("it can be checked")
}
