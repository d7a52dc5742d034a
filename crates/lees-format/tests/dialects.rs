//! One test a dialect: what is tolerated is a warning that says what was done, what is damaged an error that says
//! where, and strict reading takes no warning.

#![allow(clippy::unwrap_used, clippy::panic, clippy::print_stdout)]

use lees_format::{Document, ErrorKind, FormatError, Prefer, ReadOptions, read};

const HEAD: &str = "##TITLE= four points\n##JCAMP-DX= 5.01\n##DATA TYPE= NMR SPECTRUM\n##DATA CLASS= XYDATA\n\
    ##ORIGIN= a\n##OWNER= b\n##.OBSERVE FREQUENCY= 400\n##.OBSERVE NUCLEUS= ^1H\n##XUNITS= PPM\n\
    ##YUNITS= ARBITRARY UNITS\n##XFACTOR= 1\n##YFACTOR= 1\n";
const AXIS: &str = "##FIRSTX= 9\n##LASTX= 0\n##NPOINTS= 4\n";
const TABLE: &str = "##XYDATA= (X++(Y..Y))\n9 1 2\n3 5 0\n";

fn file(head: &str, axis: &str, table: &str) -> String {
    format!("{head}{axis}{table}##END=\n")
}

fn standard() -> String {
    file(HEAD, AXIS, TABLE)
}

fn go(bytes: &[u8]) -> Result<Document, FormatError> {
    read(bytes, "a.jdx", &ReadOptions::default())
}

/// Reads the four points, expects a warning with `words`, and expects strict reading to refuse with it.
fn tolerated(bytes: &[u8], words: &str) {
    let document = go(bytes).unwrap();
    let block = &document.blocks[0];
    assert_eq!(block.real_table().unwrap().y, [1.0, 2.0, 5.0, 0.0], "{words}");
    let (first, last) = (block.real_table().unwrap().first_x(), block.real_table().unwrap().last_x());
    assert_eq!((first, last), (Some(9.0), Some(0.0)), "{words}");
    assert!(document.warnings.iter().any(|w| w.contains(words)), "{words}: {:?}", document.warnings);
    let strict = ReadOptions { strict: true, ..ReadOptions::default() };
    let error = read(bytes, "a.jdx", &strict).unwrap_err();
    assert_eq!(error.kind(), ErrorKind::Strict);
}

fn damaged(bytes: &[u8], line: usize, words: &str) {
    let error = go(bytes).unwrap_err();
    assert_eq!(error.kind(), ErrorKind::Damaged, "{error}");
    assert_eq!(error.line(), Some(line), "{error}");
    assert!(error.to_string().contains(words), "{error}");
    assert!(!error.to_string().contains('\n'));
}

#[test]
fn the_standard_needs_no_warning() {
    let document = go(standard().as_bytes()).unwrap();
    assert!(document.warnings.is_empty(), "{:?}", document.warnings);
    let strict = ReadOptions { strict: true, ..ReadOptions::default() };
    assert!(read(standard().as_bytes(), "a.jdx", &strict).is_ok());
}

#[test]
fn crlf_is_a_line_end_like_any_other() {
    let document = go(standard().replace('\n', "\r\n").as_bytes()).unwrap();
    assert!(document.warnings.is_empty(), "{:?}", document.warnings);
}

#[test]
fn lone_carriage_returns() {
    tolerated(standard().replace('\n', "\r").as_bytes(), "CR alone");
}

#[test]
fn a_byte_order_mark() {
    tolerated(format!("\u{feff}{}", standard()).as_bytes(), "byte order mark");
}

#[test]
fn latin_1() {
    let mut bytes = standard().replace("four", "f?ur").into_bytes();
    let at = bytes.iter().position(|b| *b == b'?').unwrap();
    bytes[at] = 0xfc;
    tolerated(&bytes, "Latin-1");
    assert_eq!(go(&bytes).unwrap().blocks[0].title, "füur points");
}

#[test]
fn utf_16() {
    let units: Vec<u8> = standard().encode_utf16().flat_map(u16::to_le_bytes).collect();
    tolerated(&[&[0xff, 0xfe], units.as_slice()].concat(), "UTF-16");
}

#[test]
fn a_missing_end_when_all_points_are_there() {
    tolerated(standard().replace("##END=\n", "").as_bytes(), "##END= of this block is missing");
}

