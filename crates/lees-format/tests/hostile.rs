//! Inputs made to hurt: each gets one clear line, quickly and without much memory.

#![allow(clippy::unwrap_used, clippy::panic, clippy::print_stdout)]

use std::io::Write;

use lees_format::{ErrorKind, FormatError, Limits, ReadOptions, read};

const HEAD: &str = "##TITLE= x\n##JCAMP-DX= 5.01\n##DATA TYPE= NMR SPECTRUM\n##.OBSERVE FREQUENCY= 400\n##XUNITS= PPM\n\
    ##FIRSTX= 9\n##LASTX= 0\n";

fn fails(bytes: &[u8]) -> FormatError {
    let error = read(bytes, "bad", &ReadOptions::default()).unwrap_err();
    let line = error.to_string();
    assert!(!line.contains('\n') && line.len() < 400, "{line}");
    error
}

fn gzip(bytes: &[u8]) -> Vec<u8> {
    let mut encoder = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::best());
    encoder.write_all(bytes).unwrap();
    encoder.finish().unwrap()
}

fn zip(members: &[(&str, &[u8])]) -> Vec<u8> {
    let mut writer = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    for (name, bytes) in members {
        writer.start_file(*name, zip::write::SimpleFileOptions::default()).unwrap();
        writer.write_all(bytes).unwrap();
    }
    writer.finish().unwrap().into_inner()
}

#[test]
fn a_promised_size_reserves_nothing() {
    let text = format!("{HEAD}##NPOINTS= 1000000000000\n##XYDATA= (X++(Y..Y))\n9 1 2 3 4\n##END=\n");
    assert!(fails(text.as_bytes()).to_string().contains("4 points where NPOINTS says 1000000000000"));
}

#[test]
fn huge_repeats_are_refused() {
    for repeat in ["S000000000", "s99999999999999999999", "S.5"] {
        let text = format!("{HEAD}##NPOINTS= 4\n##XYDATA= (X++(Y..Y))\n9A{repeat}\n##END=\n");
        assert_eq!(fails(text.as_bytes()).kind(), ErrorKind::Limit, "{repeat}");
    }
}

#[test]
fn deep_nesting_is_refused() {
    let text = "##TITLE= a\n##DATA TYPE= LINK\n".repeat(100_000);
    assert!(fails(text.as_bytes()).to_string().contains("nested more than 16 deep"));
}

#[test]
fn many_blocks_and_records_are_refused() {
    assert_eq!(fails("##TITLE= a\n##END=\n".repeat(10_000).as_bytes()).kind(), ErrorKind::Limit);
    assert_eq!(
        fails(format!("##TITLE= a\n{}", "##A=\n".repeat(300_000)).as_bytes()).kind(),
        ErrorKind::Limit
    );
}

#[test]
fn very_long_lines_are_refused() {
    let text = format!("{HEAD}##NPOINTS= 4\n##XYDATA= (X++(Y..Y))\n9 {}\n##END=\n", "1 ".repeat(10 << 20));
    assert!(fails(text.as_bytes()).to_string().contains("a line of 20971522 bytes"));
    assert_eq!(fails("1 ".repeat(10 << 20).as_bytes()).kind(), ErrorKind::NotText);
}

#[test]
fn limits_can_be_raised_and_lowered() {
    let text = format!("{HEAD}##NPOINTS= 4\n##XYDATA= (X++(Y..Y))\n9 1 2 3 4\n##END=\n");
    let limits = Limits { points: 3, ..Limits::default() };
    let error = read(text.as_bytes(), "a", &ReadOptions { limits, ..ReadOptions::default() }).unwrap_err();
    assert_eq!((error.kind(), error.line(), error.column()), (ErrorKind::Limit, Some(10), Some(9)));
    let limits = Limits { input_bytes: 10, ..Limits::default() };
    let error = read(text.as_bytes(), "a", &ReadOptions { limits, ..ReadOptions::default() }).unwrap_err();
    assert_eq!(error.kind(), ErrorKind::Limit);
}

#[test]
fn bombs_are_refused() {
    let zeros = vec![b'0'; 100 << 20];
    assert_eq!(fails(&gzip(&zeros)).kind(), ErrorKind::Limit);
    assert_eq!(fails(&zip(&[("a.jdx", &zeros)])).kind(), ErrorKind::Limit);
    let mut nested = b"1 2\n".to_vec();
    for _ in 0..5 {
        nested = gzip(&nested);
    }
    assert!(fails(&nested).to_string().contains("archive inside archives"));
}

#[test]
fn archives_hold_several_spectra() {
    let good = format!("{HEAD}##NPOINTS= 4\n##XYDATA= (X++(Y..Y))\n9 1 2 3 4\n##END=\n");
    let plain = b"9 1\n8 2\n7 3\n6 4\n";
    let archive = zip(&[
        ("batch/a.jdx", good.as_bytes()),
        ("__MACOSX/._a.jdx", b"\0\0\0\0"),
        ("b.txt", plain),
        ("photo.png", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR"),
        ("c.jdx.gz", &gzip(good.as_bytes())),
    ]);
    let document = read(&archive, "all.zip", &ReadOptions::default()).unwrap();
    let sources: Vec<&str> = document.blocks.iter().map(|block| block.source.as_str()).collect();
    assert_eq!(sources, ["all.zip/batch/a.jdx", "all.zip/b.txt", "all.zip/c.jdx.gz"]);
    assert!(
        document.warnings.iter().any(|w| w.contains("photo.png: a PNG image")),
        "{:?}",
        document.warnings
    );
}

#[test]
fn broken_archives_are_damage() {
    let mut bytes = gzip(b"9 1\n8 2\n7 3\n6 4\n");
    bytes.truncate(bytes.len() - 9);
    assert_eq!(fails(&bytes).kind(), ErrorKind::Damaged);
    let bytes = zip(&[("a.jdx", b"9 1\n8 2\n")]);
    assert_eq!(fails(&bytes[..20]).kind(), ErrorKind::Damaged);
    assert_eq!(fails(&zip(&[])).kind(), ErrorKind::Empty);
}

#[test]
fn what_is_no_spectrum_gets_one_clear_line() {
    for (bytes, words) in [
        (&b""[..], "the file is empty"),
        (b" \n\t\r\n", "only blanks"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\x01\0", "a PNG image"),
        (b"\xff\xd8\xff\xe0\0\x10JFIF\0\x01\x01\0\0\x01", "a JPEG image"),
        (b"%PDF-1.7\n1 0 obj", "a PDF document"),
        (b"\x7fELF\x02\x01\x01\0\0\0\0\0\0\0\0\0", "a program"),
        (b"\x01\x02\x03\x04\x05\x06\x07\x08", "a binary file"),
        (b"Dear all,\nplease find enclosed\n", "`Dear all,`"),
        (b"1 2\n3 4\n", "2 rows of numbers"),
    ] {
        let error = fails(bytes);
        assert!(error.to_string().contains(words), "{error}");
    }
}

#[test]
fn titles_are_fit_for_a_terminal() {
    let text = format!("{HEAD}##NPOINTS= 4\n##XYDATA= (X++(Y..Y))\n9 1 2 3 4\n##END=\n")
        .replace("##TITLE= x", "##TITLE= a\u{1b}]0;owned\u{7}\u{202e}b\tc");
    let document = read(text.as_bytes(), "a", &ReadOptions::default()).unwrap();
    assert_eq!(document.blocks[0].title, "a]0;ownedb c");
    let error = fails(text.replace("9 1 2 3 4", "9 1 2 \u{1b}[2J 4").as_bytes());
    assert!(!error.to_string().contains('\u{1b}'));
}
