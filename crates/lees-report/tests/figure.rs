//! The structure of figures: what is labelled, where, and that nothing overlaps.

#![allow(clippy::unwrap_used)]

mod fixture;

use lees_core::check::Check;
use lees_core::{Ppm, ShiftRange};
use lees_report::ReportError;
use lees_report::figure::{Arrangement, FigureOptions, Insets, Svg, draw, pdf, png};
use resvg::usvg::{self, Group, Node, Tree};
use roxmltree::Document;

const UNITS_PER_PT: f64 = 2540.0 / 72.0;

fn plain() -> FigureOptions {
    FigureOptions { insets: Insets::None, ..FigureOptions::default() }
}

fn crowded() -> Check {
    fixture::check(&fixture::crowded(), &fixture::solvents(0.03), "crowded.jdx", "crowded dye")
}

fn groups<'a>(document: &'a Document<'_>, class: &str) -> Vec<roxmltree::Node<'a, 'a>> {
    let has = |n: &roxmltree::Node<'_, '_>| {
        n.attribute("class").is_some_and(|c| c.split(' ').any(|word| word == class))
    };
    document.descendants().filter(|n| n.has_tag_name("g") && has(n)).collect()
}

fn words(node: &roxmltree::Node<'_, '_>) -> Vec<String> {
    node.descendants()
        .filter(|n| n.has_tag_name("text"))
        .filter_map(|n| n.text())
        .map(|t| t.trim().to_owned())
        .collect()
}

#[test]
fn every_identified_signal_is_named_and_the_product_numbered() {
    let svg = draw(&[&fixture::batch(0.05, "wet.jdx")], &plain()).unwrap();
    let document = Document::parse(svg.as_str()).unwrap();
    let names: Vec<_> = groups(&document, "name").iter().flat_map(words).collect();
    assert_eq!(
        names,
        [
            "? 9.84",
            "chloroform",
            "dichloromethane",
            "ethyl acetate CH",
            "2-propanol CH",
            "ethyl acetate CH\u{2083}",
            "water",
            "(ethyl acetate CH\u{2083})",
            "(2-propanol CH\u{2083})"
        ]
    );
    let numbers: Vec<_> = groups(&document, "number").iter().flat_map(words).collect();
    assert_eq!(numbers, ["1", "1H", "2", "1H", "3", "1H", "4", "1H", "5", "4H", "6", "3H", "7", "6H"]);
    let axis: Vec<_> = groups(&document, "axis").iter().flat_map(words).collect();
    assert_eq!(axis.last().map(String::as_str), Some("δ(¹H) / ppm"));
    assert_eq!(axis.first().map(String::as_str), Some("1"));
}

/// The axis falls to the right, and each leader ends over its signal.
#[test]
fn leaders_end_at_their_signals() {
    let svg = draw(&[&fixture::batch(0.05, "wet.jdx")], &plain()).unwrap();
    let document = Document::parse(svg.as_str()).unwrap();
    let axis = &groups(&document, "axis")[0];
    let ticks: Vec<(f64, f64)> = axis
        .descendants()
        .filter(|n| n.has_tag_name("text"))
        .filter_map(|n| Some((n.text()?.trim().parse().ok()?, n.attribute("x")?.parse().ok()?)))
        .collect();
    let ((s0, x0), (s1, x1)) = (ticks[0], ticks[ticks.len() - 1]);
    assert!(s1 > s0 && x1 < x0, "shift falls to the right");
    let expected = |shift: f64| x0 + (shift - s0) / (s1 - s0) * (x1 - x0);
    for name in groups(&document, "name") {
        let shift: f64 = name.attribute("data-ppm").unwrap().parse().unwrap();
        let leader = name.descendants().find(|n| n.has_tag_name("polyline")).unwrap();
        let last = leader.attribute("points").unwrap().split_whitespace().last().unwrap();
        let x: f64 = last.split(',').next().unwrap().parse().unwrap();
        assert!((x - expected(shift)).abs() < 3.0, "{shift} ppm at {x}, not {}", expected(shift));
    }
}

