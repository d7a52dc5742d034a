//! Many spectra on a terminal, drying series and the steps of processing.

#![allow(clippy::unwrap_used)]

mod fixture;

use fixture::{batch, estimate};
use lees_core::BlockSummary;
use lees_core::check::Verdict;
use lees_core::rack::{Brief, Content, LeftOut, Motion, Point, Pool, Tags, Trend};
use lees_report::ReportError;
use lees_report::figure::{DryingChart, DryingPoint, Steps, drying, steps};
use lees_report::json::InspectFile;
use lees_report::terminal::{self, DryingStory, LookupRow, RackRow, Style};
use roxmltree::Document;

/// A fraction of a column with so many moles of 2-propanol per mole of dye.
fn fraction(name: &str, propanol: f64, mass_g: Option<f64>) -> Brief {
    let tags = Tags { fraction: Some(name.to_owned()), mass_g, ..Tags::default() };
    Brief::new(&batch(propanol, &format!("rack/{name}.jdx")), &tags)
}

/// The line that starts with a text, its runs of spaces made one.
fn line(text: &str, start: &str) -> String {
    let squeezed = |line: &str| line.split_whitespace().collect::<Vec<_>>().join(" ");
    let found = text.lines().map(squeezed).find(|line| line.starts_with(start));
    found.unwrap_or_else(|| format!("no line `{start}` in\n{text}"))
}

#[test]
fn a_rack_has_a_row_for_each_spectrum_and_counts_the_verdicts() {
    let (wet, dry) = (fraction("1", 0.05, None), fraction("2", 0.005, None));
    let why = "rack/3.jdx: line 4: not a number";
    let rows = [RackRow::Checked(&wet), RackRow::Checked(&dry), RackRow::Failed("rack/3.jdx", why)];
    let text = terminal::rack(&rows, &Style::default());
    assert!(text.starts_with("  in rack/\n"), "{text}");
    let worst = format!("2-propanol {:.3} of 0.5", wet.worst().unwrap().wt_percent.unwrap().value);
    let first = line(&text, "1.jdx NEEDS DRYING");
    assert!(first.contains(&worst) && first.contains(" to "), "{first} has no {worst}");
    assert!(line(&text, "2.jdx DRY").contains("of 0."));
    assert_eq!(line(&text, "3.jdx"), "3.jdx FAILED line 4: not a number");
    assert!(line(&text, "3 spectra:").ends_with("1 dry, 1 failed, 1 needs drying"), "{text}");
}

#[test]
fn what_is_not_known_of_a_spectrum_is_said() {
    let mut bare = fraction("1", 0.05, None);
    (bare.total, bare.unexplained, bare.unexplained_percent) = (None, 3, None);
    bare.warnings = vec!["a".to_owned(), "b".to_owned()];
    bare.contents[0] = Content { name: "2-propanol".to_owned(), wt_percent: None, limit_wt_percent: None };
    bare.worst = Some(0);
    let said = terminal::rack_line(&bare);
    assert_eq!(
        said,
        "checked rack/1.jdx: NEEDS DRYING, sum n/a wt %, worst 2-propanol, unexplained 3 signals, warnings 2\n"
    );
    (bare.worst, bare.unexplained) = (None, 0);
    assert!(terminal::rack_line(&bare).contains("worst none found, unexplained none, warnings 2"));
}

#[test]
fn fractions_are_ranked_in_the_order_given_and_a_long_list_is_cut() {
    let rack: Vec<Brief> = (1..=23).map(|n| fraction(&n.to_string(), 0.005, Some(0.5))).collect();
    let order: Vec<usize> = (0..rack.len()).rev().collect();
    let text = terminal::ranking(&rack, &order, &Style::default());
    assert!(line(&text, "1. 23").starts_with("1. 23 DRY "), "{text}");
    assert!(line(&text, "20. 4").ends_with(" 0.5"), "{text}");
    assert!(!text.contains("21."), "{text}");
    assert_eq!(line(&text, "and"), "and 3 more");
}

