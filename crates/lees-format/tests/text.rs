//! Plain text: each layout is guessed, said, and can be overridden.

#![allow(clippy::unwrap_used, clippy::panic, clippy::print_stdout)]

use lees_core::{Measurement, Megahertz, Ppm};
use lees_format::{Column, Document, ErrorKind, FormatError, Kind, ReadOptions, TextOptions, XUnit, read};

const ROWS: [(f64, f64); 5] = [(9.0, 1.5), (8.0, 2.0), (7.0, -3.0), (6.0, 40.0), (5.0, 0.5)];

fn with(text: TextOptions) -> ReadOptions {
    ReadOptions { text, field: Some(Megahertz(400.0)), ..ReadOptions::default() }
}

fn go(text: &str) -> Result<Document, FormatError> {
    read(text.as_bytes(), "a.txt", &with(TextOptions::default()))
}

fn rows(separator: &str, comma: bool) -> String {
    let number = |v: f64| if comma { format!("{v:.1}").replace('.', ",") } else { format!("{v:.1}") };
    ROWS.iter().map(|(x, y)| format!("{}{separator}{}\n", number(*x), number(*y))).collect()
}

fn check(text: &str) -> Document {
    let document = go(text).unwrap();
    let table = document.blocks[0].real_table().unwrap();
    assert_eq!(table.y, ROWS.map(|row| row.1), "{text}");
    assert_eq!((table.first_x(), table.last_x()), (Some(9.0), Some(5.0)), "{text}");
    document
}

#[test]
fn separators_and_decimal_signs() {
    for separator in ["\t", ";", ",", ", ", " ", "   ", " ; "] {
        check(&rows(separator, false));
    }
    for separator in ["\t", ";", " ", "  "] {
        let document = check(&rows(separator, true));
        assert!(document.warnings[0].contains("decimal commas"), "{:?}", document.warnings);
    }
    check(&rows("\t", false).replace('\n', "\r\n"));
    check(&rows(",", false).replace("9.0", "\"9.0\"").replace("1.5", "\"1.5\""));
}

#[test]
fn header_lines_give_values() {
    let head =
        "# title = a batch\n# nucleus: 1H\n# frequency 500.13 MHz\n# solvent = CDCl3\n# scans = 16\n\n";
    let document =
        read((head.to_owned() + &rows("\t", false)).as_bytes(), "a", &ReadOptions::default()).unwrap();
    let block = &document.blocks[0];
    assert_eq!((block.title.as_str(), block.solvent.as_deref()), ("a batch", Some("CDCl3")));
    assert_eq!(block.field, Some(Megahertz(500.13)));
    assert_eq!(block.acquisition(Megahertz(500.13)).scans, Some(16));
}

#[test]
fn the_unit_comes_from_names_from_size_or_from_the_caller() {
    let unit = |text: &str| go(text).unwrap().blocks[0].x_unit.clone().unwrap();
    assert_eq!(unit(&rows("\t", false)), "ppm");
    assert_eq!(unit(&format!("frequency_Hz\tintensity\n{}", rows("\t", false))), "Hz");
    assert_eq!(unit("900 1\n800 2\n700 3\n600 4\n"), "Hz");
    let given = with(TextOptions { unit: Some(XUnit::Hertz), ..TextOptions::default() });
    let document = read(rows("\t", false).as_bytes(), "a", &given).unwrap();
    assert_eq!(document.blocks[0].x_unit.as_deref(), Some("Hz"));
    assert!(document.warnings.iter().any(|w| w.contains("as given")));
}

#[test]
fn rising_abscissae_are_turned() {
    let mut lines: Vec<String> = rows(" ", false).lines().map(str::to_owned).collect();
    lines.reverse();
    let document = go(&lines.join("\n")).unwrap();
    let Measurement::Spectrum(spectrum) = document.blocks[0].measurement().unwrap() else {
        panic!("no spectrum")
    };
    assert_eq!((spectrum.axis.first(), spectrum.real[0]), (Ppm(9.0), 1.5));
}

#[test]
fn three_columns_from_zero_upwards_are_an_fid() {
    let text: String = (0..8).map(|i| format!("{} {} {}\n", 0.001 * f64::from(i), 8 - i, i)).collect();
    let document = go(&text).unwrap();
    assert_eq!(document.blocks[0].kind, Kind::Fid);
    let Measurement::Fid(fid) = document.blocks[0].measurement().unwrap() else { panic!("no FID") };
    assert!((fid.dwell.value() - 0.001).abs() < 1e-15);
    assert_eq!(fid.points[3].im, 3.0);
}