/// Boxes as the renderer itself measures them, with the bundled typeface.
fn text_boxes(svg: &Svg) -> Vec<(String, usvg::Rect)> {
    let mut options = usvg::Options { font_family: "Lees Sans".to_owned(), ..usvg::Options::default() };
    for file in ["regular", "bold"] {
        let path = format!("{}/assets/lees-sans-{file}.ttf", env!("CARGO_MANIFEST_DIR"));
        options.fontdb_mut().load_font_file(path).unwrap();
    }
    let tree = Tree::from_str(svg.as_str(), &options).unwrap();
    let mut boxes = Vec::new();
    collect(tree.root(), &mut boxes);
    boxes
}

fn collect(group: &Group, boxes: &mut Vec<(String, usvg::Rect)>) {
    for node in group.children() {
        match node {
            Node::Group(inner) => collect(inner, boxes),
            Node::Text(text) => {
                let words: String = text.chunks().iter().map(|c| c.text()).collect();
                boxes.push((words.trim().to_owned(), node.abs_bounding_box()));
            }
            _ => {}
        }
    }
}

#[test]
fn no_label_covers_another_and_none_leaves_the_paper() {
    let (wet, crowd) = (fixture::batch(0.05, "wet.jdx"), crowded());
    let narrow = FigureOptions { width_mm: FigureOptions::ONE_COLUMN, ..FigureOptions::default() };
    let integrals = FigureOptions { integrals: true, heading: true, ..FigureOptions::default() };
    let overlaid = FigureOptions { arrangement: Arrangement::Overlaid, ..FigureOptions::default() };
    let figures: [(&[&Check], &FigureOptions); 6] = [
        (&[&wet], &FigureOptions::default()),
        (&[&wet], &narrow),
        (&[&crowd], &integrals),
        (&[&crowd], &narrow),
        (&[&wet, &crowd, &wet], &FigureOptions::default()),
        (&[&wet, &crowd], &overlaid),
    ];
    for (k, (checks, options)) in figures.into_iter().enumerate() {
        let svg = draw(checks, options).unwrap();
        let boxes = text_boxes(&svg);
        assert!(boxes.len() > 20, "figure {k} has {} texts", boxes.len());
        let (w, h) = svg.size_mm();
        let (w, h) = ((w / 25.4 * 96.0) as f32, (h / 25.4 * 96.0) as f32);
        for (i, (a, ra)) in boxes.iter().enumerate() {
            assert!(
                ra.left() >= 0.0 && ra.right() <= w && ra.top() >= 0.0 && ra.bottom() <= h,
                "{k}: {a} off paper"
            );
            for (b, rb) in &boxes[i + 1..] {
                assert!(!cover(ra, rb), "figure {k}: `{a}` {ra:?} covers `{b}` {rb:?}");
            }
        }
    }
}

/// Whether two boxes share more than a twentieth of a millimetre both ways.
fn cover(a: &usvg::Rect, b: &usvg::Rect) -> bool {
    let slack = 0.2;
    a.left() + slack < b.right()
        && b.left() + slack < a.right()
        && a.top() + slack < b.bottom()
        && b.top() + slack < a.bottom()
}

/// No leader or bracket runs through a name or a number.
#[test]
fn no_line_crosses_a_label() {
    for check in [fixture::batch(0.05, "wet.jdx"), crowded()] {
        for width_mm in [FigureOptions::ONE_COLUMN, FigureOptions::TWO_COLUMNS] {
            let svg = draw(&[&check], &FigureOptions { width_mm, ..FigureOptions::default() }).unwrap();
            let boxes = text_boxes(&svg);
            let scale = 96.0 / 2540.0;
            let document = Document::parse(svg.as_str()).unwrap();
            for class in ["name", "number", "trace"] {
                for group in groups(&document, class) {
                    for line in group.descendants().filter(|n| n.has_tag_name("polyline")) {
                        crosses(line.attribute("points").unwrap(), &boxes, scale);
                    }
                }
            }
        }
    }
}

fn crosses(points: &str, boxes: &[(String, usvg::Rect)], scale: f32) {
    let points: Vec<(f32, f32)> = points
        .split_whitespace()
        .map(|p| p.split_once(',').unwrap())
        .map(|(x, y)| (x.parse::<f32>().unwrap() * scale, y.parse::<f32>().unwrap() * scale))
        .collect();
    for pair in points.windows(2) {
        for k in 0..=20 {
            let t = k as f32 / 20.0;
            let (x, y) = (pair[0].0 + t * (pair[1].0 - pair[0].0), pair[0].1 + t * (pair[1].1 - pair[0].1));
            for (words, r) in boxes {
                let inside =
                    x > r.left() + 0.2 && x < r.right() - 0.2 && y > r.top() + 0.8 && y < r.bottom() - 0.8;
                assert!(!inside, "a line crosses `{words}` at {x}, {y}");
            }
        }
    }
}