#[test]
fn a_pool_names_its_members_as_runs_and_why_others_stay_out() {
    let rack: Vec<Brief> = (4..=8).map(|n| fraction(&n.to_string(), 0.005, Some(0.5))).collect();
    let content =
        |wt_percent| Content { name: "2-propanol".to_owned(), wt_percent, limit_wt_percent: Some(0.5) };
    let found = Pool {
        members: vec![0, 1, 2, 4],
        left_out: vec![LeftOut { index: 3, why: "an unexplained signal".to_owned() }],
        mass_g: Some(2.0),
        product_g: Some(estimate(1.98, 0.01)),
        total: Some(estimate(0.8, 0.05)),
        total_limit: None,
        contents: vec![content(Some(estimate(0.42, 0.02))), content(None)],
    };
    let text = terminal::pool(&rack, &found, &Style::default());
    assert!(
        line(&text, "pool 4-6, 8: 2.00 g, of it 1.98 g product;").contains("0.800 (0.702 to 0.898) wt %"),
        "{text}"
    );
    assert_eq!(line(&text, "2-propanol"), "2-propanol 0.420 (0.381 to 0.459) wt %, limit 0.5");
    assert_eq!(text.matches("2-propanol").count(), 1, "what is not known has no line");
    assert_eq!(line(&text, "not"), "not 7: an unexplained signal");
    let unweighed = terminal::pool(&rack, &Pool { mass_g: None, ..found.clone() }, &Style::default());
    assert!(unweighed.contains("no masses given"), "{unweighed}");
    let mut one_missing = rack;
    one_missing[1].tags.mass_g = None;
    let text = terminal::pool(&one_missing, &Pool { mass_g: None, ..found.clone() }, &Style::default());
    assert!(text.contains("if the fractions weigh the same (5 has no mass)"), "{text}");
    let none = terminal::pool(&one_missing, &Pool { members: Vec::new(), ..found }, &Style::default());
    assert!(none.contains("No fraction meets the limits"), "{none}");
}

#[test]
fn a_trend_says_what_the_last_step_did() {
    let point = |hours, total, verdict| Point { hours, total, verdict };
    let points = vec![
        point(0.0, Some(estimate(2.0, 0.1)), Verdict::NeedsDrying),
        point(2.5, None, Verdict::Undecided),
    ];
    let trend = |batch: &str, last_step| Trend { batch: batch.to_owned(), points: points.clone(), last_step };
    let trends = [
        trend("LD-7", Motion::Falling),
        trend("", Motion::Still),
        trend("LD-8", Motion::Rising),
        trend("LD-9", Motion::Unknown),
    ];
    let text = terminal::trends(&trends, &Style::default());
    for said in
        ["Drying of LD-7\n", "\nDrying\n", "still took something out", "changed nothing", "rose", "not known"]
    {
        assert_eq!(text.matches(said).count(), 1, "{said} in {text}");
    }
    assert_eq!(line(&text, "0 2.00"), "0 2.00 (1.80 to 2.20) NEEDS DRYING");
    assert_eq!(line(&text, "2.5"), "2.5 n/a UNDECIDED");
    assert_eq!(terminal::trends(&[], &Style::default()), "");
}

#[test]
fn a_drying_story_begins_with_the_answer_and_ends_with_the_caution() {
    let story = DryingStory {
        of: "2-propanol".to_owned(),
        rows: vec![
            (0.0, "a.jdx".to_owned(), estimate(2.0, 0.1)),
            (6.5, "b.jdx".to_owned(), estimate(0.4, 0.02)),
        ],
        law: Some(("exponential".to_owned(), 0.876)),
        sentence: "The limit is reached after 9 h.".to_owned(),
        warnings: vec!["Only two points.".to_owned()],
    };
    let text = terminal::drying(&story, &Style::default());
    assert!(text.starts_with("The limit is reached after 9 h.\n\nContent of 2-propanol\n"), "{text}");
    assert!(line(&text, "6.5").starts_with("6.5 0.400 (0.361 to 0.439) b.jdx"), "{text}");
    assert!(text.contains("Best law: exponential (weight 0.88 among"), "{text}");
    let place = |words: &str| text.find(words).unwrap_or_else(|| panic!("{words} in {text}"));
    assert!(place("Only two points.") < place("local rules and safety data sheets"));
    let lawless = terminal::drying(&DryingStory { law: None, ..story }, &Style::default());
    assert!(!lawless.contains("Best law"));
}