#[test]
fn an_end_without_equals_sign() {
    let document = go(standard().replace("##END=", "##END").as_bytes()).unwrap();
    assert!(document.warnings[0].contains("no equals sign"));
}

#[test]
fn a_missing_npoints() {
    tolerated(standard().replace("##NPOINTS= 4\n", "").as_bytes(), "NPOINTS is missing");
}

#[test]
fn a_wrong_npoints_that_deltax_contradicts() {
    let axis = "##FIRSTX= 9\n##LASTX= 0\n##DELTAX= -3\n##NPOINTS= 5\n";
    tolerated(file(HEAD, axis, TABLE).as_bytes(), "4 points where NPOINTS says 5");
}

#[test]
fn decimal_commas() {
    let axis = "##FIRSTX= 9,0\n##LASTX= 0,0\n##NPOINTS= 4\n";
    let table = "##XYDATA= (X++(Y..Y))\n9,0 1,0 2,0\n3,0 5,0 0,0\n";
    tolerated(file(HEAD, axis, table).as_bytes(), "decimal comma");
}

#[test]
fn blank_lines_tabs_and_comments_are_no_deviation() {
    let table = "##XYDATA= (X++(Y..Y)) $$ all of it\n\n9\t1\t2 $$ half\n\n  3 5 0  \n\n";
    let document = go(file(HEAD, AXIS, table).as_bytes()).unwrap();
    assert_eq!(document.blocks[0].real_table().unwrap().y, [1.0, 2.0, 5.0, 0.0]);
    assert!(document.warnings.is_empty(), "{:?}", document.warnings);
}

#[test]
fn text_after_the_table() {
    let table = format!("{TABLE}Thank you for using this instrument\n");
    tolerated(file(HEAD, AXIS, &table).as_bytes(), "text after the table");
}

#[test]
fn text_before_the_first_record() {
    tolerated(format!("exported today\n{}", standard()).as_bytes(), "text before the first record");
}

#[test]
fn long_lines() {
    let head = HEAD.replace("##ORIGIN= a", &format!("##ORIGIN= {}", "a".repeat(100)));
    tolerated(file(&head, AXIS, TABLE).as_bytes(), "lines up to 110 characters");
}

#[test]
fn a_form_without_its_last_bracket() {
    tolerated(standard().replace("(Y..Y))", "(Y..Y)").as_bytes(), "lacks a bracket");
}

#[test]
fn a_zero_factor() {
    tolerated(standard().replace("##YFACTOR= 1", "##YFACTOR= 0").as_bytes(), "YFACTOR is 0");
}

#[test]
fn lastx_against_deltax_is_settled_by_the_line_starts() {
    let axis = "##FIRSTX= 9\n##LASTX= -7\n##DELTAX= -3\n##NPOINTS= 4\n";
    tolerated(file(HEAD, axis, TABLE).as_bytes(), "support DELTAX");
    let axis = "##FIRSTX= 9\n##LASTX= 0\n##DELTAX= -5\n##NPOINTS= 4\n";
    tolerated(file(HEAD, axis, TABLE).as_bytes(), "DELTAX disagrees");
}

#[test]
fn a_missing_lastx() {
    tolerated(file(HEAD, "##FIRSTX= 9\n##DELTAX= -3\n##NPOINTS= 4\n", TABLE).as_bytes(), "LASTX is missing");
    tolerated(file(HEAD, "##NPOINTS= 4\n", TABLE).as_bytes(), "FIRSTX or LASTX is missing");
}

#[test]
fn a_check_ordinate_after_the_end_that_does_not_fit() {
    let table = "##XYDATA= (X++(Y..Y))\n9A%JL\n0@\n".replace("A%JL", "AJLn");
    tolerated(file(HEAD, AXIS, &table.replace("0@", "0A")).as_bytes(), "does not repeat it");
}

#[test]
fn difference_form_without_check_ordinates() {
    let table = "##XYDATA= (X++(Y..Y))\n9AJ\n3En\n";
    tolerated(file(HEAD, AXIS, table).as_bytes(), "no check ordinates");
}

#[test]
fn blocks_in_a_row_whose_end_is_missing() {
    let text = standard().replace("##END=\n", "") + &standard();
    let document = go(text.as_bytes()).unwrap();
    assert_eq!(document.blocks.len(), 2);
    assert!(document.warnings[0].contains("it ends where the next begins"));
}