#[test]
fn text_is_never_under_six_points() {
    let options =
        FigureOptions { width_mm: FigureOptions::ONE_COLUMN, text_pt: 6.0, ..FigureOptions::default() };
    let svg = draw(&[&crowded()], &options).unwrap();
    let document = Document::parse(svg.as_str()).unwrap();
    let mut seen = 0;
    for text in document.descendants().filter(|n| n.has_tag_name("text")) {
        let size: f64 = text.attribute("font-size").unwrap().parse().unwrap();
        assert!(size / UNITS_PER_PT > 5.999, "{:?} at {} pt", text.text(), size / UNITS_PER_PT);
        seen += 1;
    }
    assert!(seen > 30);
    let small = FigureOptions { text_pt: 5.0, ..FigureOptions::default() };
    assert!(matches!(draw(&[&crowded()], &small), Err(ReportError::Option { what: "the font size", .. })));
}

/// Each line's maximum is drawn at its height or clipped at the top, whatever the width of a column.
#[test]
fn downsampling_loses_no_line() {
    let check = fixture::batch(0.05, "wet.jdx");
    for column_mm in [0.07, 0.3, 1.5] {
        let options = FigureOptions { column_mm, names: false, ..plain() };
        let svg = draw(&[&check], &options).unwrap();
        let document = Document::parse(svg.as_str()).unwrap();
        let trace = &groups(&document, "trace")[0];
        let line = trace.descendants().find(|n| n.has_tag_name("polyline")).unwrap();
        let path: Vec<(f64, f64)> = line
            .attribute("points")
            .unwrap()
            .split_whitespace()
            .map(|p| p.split_once(',').map(|(x, y)| (x.parse().unwrap(), y.parse().unwrap())).unwrap())
            .collect();
        let base = path.iter().map(|p| p.1).fold(f64::MIN, f64::max);
        let top = path.iter().map(|p| p.1).fold(f64::MAX, f64::min);
        let full = 180_000.0 * 1.06;
        let (left, right) = (path[0].0, path[path.len() - 1].0);
        let (high, low) = (9.86 + 0.35, 1.21 - 0.35);
        for line in check.lines.iter().filter(|l| l.height > 0.02 * full) {
            let x = left + (high - line.shift.0) / (high - low) * (right - left);
            let near = path.iter().filter(|p| (p.0 - x).abs() < 30.0 + 100.0 * column_mm);
            let seen = near.map(|p| p.1).fold(f64::MAX, f64::min);
            let wanted = base - (line.height / full).min(1.0) * (base - top);
            assert!(
                seen <= wanted + 0.03 * (base - top),
                "{} ppm at {column_mm} mm: {seen} not {wanted}",
                line.shift
            );
        }
    }
}

#[test]
fn files_are_small_and_carry_their_fonts() {
    let wet = fixture::batch(0.05, "wet.jdx");
    for checks in [vec![&wet], vec![&wet, &wet, &wet]] {
        let svg = draw(&checks, &FigureOptions::default()).unwrap();
        assert!(svg.as_str().len() < 300_000, "{} bytes", svg.as_str().len());
        assert!(svg.as_str().contains("@font-face"));
    }
    let svg = draw(&[&wet], &FigureOptions::default()).unwrap();
    let file = pdf(&svg).unwrap();
    // the converter orders its two fonts by chance: eight times alike is no accident
    assert!((0..8).all(|_| pdf(&svg).unwrap() == file), "the same picture gives the same bytes");
    assert!(file.starts_with(b"%PDF-"));
    let has = |word: &[u8]| file.windows(word.len()).any(|w| w == word);
    assert!(has(b"LeesSans") && has(b"/FontFile"), "the typeface is in the PDF");
    assert!(has(b"/MediaBox [0 0 504.5"), "178 mm are 504.6 pt");
}