#[test]
fn one_column_needs_a_range() {
    let text = "1.5\n2\n-3\n40\n0.5\n";
    assert_eq!(go(text).unwrap_err().kind(), ErrorKind::Missing);
    let given = with(TextOptions { range: Some((9.0, 5.0)), ..TextOptions::default() });
    let document = read(text.as_bytes(), "a", &given).unwrap();
    assert_eq!(document.blocks[0].real_table().unwrap().first_x(), Some(9.0));
    check(&format!("# first = 9\n# last = 5\n{text}"));
}

#[test]
fn columns_can_be_named_by_the_caller() {
    let text: String = ROWS.iter().enumerate().map(|(i, (x, y))| format!("{i} {x} 7 {y}\n")).collect();
    assert_eq!(go(&text).unwrap_err().kind(), ErrorKind::Missing);
    let columns = Some(vec![Column::Skip, Column::X, Column::Skip, Column::Real]);
    let document =
        read(text.as_bytes(), "a", &with(TextOptions { columns, ..TextOptions::default() })).unwrap();
    assert_eq!(document.blocks[0].real_table().unwrap().y, ROWS.map(|row| row.1));
}

#[test]
fn uneven_abscissae_are_refused_or_resampled() {
    let text = "9 0\n8 10\n5 40\n4 50\n3 60\n";
    let error = go(text).unwrap_err();
    assert!(error.to_string().contains("abscissa 3 is 5 where even spacing has 6"), "{error}");
    let given = with(TextOptions { resample: true, ..TextOptions::default() });
    let document = read(text.as_bytes(), "a", &given).unwrap();
    assert_eq!(document.blocks[0].real_table().unwrap().y, [0.0, 15.0, 30.0, 45.0, 60.0]);
    assert!(document.warnings.iter().any(|w| w.contains("interpolated linearly")));
    let back_and_forth = read(b"9 0\n8 10\n8.5 40\n4 50\n3 60\n", "a", &given).unwrap_err().to_string();
    assert!(back_and_forth.contains("abscissae that go up and down"), "{back_and_forth}");
}

#[test]
fn damage_is_refused_with_its_place() {
    let error = go(&rows(" ", false).replace("40.0", "4o.0")).unwrap_err();
    assert_eq!((error.line(), error.column(), error.kind()), (Some(4), Some(5), ErrorKind::Damaged));
    let error = go(&rows(" ", false).replace(" 40.0", "")).unwrap_err();
    assert!(error.to_string().contains("line 4: 1 columns; allowed: 2 as before"), "{error}");
    for bad in ["nan", "inf", "1e999"] {
        assert!(go(&rows(" ", false).replace("40.0", bad)).is_err(), "{bad}");
    }
}

#[test]
fn text_after_the_table_is_ignored_with_a_warning() {
    let document = check(&(rows(" ", false) + "end of export\n"));
    assert!(document.warnings.iter().any(|w| w.contains("text after the table")));
}

#[test]
fn an_assumed_frequency_is_said() {
    let document = read(rows(" ", false).as_bytes(), "a", &ReadOptions::default()).unwrap();
    let chosen = document.measurements(lees_format::Prefer::default()).unwrap();
    assert!(chosen[0].warnings.iter().any(|w| w.contains("frequency is unknown")));
    assert_eq!(document.blocks[0].summary().field_mhz, None);
}

#[test]
fn a_frequency_named_in_passing_counts_unless_two_are() {
    for (head, field) in [
        ("# chalcone, 1H NMR (300 MHz, CDCl3)\n", Some(300.0)),
        ("# run at 399.78MHz, field as usual\n", Some(399.78)),
        ("# 1H 500 MHz\n# 13C 126 MHz\n", None),
        ("# frequency = 80 MHz\n# console of the 400 MHz instrument\n", Some(80.0)),
        ("# MHz unknown\n", None),
    ] {
        let text = head.to_owned() + &rows("\t", false);
        let document = read(text.as_bytes(), "a.txt", &ReadOptions::default()).unwrap();
        assert_eq!(document.blocks[0].field.map(|field| field.0), field, "{head}");
    }
}
