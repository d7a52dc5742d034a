//! What is written for a reader and for a program.

#![allow(clippy::unwrap_used)]

mod fixture;

use lees_report::{json, terminal};
use serde_json::Value;
use unicode_width::UnicodeWidthStr;

fn object() -> Value {
    let line = json::check(&fixture::batch(0.05, "ld7/wet.jdx"));
    assert!(!line.contains('\n'), "one object is one line");
    serde_json::from_str(&line).unwrap()
}

#[test]
fn every_key_scripts_rely_on_is_there() {
    let object = object();
    let paths = "schema input/path input/title input/kind input/field_mhz input/solvent input/points \
        reference/signal reference/observed_ppm reference/expected_ppm reference/applied_ppm \
        product/name product/molar_mass product/signals/0/range_ppm product/signals/0/protons \
        product/signals/0/found_protons product/signals/0/used \
        volatiles/0/name volatiles/0/cas volatiles/0/mole_ratio volatiles/0/mol_percent volatiles/0/wt_percent \
        volatiles/0/wt_percent_low volatiles/0/wt_percent_high volatiles/0/detection_limit_wt_percent \
        volatiles/0/limit_wt_percent volatiles/0/status volatiles/0/signals/0/group volatiles/0/signals/0/ppm \
        volatiles/0/signals/0/protons volatiles/0/signals/0/multiplicity volatiles/0/signals/0/used \
        total/wt_percent total/wt_percent_low total/wt_percent_high total/limit_wt_percent \
        not_counted/0/name not_counted/0/why not_counted/0/wt_percent not_counted/0/signals \
        unexplained/0/ppm unexplained/0/relative_protons verdict reasons warnings settings";
    for path in paths.split_whitespace() {
        let value = object.pointer(&format!("/{path}"));
        assert!(value.is_some_and(|v| !v.is_null()), "{path} is missing");
    }
}

