use super::*;

fn one(line: &str) -> ExpectedSignal {
    let signals = parse(line).unwrap();
    assert_eq!(signals.len(), 1, "{line}");
    signals[0].clone()
}

fn pattern(signal: &ExpectedSignal) -> String {
    signal.multiplicity.as_ref().map(ToString::to_string).unwrap_or_default()
}

fn couplings(signal: &ExpectedSignal) -> Vec<f64> {
    signal.couplings.iter().map(|j| j.value()).collect()
}

#[test]
fn a_whole_line_with_its_preamble() {
    let line =
        "1H NMR (400 MHz, CDCl3) δ 7.35–7.28 (m, 5H), 4.12 (q, J = 7.1 Hz, 2H, OCH2), 1.25 (t, J = 7.1, 3H).";
    let signals = parse(line).unwrap();
    assert_eq!(signals.len(), 3);
    assert_eq!((signals[0].range.high, signals[0].range.low), (Ppm(7.35), Ppm(7.28)));
    assert_eq!(signals[1].assignment.as_deref(), Some("OCH2"));
    assert_eq!(couplings(&signals[2]), [7.1]);
    assert_eq!(signals.iter().map(|s| s.protons).sum::<f64>(), 10.0);
}

#[test]
fn preambles_met_in_papers() {
    for line in [
        "7.71 (d, J = 9.5 Hz, 1H)",
        "δ 7.71 (d, J = 9.5 Hz, 1H)",
        "δH 7.71 (d, J = 9.5 Hz, 1H)",
        "δ (ppm) 7.71 (d, J = 9.5 Hz, 1H)",
        "δ/ppm = 7.71 (d, J = 9.5 Hz, 1H)",
        "¹H-NMR (CDCl3, 300 MHz): δ = 7.71 (d, J = 9.5 Hz, 1H)",
        "1H NMR (300 MHz, CDCl3): 7.71 ppm (d, J = 9.5 Hz, 1H)",
        "1H NMR (300 MHz, CDCl3) 7.71 (d, J = 9.5 Hz, 1H)",
        "1H NMR, CDCl3, 300 MHz: 7.71 (1H, d, J 9.5)",
        "7.71 (d, J = 9.5 Hz, 1 H) ppm.",
    ] {
        let signal = one(line);
        assert_eq!((signal.range.high, signal.protons), (Ppm(7.71), 1.0), "{line}");
        assert_eq!(couplings(&signal), [9.5], "{line}");
        assert_eq!(pattern(&signal), "d", "{line}");
    }
}

#[test]
fn couplings_in_all_spellings() {
    for (text, expected) in [
        ("J = 8.2, 1.5 Hz", vec![8.2, 1.5]),
        ("J=8.2 Hz, J=1.5 Hz", vec![8.2, 1.5]),
        ("J = 8.2 and 1.5 Hz", vec![8.2, 1.5]),
        ("J 8.2, 1.5", vec![8.2, 1.5]),
        ("3JHH = 8.2 Hz, 4JHH = 1.5 Hz", vec![8.2, 1.5]),
        ("³J(H,H) = 8.2 Hz, J2 = 1.5", vec![8.2, 1.5]),
        ("J = 8.2/1.5 Hz", vec![8.2, 1.5]),
        ("J = 8 Hz", vec![8.0]),
    ] {
        assert_eq!(couplings(&one(&format!("7.0 (dd, {text}, 1H)"))), expected, "{text}");
    }
}

#[test]
fn order_is_free_and_patterns_may_be_missing_or_broad() {
    let signal = one("7.0 (2H, ArH, t, J = 7 Hz)");
    assert_eq!((pattern(&signal).as_str(), signal.assignment.as_deref()), ("t", Some("ArH")));
    assert_eq!(one("7.0 (2H)").multiplicity, None);
    assert_eq!(pattern(&one("5.1 (br s, 1H, NH)")), "br s");
    assert_eq!(pattern(&one("5.1 (s, br, 1H)")), "br s");
    assert_eq!(pattern(&one("5.1 (brs, 1H)")), "br s");
    assert_eq!(pattern(&one("5.1 (app t, J = 7 Hz, 1H)")), "t");
    assert_eq!(one("1.0 (2 × 3H, d, J = 7)").protons, 6.0);
    assert_eq!(one("1.0 (s, 1.5H)").protons, 1.5);
    assert_eq!(one("1.0 (s, 3H, H-3, C(CH3)2, x)").assignment.as_deref(), Some("H-3, C(CH3)2, x"));
}