#[test]
fn inspecting_says_what_is_known_and_what_is_not() {
    let block = BlockSummary {
        title: "dye, crystals".to_owned(),
        data_type: "NMR SPECTRUM".to_owned(),
        kind: "spectrum".to_owned(),
        nucleus: Some("1H".to_owned()),
        field_mhz: Some(400.13),
        points: Some(16_384),
        x_unit: Some("HZ".to_owned()),
        first_x: Some(5600.0),
        last_x: Some(-800.0),
        y_min: Some(-12.0),
        y_max: Some(3.5e6),
        ..BlockSummary::default()
    };
    let bare = BlockSummary { kind: "peaks".to_owned(), has_imaginary: true, ..BlockSummary::default() };
    let file = InspectFile {
        path: "a.jdx".to_owned(),
        blocks: vec![block, bare],
        warnings: vec!["two spectra".to_owned()],
    };
    let text = terminal::inspect(&file, &Style::default()).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(text.starts_with(
        "a.jdx 1. \"dye, crystals\", spectrum (NMR SPECTRUM), 1H, 400.13 MHz, solvent not stated"
    ));
    assert!(
        text.contains("16384 points, x 5600.00 to -800.000 HZ, y -1.2000e1 to 3.5000e6, real part only"),
        "{text}"
    );
    assert!(text.contains("2. peaks (), nucleus not stated, field not stated"), "{text}");
    assert!(text.ends_with("real and imaginary part warning: two spectra"), "{text}");
}

#[test]
fn a_lookup_has_its_facts_and_says_when_nothing_is_there() {
    let row = LookupRow {
        name: "acetone".to_owned(),
        group: "CH3".to_owned(),
        place: "2.17".to_owned(),
        protons: "6".to_owned(),
        pattern: "s".to_owned(),
        trust: "0.02".to_owned(),
        note: "sharp".to_owned(),
    };
    let facts = ["boils at 56 C".to_owned()];
    let text = terminal::lookup("near 2.17", &facts, &[row], &Style::default());
    assert!(text.starts_with("near 2.17\n  boils at 56 C\n"), "{text}");
    assert_eq!(line(&text, "2.17"), "2.17 acetone CH3 6 s 0.02 sharp");
    let nothing = terminal::lookup("near 30", &[], &[], &Style::default());
    assert_eq!(nothing, "near 30\n  no tabulated signal\n");
}

