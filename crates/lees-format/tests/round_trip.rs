//! Writing and reading again gives the same values, for every encoding.

#![allow(clippy::unwrap_used, clippy::panic, clippy::print_stdout)]

use lees_core::{Acquisition, Fid, Measurement, Megahertz, Nucleus, Ppm, Seconds, ShiftAxis, Spectrum};
use lees_format::write::{Encoding, WriteOptions, Written, jcamp, text};
use lees_format::{ReadOptions, read};
use ndarray::Array1;
use num_complex::Complex64;
use proptest::collection::vec;
use proptest::prelude::*;

fn acquisition() -> Acquisition {
    Acquisition {
        title: "a batch, dried".to_owned(),
        nucleus: Some(Nucleus::Proton),
        solvent: Some("CDCl3".to_owned()),
        scans: Some(16),
        relaxation_delay: Some(Seconds(5.25)),
        temperature_k: Some(298.15),
        ..Acquisition::at_field(Megahertz(400.13))
    }
}

fn spectrum(real: Vec<f64>, imaginary: Option<Vec<f64>>) -> Spectrum {
    let axis = ShiftAxis::new(Ppm(12.03), Ppm(-1.97), real.len(), Megahertz(400.13)).unwrap();
    let imaginary = imaginary.map(Array1::from_vec);
    Spectrum { axis, real: Array1::from_vec(real), imaginary, acquisition: acquisition() }
}

fn fid(points: Vec<(f64, f64)>) -> Fid {
    let points = points.into_iter().map(|(re, im)| Complex64::new(re, im)).collect();
    let (carrier, group_delay) = (Some(Ppm(4.7)), Some(67.98));
    Fid { points, dwell: Seconds(1.25e-4), carrier, group_delay, acquisition: acquisition() }
}

fn back(written: &Written) -> Measurement {
    let document = read(&written.bytes, "written", &ReadOptions::default());
    let document = document.unwrap_or_else(|e| panic!("{e}\n{}", String::from_utf8_lossy(&written.bytes)));
    assert!(
        document.warnings.iter().all(|w| w.starts_with("plain text") || w.starts_with("abscissa in")),
        "{:?}\n{}",
        document.warnings,
        String::from_utf8_lossy(&written.bytes)
    );
    document.blocks[0].measurement().unwrap()
}

fn same_spectrum(before: &Spectrum, written: &Written, tolerance: f64) {
    let Measurement::Spectrum(after) = back(written) else { panic!("no spectrum") };
    let near = |a: &Array1<f64>, b: &Array1<f64>| {
        a.len() == b.len() && a.iter().zip(b).all(|(a, b)| (a - b).abs() <= tolerance)
    };
    assert!(near(&before.real, &after.real));
    assert_eq!(before.imaginary.is_some(), after.imaginary.is_some());
    if let (Some(a), Some(b)) = (&before.imaginary, &after.imaginary) {
        assert!(near(a, b));
    }
    assert!((before.axis.first().0 - after.axis.first().0).abs() < 1e-12);
    assert!((before.axis.last().0 - after.axis.last().0).abs() < 1e-12);
    let (a, b) = (&before.acquisition, &after.acquisition);
    assert_eq!((&a.title, &a.nucleus, &a.solvent, a.scans), (&b.title, &b.nucleus, &b.solvent, b.scans));
    assert_eq!(
        (a.field, a.relaxation_delay, a.temperature_k),
        (b.field, b.relaxation_delay, b.temperature_k)
    );
}

fn same_fid(before: &Fid, written: &Written, tolerance: f64) {
    let Measurement::Fid(after) = back(written) else { panic!("no FID") };
    assert_eq!(before.points.len(), after.points.len());
    assert!(
        before
            .points
            .iter()
            .zip(&after.points)
            .all(|(a, b)| (a.re - b.re).abs() <= tolerance && (a.im - b.im).abs() <= tolerance)
    );
    assert!((before.dwell.0 - after.dwell.0).abs() < 1e-15);
    assert!((before.carrier.unwrap().0 - after.carrier.unwrap().0).abs() < 1e-9);
    assert_eq!(before.group_delay, after.group_delay);
}