#[test]
fn a_truncated_file_is_damage() {
    let whole = standard();
    let cut = &whole[..whole.find("3 5 0").unwrap()];
    damaged(cut.as_bytes(), 16, "2 points where NPOINTS says 4 and the file ends without ##END=");
    let cut = &whole[..whole.find("##XYDATA").unwrap()];
    damaged(cut.as_bytes(), 1, "ends before any data");
}

#[test]
fn a_lost_line_is_damage() {
    damaged(standard().replace("3 5 0\n", "").as_bytes(), 16, "2 points where NPOINTS says 4");
}

#[test]
fn a_lost_digit_in_difference_form_is_damage() {
    let table = "##XYDATA= (X++(Y..Y))\n9AJ\n6BL\n3En\n0@\n";
    assert!(go(file(HEAD, AXIS, table).as_bytes()).unwrap().warnings.is_empty());
    let hurt = table.replace("6BL", "6BM");
    damaged(file(HEAD, AXIS, &hurt).as_bytes(), 19, "check ordinate 5 where the line before ended at 6");
}

#[test]
fn letters_in_a_table_are_damage() {
    damaged(standard().replace("3 5 0", "3 5 0x").as_bytes(), 18, "`x`");
    damaged(standard().replace("3 5 0", "nan 5 0").as_bytes(), 18, "`nan 5 0`");
    damaged(standard().replace("3 5 0", "3 5 1E+999").as_bytes(), 18, "1E+999");
}

#[test]
fn other_techniques_are_refused_by_name_but_can_be_looked_at() {
    for (from, to, words) in [
        ("NMR SPECTRUM", "INFRARED SPECTRUM", "INFRARED SPECTRUM"),
        ("NMR SPECTRUM", "MASS SPECTRUM", "MASS SPECTRUM"),
        ("NMR SPECTRUM", "nD NMR SPECTRUM", "two or more dimensions"),
        ("^1H", "^13C", "NMR SPECTRUM of 13C"),
    ] {
        let document = go(standard().replace(from, to).as_bytes()).unwrap();
        assert_eq!(document.blocks[0].summary().points, Some(4));
        let error = document.measurements(Prefer::default()).unwrap_err();
        assert_eq!(error.kind(), ErrorKind::Refused);
        assert!(error.to_string().contains(words), "{error}");
    }
}

#[test]
fn a_hertz_axis_needs_a_frequency() {
    let text = standard().replace("##.OBSERVE FREQUENCY= 400\n", "").replace("PPM", "HZ");
    let error = go(text.as_bytes()).unwrap().measurements(Prefer::default()).unwrap_err();
    assert_eq!(error.kind(), ErrorKind::Missing);
    let options = ReadOptions { field: Some(lees_core::Megahertz(400.0)), ..ReadOptions::default() };
    assert!(read(text.as_bytes(), "a", &options).unwrap().measurements(Prefer::default()).is_ok());
}

#[test]
fn a_missing_ordinate_can_be_looked_at_but_not_measured() {
    let document = go(standard().replace("3 5 0", "3 ? 0").as_bytes()).unwrap();
    assert_eq!(document.blocks[0].summary().y_sum, Some(3.0));
    assert!(
        document
            .measurements(Prefer::default())
            .unwrap_err()
            .to_string()
            .contains("ordinate 3 of 4 is missing")
    );
}

#[test]
fn a_damaged_table_of_another_technique_can_still_be_looked_at() {
    let table = "##XYDATA= (X++(Y..Y))\n9AJ\n6BM\n3En\n0@\n";
    let text = file(HEAD, AXIS, table).replace("NMR SPECTRUM", "INFRARED SPECTRUM");
    let document = go(text.as_bytes()).unwrap();
    assert_eq!(document.blocks[0].summary().points, Some(4));
    assert!(
        document.warnings.iter().any(|w| w.contains("line 19: a check ordinate")),
        "{:?}",
        document.warnings
    );
    let text = file(HEAD, "##FIRSTX= 9\n##LASTX= 0\n##NPOINTS= 40\n", TABLE)
        .replace("NMR SPECTRUM", "INFRARED SPECTRUM");
    let document = go(text.as_bytes()).unwrap();
    assert_eq!(document.blocks[0].summary().points, Some(4));
    assert!(document.warnings.iter().any(|w| w.contains("NPOINTS says 40")), "{:?}", document.warnings);
}