#[test]
fn the_png_has_the_resolution_asked_for() {
    let svg = draw(&[&fixture::batch(0.05, "wet.jdx")], &plain()).unwrap();
    let file = png(&svg, 300.0).unwrap();
    let width = u32::from_be_bytes(file[16..20].try_into().unwrap());
    assert!(width.abs_diff((178.0_f64 / 25.4 * 300.0).round() as u32) <= 1, "{width}");
    assert!(matches!(png(&svg, 5.0), Err(ReportError::Option { .. })));
}

#[test]
fn insets_can_be_chosen_and_weak_signals_get_their_own() {
    let wet = fixture::batch(0.05, "wet.jdx");
    let svg = draw(&[&wet], &FigureOptions::default()).unwrap();
    let document = Document::parse(svg.as_str()).unwrap();
    let letters: Vec<_> = groups(&document, "region").iter().flat_map(words).collect();
    assert_eq!(letters, ["a", "b", "c", "d"]);
    let ranges = Insets::Ranges(vec![ShiftRange::new(Ppm(6.4), Ppm(7.5))]);
    let svg = draw(&[&wet], &FigureOptions { insets: ranges, ..FigureOptions::default() }).unwrap();
    let document = Document::parse(svg.as_str()).unwrap();
    assert_eq!(groups(&document, "region").len(), 1);
    let numbers: Vec<_> =
        groups(&document, "number").iter().filter_map(|g| g.attribute("data-number")).collect();
    assert_eq!(numbers, ["2", "3", "4", "1", "2", "3", "4", "5", "6", "7"]);
}

fn at(high: f64, low: f64) -> ShiftRange {
    ShiftRange::new(Ppm(high), Ppm(low))
}

fn with_insets(ranges: &[ShiftRange]) -> Svg {
    let options = FigureOptions { insets: Insets::Ranges(ranges.to_vec()), ..FigureOptions::default() };
    draw(&[&fixture::batch(0.05, "wet.jdx")], &options).unwrap()
}

#[test]
fn each_letter_stands_over_its_bar_in_whatever_order_insets_are_given() {
    let ranges =
        [at(1.3, 1.1), at(8.6, 8.3), at(4.2, 3.9), at(5.4, 5.2), at(2.8, 2.5), at(7.5, 7.2), at(4.6, 1.0)];
    let mut falling = ranges;
    falling.sort_by(|a, b| b.centre().0.total_cmp(&a.centre().0));
    assert_eq!(with_insets(&ranges), with_insets(&falling));
    let svg = with_insets(&ranges);
    let document = Document::parse(svg.as_str()).unwrap();
    let regions = groups(&document, "region");
    assert_eq!(regions.len(), ranges.len());
    let mut letters = Vec::new();
    for region in regions {
        let text = region.descendants().find(|n| n.has_tag_name("text")).unwrap();
        let x: f64 = text.attribute("x").unwrap().parse().unwrap();
        let bar = region.descendants().find_map(|n| n.attribute("points")).unwrap();
        let ends: Vec<f64> =
            bar.split_whitespace().map(|p| p.split_once(',').unwrap().0.parse().unwrap()).collect();
        let off = (x - (ends[0] + ends[1]) / 2.0).abs();
        assert!(off < 200.0, "{:?} {off} hundredths of a millimetre away", text.text());
        letters.push(x);
    }
    assert!(letters.is_sorted(), "a is furthest left: {letters:?}");
}

#[test]
fn what_is_enlarged_outside_the_stretch_below_has_no_bar_there() {
    let insets = Insets::Ranges(vec![at(8.6, 8.3), at(4.2, 3.9)]);
    let options = FigureOptions { insets, range: Some(at(9.0, 6.0)), ..FigureOptions::default() };
    let svg = draw(&[&fixture::batch(0.05, "wet.jdx")], &options).unwrap();
    let document = Document::parse(svg.as_str()).unwrap();
    assert_eq!(groups(&document, "region").iter().flat_map(words).collect::<Vec<_>>(), ["a"]);
}