/// Runs, steps, zeros and noise, so that all tokens of the compressed forms occur.
fn counts() -> impl Strategy<Value = Vec<f64>> {
    let piece = prop_oneof![
        (1_usize..30, -9_i32..9).prop_map(|(n, step)| vec![f64::from(step); n]),
        vec(-2_000_000_000_i32..2_000_000_000, 1..20).prop_map(|v| v.into_iter().map(f64::from).collect()),
        (1_usize..40, -300_i32..300)
            .prop_map(|(n, step)| (0..n).map(|i| f64::from(step) * i as f64).collect()),
    ];
    vec(piece, 1..12).prop_map(|pieces| pieces.concat()).prop_filter("four points", |v| v.len() >= 4)
}

fn any_finite() -> impl Strategy<Value = f64> {
    prop_oneof![-1e6_f64..1e6, any::<f64>().prop_filter("finite", |v| v.is_finite()), Just(0.0), Just(1.0),]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn whole_numbers_survive_every_encoding(real in counts(), factor in prop_oneof![Just(1.0), Just(0.125), Just(8.0)], hertz: bool) {
        let real: Vec<f64> = real.iter().map(|v| v * factor).collect();
        let imaginary: Vec<f64> = real.iter().rev().map(|v| -v).collect();
        for encoding in Encoding::ALL {
            let options = WriteOptions { encoding, hertz, history: vec!["phased by hand".to_owned()] };
            for imaginary in [None, Some(imaginary.clone())] {
                let before = spectrum(real.clone(), imaginary);
                let written = jcamp(&Measurement::Spectrum(before.clone()), &options);
                prop_assert_eq!(written.rounding, 0.0);
                same_spectrum(&before, &written, 0.0);
            }
            let before = fid(real.iter().copied().zip(imaginary.iter().copied()).collect());
            same_fid(&before, &jcamp(&Measurement::Fid(before.clone()), &options), 0.0);
        }
    }

    #[test]
    fn any_number_survives_the_plain_forms(real in vec(any_finite(), 4..200)) {
        let before = spectrum(real, None);
        for encoding in [Encoding::Affn, Encoding::Fix, Encoding::Pac] {
            let options = WriteOptions { encoding, ..WriteOptions::default() };
            same_spectrum(&before, &jcamp(&Measurement::Spectrum(before.clone()), &options), 0.0);
        }
        let before = spectrum(before.real.to_vec(), Some(before.real.to_vec()));
        same_spectrum(&before, &text(&Measurement::Spectrum(before.clone()), &WriteOptions::default()), 0.0);
    }

    #[test]
    fn the_compressed_forms_lose_no_more_than_they_say(real in vec(-1e6_f64..1e6, 4..200)) {
        let before = spectrum(real, None);
        for encoding in [Encoding::Sqz, Encoding::Dif, Encoding::DifDup] {
            let options = WriteOptions { encoding, ..WriteOptions::default() };
            let written = jcamp(&Measurement::Spectrum(before.clone()), &options);
            prop_assert!(written.rounding < 1e6 * 2_f64.powi(-50));
            same_spectrum(&before, &written, written.rounding * (1.0 + 1e-12));
        }
    }

    #[test]
    fn plain_text_fids(points in vec((-1e6_f64..1e6, -1e6_f64..1e6), 4..100)) {
        let before = fid(points);
        same_fid(&before, &text(&Measurement::Fid(before.clone()), &WriteOptions::default()), 0.0);
    }
}

#[test]
fn the_factor_of_the_source_keeps_data_lossless() {
    let mut before = spectrum((0..100).map(|i| f64::from(i * i % 37) * 1.267_406).collect(), None);
    before.acquisition.other.insert("YFACTOR".to_owned(), "1.267406".to_owned());
    let written = jcamp(&Measurement::Spectrum(before.clone()), &WriteOptions::default());
    assert_eq!(written.rounding, 0.0);
    same_spectrum(&before, &written, 0.0);
}

#[test]
fn history_is_a_comment() {
    let options =
        WriteOptions { history: vec!["baseline\nremoved $$ twice".to_owned()], ..WriteOptions::default() };
    let written = jcamp(&Measurement::Spectrum(spectrum(vec![1.0, 2.0, 3.0, 4.0], None)), &options);
    let text = String::from_utf8(written.bytes).unwrap();
    assert!(text.contains("\n$$ history: baseline removed $ $ twice\n"), "{text}");
}
