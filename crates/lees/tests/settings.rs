//! Settings as text and back, and what they change.

#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests fail the test")]

use lees::{Error, Job, Settings};
use lees_core::SettingValue;

/// What is listed with every result can be given again by name, and as a file.
#[test]
fn every_setting_takes_back_what_it_says() {
    let settings = Settings::default();
    let mut again = Settings::default();
    let mut plain = 0;
    for (name, value) in settings.listing() {
        if matches!(value, SettingValue::Number(_) | SettingValue::Flag(_) | SettingValue::Unset(())) {
            again.change(&format!("{name} = {value}")).unwrap_or_else(|fault| panic!("{fault}"));
            plain += 1;
        }
    }
    assert!(plain > 50, "{plain} numbers, flags and open ones");
    assert_eq!(again, settings);
    let file = toml::to_string(&settings).unwrap();
    assert_eq!(Settings::from_toml(&file, "all.toml").unwrap(), settings);
    assert_eq!(Settings::from_toml("", "none.toml").unwrap(), settings);
}

#[test]
fn a_changed_number_stands_in_the_listing_and_in_the_provenance() {
    let mut job = Job::default();
    let before = job.provenance().unwrap();
    job.settings.change("match.least_significance=7.5").unwrap();
    assert_eq!(job.settings.listing()["match.least_significance"], SettingValue::Number(7.5));
    let after = job.provenance().unwrap();
    assert_ne!(before.settings, after.settings);
    assert_eq!((before.tables, before.version), (after.tables, after.version));
}

#[test]
fn settings_that_contradict_each_other_are_refused_before_any_spectrum() {
    for (assignment, words) in [
        ("process.lines.widest=0", "`process.lines.narrowest` (0.4) is over `process.lines.widest` (0)"),
        ("process.lines.narrowest=9", "`process.lines.narrowest` (9) is over `process.lines.widest` (4)"),
        ("process.lines.widest_hz=0", "`process.lines.broad_hz` (12) is over `process.lines.widest_hz` (0)"),
    ] {
        let mut job = Job::default();
        job.settings.change(assignment).unwrap();
        let fault = job.provenance().unwrap_err();
        assert!(fault.is_usage() && fault.to_string().contains(words), "{assignment}: {fault}");
    }
}

#[test]
fn a_fault_in_a_settings_file_has_a_place() {
    for (text, place) in [
        ("[process.baseline]\nperiod_hz = 'é' # é\n", "own.toml: line 2, column 13: "),
        ("[match]\nexclude = ['äther', 7]\n", "own.toml: line 2, column "),
        ("[match\n", "own.toml: line 1, column "),
        ("[process.baseline]\nperiod_hz = -5\n", "own.toml: setting `process.baseline.period_hz`: read `-5`"),
        ("[match.t1_s]\ntoluene = -5\n", "own.toml: setting `match.t1_s.toluene`: read `-5`"),
        ("# ä\n[process]\n[proces]\n", "own.toml: line 3, column 2: "),
    ] {
        let fault = Settings::from_toml(text, "own.toml").unwrap_err();
        assert!(fault.is_usage() && fault.to_string().starts_with(place), "{place:?}: {fault}");
        assert!(!fault.to_string().contains('\n'), "one line: {fault}");
    }
}

#[test]
fn a_change_that_cannot_be_meant_changes_nothing() {
    let mut settings = Settings::default();
    for (assignment, words) in [
        ("match.count_water", "has no `=`"),
        ("match.cuont_water=true", "no setting is called `match.cuont_water`"),
        ("match.count_water=perhaps", "read `perhaps`"),
        ("process.baseline.period_hz=", "period_hz"),
        ("match=1", "no setting is called `match`; it holds `match.count_water`"),
        ("process.baseline.period=900", "near it: `process.baseline.period_hz`"),
        ("process.baseline.period_hz=-5", "allowed: a number, 0 or more"),
        ("match.product_t1_s=-1", "allowed: a number, 0 or more"),
    ] {
        let fault = settings.change(assignment).unwrap_err();
        assert!(
            matches!(fault, Error::Usage(_)) && fault.to_string().contains(words),
            "{assignment}: {fault}"
        );
    }
    assert_eq!(settings, Settings::default());
}