#[test]
fn numbers_at_the_ends_of_neighbouring_insets_stand_apart() {
    let six = [at(8.5, 8.4), at(7.5, 7.4), at(6.7, 6.6), at(5.3, 5.2), at(4.1, 4.0), at(1.3, 1.2)];
    for ranges in [&six[..], &six[4..]] {
        let svg = with_insets(ranges);
        let boxes = text_boxes(&svg);
        assert!(boxes.iter().any(|(text, _)| text == "4.10"), "{boxes:?}");
        for (i, (a, ra)) in boxes.iter().enumerate() {
            for (b, rb) in &boxes[i + 1..] {
                assert!(!cover(ra, rb), "`{a}` {ra:?} covers `{b}` {rb:?}");
            }
        }
    }
}

/// Both heights are measured on the sheet.
#[test]
fn an_inset_says_how_many_times_as_tall_it_shows_a_line() {
    let svg = with_insets(&[at(8.6, 8.3), at(5.4, 5.2)]);
    let document = Document::parse(svg.as_str()).unwrap();
    let headings: Vec<String> = groups(&document, "heading").iter().flat_map(words).collect();
    let traces = groups(&document, "trace");
    let height = |of: usize, range: Option<(f64, f64)>| -> f64 {
        let points = traces[of].descendants().find_map(|n| n.attribute("points")).unwrap();
        let points: Vec<(f64, f64)> = corners(points);
        let near: Vec<f64> =
            points.iter().filter(|p| range.is_none_or(|(a, b)| p.0 > a && p.0 < b)).map(|p| p.1).collect();
        let base = near.iter().copied().fold(f64::MIN, f64::max);
        base - near.iter().copied().fold(f64::MAX, f64::min)
    };
    let bar = |k: usize| {
        let ends = corners(
            groups(&document, "region")[k].descendants().find_map(|n| n.attribute("points")).unwrap(),
        );
        (ends[0].0, ends[1].0)
    };
    for (k, heading) in headings.iter().take(2).enumerate() {
        let said: f64 = heading.split_once('\u{d7}').unwrap().1.parse().unwrap();
        let seen = height(k, None) / height(2, Some(bar(k)));
        assert!((said / seen - 1.0).abs() < 0.2, "{heading}: {seen} times on the sheet");
    }
}

fn corners(points: &str) -> Vec<(f64, f64)> {
    let pair = |p: &str| {
        let (x, y) = p.split_once(',').unwrap();
        (x.parse().unwrap(), y.parse().unwrap())
    };
    points.split_whitespace().map(pair).collect()
}

#[test]
fn tall_lines_are_shown_broken() {
    let mut check = fixture::batch(0.05, "wet.jdx");
    let tall = check.spectrum.axis.index_range(Ppm(7.27), Ppm(7.25));
    for i in tall {
        check.spectrum.real[i] *= 20.0;
    }
    let svg = draw(&[&check], &plain()).unwrap();
    let document = Document::parse(svg.as_str()).unwrap();
    let broken = groups(&document, "clipped");
    assert_eq!(broken.len(), 1);
    assert_eq!(broken[0].descendants().filter(|n| n.has_tag_name("polyline")).count(), 2);
}

#[test]
fn titles_cannot_break_out_of_the_picture() {
    let mut check = fixture::batch(0.05, "wet.jdx");
    check.input.title = "</title><script>alert(1)</script>".to_owned();
    check.volatiles[0].name = "<b>&amp;\u{7}".to_owned();
    let svg = draw(&[&check], &FigureOptions { heading: true, ..FigureOptions::default() }).unwrap();
    let document = Document::parse(svg.as_str()).unwrap();
    assert!(document.descendants().all(|n| !n.has_tag_name("script") && !n.has_tag_name("b")));
}

#[test]
fn nothing_to_draw_is_said() {
    assert!(matches!(draw(&[], &FigureOptions::default()), Err(ReportError::Empty)));
}

#[test]
fn a_stretch_outside_the_spectrum_is_refused_instead_of_drawn_empty() {
    let check = fixture::batch(0.05, "wet.jdx");
    let outside = ShiftRange::new(Ppm(50.0), Ppm(40.0));
    for options in [
        FigureOptions { range: Some(outside), ..FigureOptions::default() },
        FigureOptions { insets: Insets::Ranges(vec![outside]), ..FigureOptions::default() },
    ] {
        let fault = draw(&[&check], &options).unwrap_err().to_string();
        assert!(
            fault.starts_with("a shift range is 50 ppm to 40 ppm, where the spectrum runs from"),
            "{fault}"
        );
    }
}

