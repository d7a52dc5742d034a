//! What lies beside a sample: the NMR solvent alone, several spectra in one file, a frequency that is not known.

#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests fail the test")]

use lees::{Checker, Error, Job};
use lees_core::Measurement;
use lees_core::check::{Check, Verdict};
use lees_format::write::{self, WriteOptions};
use lees_match::standard::{InternalStandard, Weighing};
use lees_spin::simulate::{Recipe, simulate};

/// The dye with a limit of 1 wt% on the sum: the wet one has 1.7, and of methanol 0.7 could hide under the dry one's NCH2.
fn job() -> Job {
    let text = "name = 'dye'\nformula = 'C16H16N2O2S'\nsignals = '8.79 (s, 1H), 7.87 (d, 1H), 7.47 (d, 1H), \
                7.41 (d, 1H), 6.66 (dd, 1H), 6.55 (d, 1H), 3.46 (q, 4H), 1.25 (t, 6H)'\n[limits]\ntotal = '1 wt%'";
    Job { product: Some(lees_format::product::parse(text, "dye.toml").unwrap()), ..Job::default() }
}

fn wet_dye() -> Vec<u8> {
    file(&Recipe::wet_dye())
}

fn spectrum(recipe: &Recipe) -> Measurement {
    Measurement::Spectrum(simulate(recipe).unwrap().spectrum)
}

fn file(recipe: &Recipe) -> Vec<u8> {
    write::jcamp(&spectrum(recipe), &WriteOptions::default()).bytes
}

/// The wet dye's tube with this much water, in moles per mole of dye (0.1 of which the NMR solvent brings).
fn with_water(mole_ratio: f64) -> Recipe {
    let mut recipe = Recipe::wet_dye();
    recipe.water.as_mut().unwrap().mole_ratio = Some(mole_ratio);
    recipe
}

/// The same NMR solvent without dye: 0.1 mol of water beside 0.4 mol of chloroform, as in the dye's tube.
fn solvent_alone() -> Recipe {
    Recipe { product: None, volatile: Vec::new(), ..Recipe::wet_dye() }
}

/// The dye without any volatile.
fn dry() -> Recipe {
    Recipe { volatile: Vec::new(), ..Recipe::wet_dye() }
}

fn checked(job: &Job, bytes: &[u8], name: &str) -> Check {
    Checker::new(job).unwrap().check(bytes, name).unwrap().remove(0).unwrap()
}

fn water(check: &Check) -> f64 {
    check.volatiles.iter().find(|finding| finding.name == "water").unwrap().mole_ratio.unwrap().value
}

#[test]
fn a_blank_takes_its_share_off_the_water_and_nothing_off_the_rest() {
    let mut job = job();
    job.settings.change("match.count_water=true").unwrap();
    let wet = file(&with_water(0.3));
    let without = checked(&job, &wet, "wet.jdx");
    job.beside.blank = Some(job.measure_blank(&file(&solvent_alone()), "blank.jdx").unwrap());
    let with = checked(&job, &wet, "wet.jdx");
    // As in the recipes: 0.3 mol in the tube, 0.1 of it from the NMR solvent.
    assert!((water(&without) - 0.3).abs() < 0.02, "{}", water(&without));
    assert!((water(&with) - 0.2).abs() < 0.03, "{}", water(&with));
    let propanol =
        |check: &Check| check.volatiles.iter().find(|f| f.name == "2-propanol").unwrap().mole_ratio;
    assert_eq!(propanol(&with), propanol(&without));
}

#[test]
fn a_blank_is_not_taken_off_itself() {
    let mut job = job();
    let blank = file(&solvent_alone());
    job.beside.blank = Some(job.measure_blank(&blank, "blank.jdx").unwrap());
    let itself = checked(&Job { product: None, ..job.clone() }, &blank, "again.jdx");
    assert!(itself.warnings.iter().any(|w| w.contains("the blank itself")), "{:?}", itself.warnings);
    let sample = checked(&job, &file(&with_water(0.3)), "wet.jdx");
    assert!(!sample.warnings.iter().any(|w| w.contains("the blank itself")), "{:?}", sample.warnings);
}