/// Numbers of a path: its corners.
fn corners(path: &str) -> Vec<(f64, f64)> {
    let numbers: Vec<f64> = path
        .split(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-'))
        .filter_map(|number| number.parse().ok())
        .collect();
    numbers.chunks_exact(2).map(|pair| (pair[0], pair[1])).collect()
}

#[test]
fn a_drying_chart_falls_as_the_content_does() {
    let point = |hours, wt_percent: f64| DryingPoint {
        hours,
        wt_percent,
        low: 0.9 * wt_percent,
        high: 1.1 * wt_percent,
    };
    let chart = DryingChart {
        title: "all volatiles".to_owned(),
        points: vec![point(0.0, 2.0), point(2.0, 0.9), point(6.0, 0.2)],
        curve: (0..=12).map(|k| point(f64::from(k) / 2.0, 2.0 * libm::exp(-0.2 * f64::from(k)))).collect(),
        limit: Some(0.5),
        reached: Some(3.5),
    };
    let svg = drying(&chart).unwrap();
    let document = Document::parse(svg.as_str()).unwrap();
    let number =
        |node: &roxmltree::Node<'_, '_>, name: &str| node.attribute(name).unwrap().parse::<f64>().unwrap();
    let circles: Vec<(f64, f64)> = document
        .descendants()
        .filter(|node| node.has_tag_name("circle"))
        .map(|node| (number(&node, "cx"), number(&node, "cy")))
        .collect();
    assert_eq!(circles.len(), 3);
    assert!(circles.windows(2).all(|pair| pair[0].0 < pair[1].0 && pair[0].1 < pair[1].1), "{circles:?}");
    let share = (circles[1].0 - circles[0].0) / (circles[2].0 - circles[0].0);
    assert!((share - 1.0 / 3.0).abs() < 0.01, "hours are drawn to scale: {share}");
    let texts: Vec<&str> = document.descendants().filter(|n| n.is_text()).filter_map(|n| n.text()).collect();
    let said = |words: &str| texts.iter().any(|text| text.trim() == words);
    assert!(said("limit 0.5 wt%") && said("content / wt%") && said("all volatiles"), "{texts:?}");
    assert!(said("fit with 95 % band"), "{texts:?}");
    let foot = |words: &str| -> f64 {
        let text = |n: &roxmltree::Node<'_, '_>| n.text().is_some_and(|t| t.trim() == words);
        number(&document.descendants().find(|n| n.has_tag_name("text") && text(n)).unwrap(), "y")
    };
    let class = |name: &'static str| document.descendants().find(move |n| n.attribute("class") == Some(name));
    let drawn =
        ["band", "limit", "points"].into_iter().filter_map(class).flat_map(|group| group.descendants());
    let tops = drawn.filter_map(|n| n.attribute("points").map(str::to_owned));
    let highest = tops.flat_map(|points| corners(&points)).map(|p| p.1).fold(f64::MAX, f64::min);
    for words in ["limit 0.5 wt%", "fit with 95 % band"] {
        assert!(foot(words) < highest, "{words} is written over what is drawn");
    }
    let without = drying(&DryingChart { limit: None, curve: Vec::new(), ..chart }).unwrap();
    assert!(!without.as_str().contains("limit 0.5"));
    assert!(without.as_str().len() < svg.as_str().len());
}

#[test]
fn steps_show_what_was_removed_fitted_and_left() {
    let check = batch(0.05, "steps.jdx");
    let points = check.spectrum.real.len();
    let (baseline, noise) = (vec![4_000.0; points], vec![fixture::NOISE; points]);
    let values = check.spectrum.real.to_vec();
    let svg = steps(&check, &Steps { baseline: &baseline, model: &values, noise: &noise }).unwrap();
    let document = Document::parse(svg.as_str()).unwrap();
    let headings: Vec<&str> =
        document.descendants().filter(|n| n.has_tag_name("text")).filter_map(|n| n.text()).collect();
    for word in ["baseline (orange)", "fitted lines (blue)", "residual over local noise, -8 to 8"] {
        assert!(headings.iter().any(|text| text.contains(word)), "{word} in {headings:?}");
    }
    let curves: Vec<Vec<(f64, f64)>> = document
        .descendants()
        .filter(|n| n.has_tag_name("g") && n.attribute("class") == Some("step"))
        .filter_map(|n| n.descendants().find_map(|n| n.attribute("points").or_else(|| n.attribute("d"))))
        .map(corners)
        .collect();
    assert_eq!(curves.len(), 7, "two, two, and a residual between two levels");
    let flat = |curve: &[(f64, f64)]| curve.iter().all(|(_, y)| (y - curve[0].1).abs() < 1e-6);
    let wanted = [false, true, false, false, true, true, true];
    assert_eq!(
        curves.iter().map(|c| flat(c)).collect::<Vec<_>>(),
        wanted,
        "a model that is the spectrum leaves nothing"
    );
    let (middle, over, under) = (curves[4][0].1, curves[5][0].1, curves[6][0].1);
    assert!((over + under - 2.0 * middle).abs() < 1.5 && over < middle, "{over} {middle} {under}");
    let short = Steps { baseline: &baseline[1..], model: &values, noise: &noise };
    assert!(matches!(steps(&check, &short), Err(ReportError::Empty)));
}