/// Cut off at zero, noise in an enlargement would look like a row of signals on a clean baseline.
#[test]
fn noise_in_an_inset_is_drawn_below_zero_too() {
    let check = fixture::batch(0.05, "wet.jdx");
    let insets = Insets::Ranges(vec![ShiftRange::new(Ppm(8.8), Ppm(8.5))]);
    let svg = draw(&[&check], &FigureOptions { insets, ..FigureOptions::default() }).unwrap();
    let document = Document::parse(svg.as_str()).unwrap();
    let inset = groups(&document, "trace")[0];
    let points = inset.descendants().find_map(|n| n.attribute("points")).unwrap();
    let heights: Vec<f64> =
        points.split_whitespace().map(|point| point.split_once(',').unwrap().1.parse().unwrap()).collect();
    let lowest = heights.iter().copied().fold(f64::MIN, f64::max);
    let at_the_bottom = heights.iter().filter(|y| **y == lowest).count();
    assert!(heights.len() > 50 && 20 * at_the_bottom < heights.len(), "{at_the_bottom} of {}", heights.len());
}

#[test]
fn spectra_on_top_of_one_another_are_as_tall_as_their_product() {
    let once = fixture::batch(0.05, "once.jdx");
    let mut twice = fixture::batch(0.05, "twice.jdx");
    twice.spectrum.real *= 2.0;
    twice.noise *= 2.0;
    let area = twice.product.as_mut().and_then(|product| product.area_per_proton.as_mut()).unwrap();
    *area *= 2.0;
    let options = FigureOptions { arrangement: Arrangement::Overlaid, ..plain() };
    let shapes = |check: &Check| -> Vec<String> {
        let svg = draw(&[&once, check], &options).unwrap();
        let document = Document::parse(svg.as_str()).unwrap();
        let lines = document.descendants().filter(|n| n.has_tag_name("polyline") || n.has_tag_name("path"));
        lines.filter_map(|n| n.attribute("points").or(n.attribute("d")).map(str::to_owned)).collect()
    };
    assert_eq!(shapes(&once), shapes(&twice));
    *twice.product.as_mut().unwrap().area_per_proton.as_mut().unwrap() /= 2.0;
    assert_ne!(shapes(&once), shapes(&twice), "twice as much for each proton");
}

#[test]
fn of_equal_spectra_on_top_of_one_another_each_is_seen() {
    let one = fixture::batch(0.05, "one.jdx");
    let options = FigureOptions { arrangement: Arrangement::Overlaid, ..plain() };
    let svg = draw(&[&one, &one, &one], &options).unwrap();
    let document = Document::parse(svg.as_str()).unwrap();
    let widths: Vec<f64> = groups(&document, "trace")
        .iter()
        .filter_map(|trace| trace.descendants().find_map(|n| n.attribute("stroke-width")))
        .map(|width| width.parse().unwrap())
        .collect();
    assert_eq!(widths.len(), 3);
    assert!(widths.windows(2).all(|pair| pair[1] < pair[0]), "what is drawn later covers less: {widths:?}");
}

#[test]
fn what_a_signal_may_be_instead_is_named_too() {
    let mut check = fixture::batch(0.05, "wet.jdx");
    let named = |check: &Check| {
        let svg = draw(&[check], &plain()).unwrap();
        let document = Document::parse(svg.as_str()).unwrap();
        words(&document.root_element())
    };
    let rival = |name: &str| lees_core::check::Rival { name: name.to_owned(), wt_percent: None };
    let has = |check: &Check, text: &str| named(check).iter().any(|word| word.starts_with(text));
    assert!(has(&check, "2-propanol") && !has(&check, "2-propanol or"), "{:?}", named(&check));
    check.volatiles[0].rivals = vec![rival("diethyl ether")];
    assert!(has(&check, "2-propanol or diethyl ether"), "{:?}", named(&check));
    let joined: Vec<_> = named(&check).into_iter().filter(|word| word.contains("2-propanol")).collect();
    assert!(joined.iter().all(|word| !word.contains("CH")), "a group of which of the two? {joined:?}");
    check.volatiles[0].rivals.push(rival("acetone"));
    assert!(has(&check, "2-propanol or others"), "{:?}", named(&check));
}