#[test]
fn what_cannot_be_told_is_named_after_what_can() {
    let plain = |check: &lees_core::check::Check| {
        let text = terminal::check(check, &terminal::Style::default());
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let mut check = fixture::batch(0.05, "ld7/wet.jdx");
    let both = "ethanol below 0.021 wt %; how much is there cannot be told of cyclohexane";
    assert!(plain(&check).contains(both), "{}", plain(&check));
    check.not_found.retain(|entry| entry.detection_limit_wt_percent.is_none());
    let none = plain(&check);
    assert!(none.contains("found how much is there cannot be told of cyclohexane"), "{none}");
}

#[test]
fn values_go_through_unchanged_and_unknown_is_null() {
    let mut check = fixture::batch(0.05, "ld7/wet.jdx");
    check.volatiles[0].wt_percent = None;
    check.volatiles[0].limit_wt_percent = None;
    check.reference = None;
    check.product = None;
    let object: Value = serde_json::from_str(&json::check(&check)).unwrap();
    assert_eq!(object["schema"], "lees/check/1");
    assert_eq!(object["input"]["kind"], "spectrum");
    assert_eq!(object["verdict"], "needs_drying");
    assert_eq!(object["volatiles"][0]["mole_ratio"], 0.05);
    assert_eq!(object["volatiles"][0]["signals"][0]["multiplicity"], "sept");
    for path in ["/volatiles/0/wt_percent", "/volatiles/0/wt_percent_low", "/volatiles/0/limit_wt_percent"] {
        assert_eq!(object.pointer(path), Some(&Value::Null), "{path}");
    }
    assert_eq!((&object["reference"], &object["product"]), (&Value::Null, &Value::Null));
    assert_eq!(object["settings"]["process.line_broadening_hz"], Value::Null);
}

#[test]
fn the_verdict_comes_first_and_the_sections_follow() {
    let text = terminal::check(&fixture::batch(0.05, "ld7/wet.jdx"), &terminal::Style::default());
    assert!(text.starts_with("NEEDS DRYING  ld7/wet.jdx"), "{text}");
    let order = [
        "NEEDS DRYING",
        "Found",
        "2-propanol",
        "all counted",
        "Not counted",
        "water",
        "Unexplained",
        "9.84",
        "Product",
        "Warnings",
        "Cautions",
    ];
    let mut from = 0;
    for word in order {
        from += text[from..].find(word).unwrap_or_else(|| panic!("{word} not after the last:\n{text}"));
    }
    assert!(text.contains("1.146 (1.041 to 1.251)") && text.contains("above limit"), "{text}");
}

#[test]
fn no_line_is_wider_than_the_terminal() {
    let mut check =
        fixture::batch(0.05, "a/very/long/path/to/a/spectrum/of/the/dye/after/the/second/column.jdx");
    check.volatiles[0].name = "1,1,2-trichloro-1,2,2-trifluoroethane".to_owned();
    for width in [40, 64, 80, 100, 140] {
        let style = terminal::Style { width, ..terminal::Style::default() };
        let text = terminal::check(&check, &style) + &terminal::explain(&check, &style);
        let least = width.max(66);
        for line in text.lines() {
            assert!(line.width() <= least, "{} columns of {width}: {line}", line.width());
        }
    }
}

#[test]
fn text_from_a_file_cannot_steer_the_terminal() {
    let mut check = fixture::batch(0.05, "wet.jdx");
    check.input.title = "dye\u{1b}]0;owned\u{7}\u{1b}[2J\r\nrow\u{202e}".to_owned();
    check.volatiles[0].name = "2-\u{1b}[31mpropanol".to_owned();
    let text = terminal::check(&check, &terminal::Style::default());
    assert!(text.chars().all(|c| c == '\n' || !c.is_control()), "{text:?}");
    assert!(!text.contains('\u{202e}'));
}

#[test]
fn colour_is_never_the_only_sign() {
    let check = fixture::batch(0.05, "wet.jdx");
    let plain = terminal::check(&check, &terminal::Style::default());
    let painted = terminal::check(&check, &terminal::Style { color: true, ..terminal::Style::default() });
    assert!(painted.contains("\u{1b}["));
    let mut stripped = String::new();
    let mut skipping = false;
    for c in painted.chars() {
        match c {
            '\u{1b}' => skipping = true,
            'm' if skipping => skipping = false,
            c if !skipping => stripped.push(c),
            _ => {}
        }
    }
    assert_eq!(stripped, plain);
}

#[test]
fn plain_terminals_get_ascii_only() {
    let mut check = fixture::batch(0.05, "wet.jdx");
    check.warnings.push("δ moved by 0.3 – see log".to_owned());
    let text = terminal::check(&check, &terminal::Style { unicode: false, ..terminal::Style::default() });
    assert!(text.is_ascii(), "{text}");
    assert!(text.contains("d moved by 0.3 - see log"));
}

#[test]
fn without_product_only_ratios_are_shown() {
    let mut check = fixture::batch(0.05, "wet.jdx");
    check.product = None;
    let text = terminal::check(&check, &terminal::Style::default());
    assert!(text.contains("mole ratio") && !text.contains("mol %"), "{text}");
}

#[test]
fn many_spectra_take_a_row_each() {
    let checks = [fixture::batch(0.05, "wet.jdx"), fixture::batch(0.004, "dried.jdx")];
    let rows = [
        terminal::Row::Checked(&checks[0]),
        terminal::Row::Failed("image.jdx", "not a spectrum"),
        terminal::Row::Checked(&checks[1]),
    ];
    let text = terminal::summary(&rows, &terminal::Style::default());
    let lines: Vec<_> = text.lines().collect();
    assert!(lines[1].contains("wet.jdx") && lines[1].contains("NEEDS DRYING"), "{text}");
    assert!(lines[2].contains("FAILED") && lines[2].contains("not a spectrum"), "{text}");
    assert!(text.ends_with("3 spectra: 1 dry, 1 failed, 1 needs drying\n"), "{text}");
}

#[test]
fn the_budget_names_every_share_and_its_remedy() {
    let text = terminal::explain(&fixture::batch(0.05, "wet.jdx"), &terminal::Style::default());
    for words in
        ["Uncertainty of 2-propanol", "saturation (T1 not known)", "3.4", "four times the scans", "under 1 %"]
    {
        assert!(text.contains(words), "{words}:\n{text}");
    }
}

#[test]
fn a_rival_stands_with_its_content_and_tiny_shares_are_bounds() {
    let mut check = fixture::batch(0.05, "ld7/wet.jdx");
    let content = lees_core::check::Estimate { value: 0.534, low: 0.479, high: 0.589, u: 0.028 };
    check.not_found[0].name = "diethyl ether".to_owned();
    assert!(terminal::check(&check, &terminal::Style::default()).contains("diethyl ether below 0.021"));
    let rival = lees_core::check::Rival { name: "diethyl ether".to_owned(), wt_percent: Some(content) };
    check.volatiles[0].rivals = vec![rival];
    check.volatiles[0].budget[2].percent = 0.000_034;
    let text = terminal::check(&check, &terminal::Style::default());
    assert!(!text.contains("diethyl ether below"), "what may be there is not said to be absent: {text}");
    let words: Vec<&str> = text.split_whitespace().collect();
    assert!(words.windows(2).any(|w| w == ["(0.534", "wt"]), "{text}");
    let explained = terminal::explain(&check, &terminal::Style::default());
    assert!(explained.contains("under 0.001") && !explained.contains("0.000034"), "{explained}");
}