#[test]
fn dashes_decimal_commas_and_negative_shifts() {
    for dash in ["-", "–", "—", "−", " - ", "‑", " to "] {
        let signal = one(&format!("7.35{dash}7.28 (m, 5H)"));
        assert_eq!((signal.range.high, signal.range.low), (Ppm(7.35), Ppm(7.28)), "{dash}");
    }
    let signal = one("7,35–7,28 (m, 5H)");
    assert_eq!((signal.range.high, signal.range.low), (Ppm(7.35), Ppm(7.28)));
    assert_eq!(one("-0.05 (s, 9H)").range.high, Ppm(-0.05));
    assert_eq!(one("−0.05 (s, 9H)").range.high, Ppm(-0.05));
    let signal = one("0.10 – -0.05 (m, 2H)");
    assert_eq!((signal.range.high, signal.range.low), (Ppm(0.10), Ppm(-0.05)));
}

#[test]
fn signals_may_be_separated_in_several_ways() {
    for line in [
        "2.1 (s, 3H), 1.2 (s, 9H)",
        "2.1 (s, 3H); 1.2 (s, 9H);",
        "2.1 (s, 3H) and 1.2 (s, 9H)",
        "2.1 (s, 3H) 1.2 (s, 9H)",
    ] {
        assert_eq!(parse(line).unwrap().len(), 2, "{line}");
    }
}

#[test]
fn faults_name_the_column() {
    for (line, column, words) in [
        ("", 1, "no signal"),
        ("7.35 (m, 5H), x (s, 1H)", 15, "`x (s, 1H)`"),
        ("7.35 (m, 5H), 4.1", 18, "the end of the line"),
        ("7.35 (m)", 7, "without protons"),
        ("δ 7.35 (d, J = seven Hz, 1H)", 12, "J = seven Hz"),
        ("7.35 (m, 5H, 2H)", 14, "`2H`"),
        ("735 (m, 5H)", 1, "`735`"),
        ("7.35 (m, 5H", 6, "`(m, 5H`"),
        ("7.35 (m, 0H)", 10, "`0H`"),
        ("7.35 (x, 5H)", 7, "pattern `x` in `(x, 5H)`; allowed: s, d, t"),
        ("7.35 (s, J = 4 Hz, 1H)", 7, "a singlet with a coupling"),
        ("13C NMR (101 MHz, CDCl3) δ 160.9 (C=O), 21.4 (CH3)", 28, "looks like a carbon-13 line"),
    ] {
        let error = parse(line).unwrap_err();
        assert_eq!(error.column(), Some(column), "{line}: {error}");
        assert!(error.to_string().contains(words), "{line}: {error}");
    }
}

#[test]
fn the_proton_part_of_an_experimental_section_is_read() {
    let headed = "δH (400 MHz, CDCl3) 8.79 (1H, s), 1.25 (6H, t, J 7.1)";
    assert_eq!(parse(headed).unwrap().len(), 2);
    assert_eq!(nmr_solvent(headed).as_deref(), Some("CDCl3"));
    for tail in [
        "13C NMR (101 MHz, CDCl3) δ 160.9, 21.4.",
        "δC (101 MHz) 160.9; HRMS (ESI) m/z 301.1",
        "¹³C NMR: 21.4",
    ] {
        let line = format!("1H NMR (400 MHz, CDCl3) δ 8.79 (s, 1H), 1.25 (t, J = 7.1 Hz, 6H); {tail}");
        assert_eq!(parse(&line).unwrap().len(), 2, "{line}");
    }
}

#[test]
fn ranges_alone() {
    assert_eq!(range("7.3-7.5").unwrap(), ShiftRange::new(Ppm(7.5), Ppm(7.3)));
    assert_eq!(range(" 2.17 ppm").unwrap(), ShiftRange::new(Ppm(2.17), Ppm(2.17)));
    assert!(range("a-b").is_err());
    assert!(range("7.3-7.5 x").is_err());
}