#[test]
fn what_is_no_blank_is_refused_by_name() {
    let job = Job::default();
    let told = |bytes: &[u8]| {
        let fault = job.measure_blank(bytes, "b.jdx").unwrap_err();
        assert!(fault.is_usage(), "the caller named it: {fault}");
        fault.to_string()
    };
    let two = [file(&solvent_alone()), file(&solvent_alone())].concat();
    for (bytes, words) in [
        (b"not a spectrum".to_vec(), ""),
        (wet_dye(), "without product"),
        (linked(&two), "holds 2 spectra; a blank is one"),
    ] {
        let said = told(&bytes);
        assert!(said.starts_with("blank b.jdx") && said.contains(words), "{said}");
        assert_eq!(said.matches("b.jdx").count(), 1, "the file is named once: {said}");
    }
}

/// Two or more files of one spectrum each as the blocks of one.
fn linked(files: &[u8]) -> Vec<u8> {
    let head = b"##TITLE= two\n##JCAMP-DX= 5.01\n##DATA TYPE= LINK\n##BLOCKS= 3\n##ORIGIN= x\n##OWNER= x\n";
    [head, files, b"##END=\n"].concat()
}

#[test]
fn spectra_of_one_file_are_told_apart_by_number() {
    let job = job();
    let two = linked(&[wet_dye(), file(&dry())].concat());
    let checks = Checker::new(&job).unwrap().check(&two, "two.jdx").unwrap();
    let found: Vec<(String, Verdict)> =
        checks.into_iter().map(|c| c.unwrap()).map(|c| (c.input.path, c.verdict)).collect();
    assert_eq!(
        found,
        [("two.jdx#1".to_owned(), Verdict::NeedsDrying), ("two.jdx#2".to_owned(), Verdict::Dry)]
    );
}

/// The same dry sample as a file with its frequency and as bare columns without.
#[test]
fn without_a_frequency_nothing_is_called_dry_but_what_is_over_stays_over() {
    let job = job();
    let columns = |recipe: &Recipe| {
        let text = String::from_utf8(write::text(&spectrum(recipe), &WriteOptions::default()).bytes).unwrap();
        let bare: Vec<&str> = text.lines().filter(|line| !line.contains("frequency")).collect();
        (text.clone().into_bytes(), bare.join("\n").into_bytes())
    };
    let (told, bare) = columns(&dry());
    assert_eq!(checked(&job, &told, "dry.txt").verdict, Verdict::Dry);
    let unsure = checked(&job, &bare, "dry.txt");
    assert_eq!(unsure.verdict, Verdict::Undecided);
    assert!(unsure.reasons[0].contains("frequency is not known"), "{:?}", unsure.reasons);
    let (_, bare) = columns(&Recipe::wet_dye());
    assert_eq!(checked(&job, &bare, "wet.txt").verdict, Verdict::NeedsDrying);
}

#[test]
fn a_spectrum_that_cannot_be_processed_is_named_and_costs_itself_alone() {
    let few = b"##TITLE= few\n##JCAMP-DX= 5.01\n##DATA TYPE= NMR SPECTRUM\n##.OBSERVE FREQUENCY= 400\n\
        ##.OBSERVE NUCLEUS= ^1H\n##XUNITS= HZ\n##YUNITS= ARBITRARY UNITS\n##XFACTOR= 1\n##YFACTOR= 1\n\
        ##FIRSTX= 4000\n##LASTX= 0\n##NPOINTS= 5\n##XYDATA= (X++(Y..Y))\n4000 1 2 3 2 1\n##END=\n";
    let job = job();
    let results =
        Checker::new(&job).unwrap().check(&linked(&[&few[..], &wet_dye()].concat()), "two.jdx").unwrap();
    let [Err(fault), Ok(check)] = results.as_slice() else { panic!("{results:?}") };
    assert!(matches!(fault, Error::Process { .. }) && !fault.is_usage(), "{fault}");
    assert!(fault.to_string().starts_with("two.jdx#1: 5 points are too few"), "{fault}");
    assert_eq!(check.verdict, Verdict::NeedsDrying);
}

/// Maleic acid does not dissolve in CDCl3 and has no shift there in the tables.
#[test]
fn a_standard_without_a_shift_in_the_solvent_gives_no_purity_and_says_why() {
    let weighing = Weighing {
        standard_mg: 5.0,
        sample_mg: 10.0,
        balance_u_mg: 0.05,
        standard_purity: 0.998,
        standard_purity_u: 0.001,
    };
    let mut job = job();
    job.beside.standard = Some(InternalStandard { name: "maleic acid".to_owned(), weighing });
    let found = checked(&job, &wet_dye(), "wet.jdx");
    assert_eq!(found.purity, None);
    let why = "no shift of maleic acid in CDCl3 is tabulated";
    assert!(found.warnings.iter().any(|w| w.contains(why)), "{:?}", found.warnings);
}
