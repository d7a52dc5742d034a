//! Panels on a sheet: insets above, the whole spectrum below, several spectra one under the other.

use lees_core::check::Check;
use lees_core::{Ppm, ShiftAxis, ShiftRange};

use super::Svg;
use super::axis::Axis;
use super::color;
use super::font::{self, Ruler};
use super::inset::{self, Inset};
use super::options::{Arrangement, FigureOptions, Insets};
use super::panel::{Curve, Panel, Spec};
use super::scale;
use super::sheet::{PT, Sheet, mm};
use super::trace;
use crate::{ReportError, clean, number, words};

/// Paper round the panels, in mm.
const MARGIN: f64 = 2.0;
/// Paper between panels, in mm.
const GAP: f64 = 4.0;
/// Least width of an inset, in mm; so many fit side by side, at most four.
const INSET_WIDTH: f64 = 38.0;
const MOST_INSETS: usize = 4;
/// Height of an inset's trace, as a share of the main one.
const INSET_SHARE: f64 = 0.5;

pub(super) fn draw(checks: &[&Check], options: &FigureOptions) -> Result<Svg, ReportError> {
    let first = *checks.first().ok_or(ReportError::Empty)?;
    asked_for_is_there(checks, options)?;
    let ruler = Ruler::new()?;
    let insets = insets(checks, options);
    let tops = plan_insets(checks, options, &insets, &ruler);
    let mains = plan_mains(checks, options, &insets, &ruler);
    let row = tops.iter().map(Panel::height).fold(0.0, f64::max);
    let gap = if tops.is_empty() { 0.0 } else { mm(GAP) * 0.75 };
    let height = mm(2.0 * MARGIN) + row + gap + mains.iter().map(Panel::height).sum::<f64>();
    let mut sheet = Sheet::new(mm(options.width_mm), height);
    for panel in &tops {
        panel.draw(&mut sheet, mm(MARGIN) + row - panel.height(), mm(MARGIN), &ruler)?;
    }
    let mut top = mm(MARGIN) + row + gap;
    for panel in &mains {
        panel.draw(&mut sheet, top, top, &ruler)?;
        top += panel.height();
    }
    let style = if options.embed_fonts { font::css() } else { String::new() };
    Ok(sheet.finish(&format!("Proton NMR spectrum: {}", title(first)), &style))
}

/// Refuses stretches in which no spectrum has a point.
fn asked_for_is_there(checks: &[&Check], options: &FigureOptions) -> Result<(), ReportError> {
    let insets: &[ShiftRange] = if let Insets::Ranges(ranges) = &options.insets { ranges } else { &[] };
    let axes = || checks.iter().map(|check| &check.spectrum.axis);
    for range in options.range.iter().chain(insets) {
        let shows = |axis: &ShiftAxis| range.high >= axis.last() && range.low <= axis.first();
        if !axes().any(shows) {
            let high = axes().map(|axis| axis.first().0).fold(f64::NEG_INFINITY, f64::max);
            let low = axes().map(|axis| axis.last().0).fold(f64::INFINITY, f64::min);
            return Err(ReportError::Option {
                what: "a shift range",
                read: format!(
                    "{} ppm to {} ppm, where the spectrum runs from {high:.2} ppm to {low:.2} ppm",
                    range.high.0, range.low.0
                ),
                allowed: "a part of what was measured",
            });
        }
    }
    Ok(())
}

fn title(check: &Check) -> String {
    let title = clean(&check.input.title);
    if title.is_empty() { clean(&check.input.path) } else { title }
}

/// The stretch that suits all spectra.
fn range(checks: &[&Check], options: &FigureOptions) -> ShiftRange {
    let joined = checks
        .iter()
        .map(|c| scale::default_range(c))
        .reduce(|a, b| ShiftRange { high: Ppm(a.high.0.max(b.high.0)), low: Ppm(a.low.0.min(b.low.0)) });
    options.range.or(joined).unwrap_or(ShiftRange { high: Ppm(10.0), low: Ppm(0.0) })
}

/// Insets are drawn for a single spectrum.
fn insets(checks: &[&Check], options: &FigureOptions) -> Vec<Inset> {
    let [check] = checks else { return Vec::new() };
    let range = range(checks, options);
    match &options.insets {
        Insets::None => Vec::new(),
        Insets::Ranges(ranges) => {
            let mut insets: Vec<_> = ranges.iter().map(|r| inset::of_range(check, *r)).collect();
            insets.sort_by(|a, b| b.range.centre().0.total_cmp(&a.range.centre().0));
            insets
        }
        Insets::Automatic => {
            let room = ((options.width_mm - 2.0 * MARGIN + GAP) / (INSET_WIDTH + GAP)) as usize;
            inset::automatic(check, range, scale::full(check, range), room.min(MOST_INSETS))
        }
    }
}

fn plan_insets<'a>(
    checks: &[&'a Check],
    options: &FigureOptions,
    insets: &[Inset],
    ruler: &Ruler,
) -> Vec<Panel<'a>> {
    let [check] = checks else { return Vec::new() };
    let count = insets.len() as f64;
    let width = (mm(options.width_mm - 2.0 * MARGIN) - mm(GAP) * (count - 1.0)) / count;
    let main = scale::full(check, range(checks, options));
    let factors = factors(insets, main);
    let panel = |(i, inset): (usize, &Inset)| {
        let left = mm(MARGIN) + i as f64 * (width + mm(GAP));
        let mut spec = spec(check, options, inset.range, inset.full);
        spec.left = left;
        spec.right = left + width;
        spec.height *= INSET_SHARE;
        spec.axis = Axis::Small;
        spec.integrals = false;
        spec.headings = vec![(heading(letter(i), factors.get(i)), None)];
        Panel::plan(spec, ruler)
    };
    let mut panels: Vec<_> = insets.iter().enumerate().map(panel).collect();
    let zone = panels.iter().map(|p| p.names.zone).fold(0.0, f64::max);
    panels.iter_mut().for_each(|p| p.names.zone = zone);
    panels
}

fn letter(index: usize) -> char {
    char::from(b'a' + (index % 26) as u8)
}

/// How many times as tall as below each inset shows a line, in round numbers; nothing when none enlarges.
fn factors(insets: &[Inset], main: f64) -> Vec<String> {
    let text = |inset: &Inset| {
        let factor = INSET_SHARE * main / inset.full;
        number::significant(factor, if factor < 1.0 { 1 } else { 2 })
    };
    let texts: Vec<_> = insets.iter().map(text).map(|text| number::unpadded(&text)).collect();
    if texts.iter().all(|text| text == "1") { Vec::new() } else { texts }
}

/// `a  ×24`.
fn heading(letter: char, factor: Option<&String>) -> String {
    factor.map_or_else(|| letter.to_string(), |factor| format!("{letter}  \u{d7}{factor}"))
}

fn plan_mains<'a>(
    checks: &[&'a Check],
    options: &FigureOptions,
    insets: &[Inset],
    ruler: &Ruler,
) -> Vec<Panel<'a>> {
    let range = range(checks, options);
    if options.arrangement == Arrangement::Overlaid && checks.len() > 1 {
        return overlay(checks, options, range, ruler).into_iter().collect();
    }
    let last = checks.len().saturating_sub(1);
    let panel = |(i, &check): (usize, &&'a Check)| {
        let mut spec = spec(check, options, range, scale::full(check, range));
        if checks.len() > 1 {
            spec.height *= 0.55;
        }
        if options.heading || checks.len() > 1 {
            spec.headings = vec![(caption(check), None)];
        }
        spec.axis = if i == last { Axis::Full } else { Axis::None };
        spec.numbers &= i == last;
        spec.above = checks.iter().take(i).copied().collect();
        spec.regions = insets.iter().enumerate().map(|(k, inset)| (letter(k), inset.range)).collect();
        Panel::plan(spec, ruler)
    };
    checks.iter().enumerate().map(panel).collect()
}

fn caption(check: &Check) -> String {
    format!("{}: {}", title(check), words::verdict(check.verdict))
}

/// Line widths of the first and the last of several traces laid over each other, in units: where they run together, each is
/// seen as a rim of the next.
const WIDEST: f64 = 34.0;
const THINNEST: f64 = 14.0;

/// All traces in one panel, so tall that a product proton has the same area in each; where it is not known, each as tall as alone.
fn overlay<'a>(
    checks: &[&'a Check],
    options: &FigureOptions,
    range: ShiftRange,
    ruler: &Ruler,
) -> Option<Panel<'a>> {
    let first = *checks.first()?;
    let full_first = scale::full(first, range);
    let mut spec = spec(first, options, range, full_first);
    let colors = color::TRACES.iter().copied().cycle();
    let per_proton = |check: &Check| check.product.as_ref().and_then(|product| product.area_per_proton);
    let full = |check: &Check| match (per_proton(first), per_proton(check)) {
        (Some(of_first), Some(own)) if of_first > 0.0 && own > 0.0 => full_first * own / of_first,
        _ => scale::full(check, range),
    };
    let steps = checks.len().saturating_sub(1).max(1) as f64;
    let curve = |(k, (&check, color))| {
        let stroke = WIDEST - (WIDEST - THINNEST) * k as f64 / steps;
        Curve { check, color, stroke, full: full(check) }
    };
    spec.traces = checks.iter().zip(colors).enumerate().map(curve).collect();
    spec.headings = spec.traces.iter().map(|curve| (caption(curve.check), Some(curve.color))).collect();
    Some(Panel::plan(spec, ruler))
}

/// Height of a trace that suits the width, in mm.
fn trace_height(options: &FigureOptions) -> f64 {
    options.trace_mm.unwrap_or_else(|| (0.3 * options.width_mm).clamp(28.0, 70.0))
}

fn spec<'a>(check: &'a Check, options: &FigureOptions, range: ShiftRange, full: f64) -> Spec<'a> {
    Spec {
        traces: vec![Curve { check, color: color::INK, stroke: trace::STROKE, full }],
        range,
        left: mm(MARGIN),
        right: mm(options.width_mm - MARGIN),
        height: mm(trace_height(options)),
        axis: Axis::Full,
        numbers: options.numbers,
        names: options.names,
        integrals: options.integrals,
        above: Vec::new(),
        headings: Vec::new(),
        regions: Vec::new(),
        size: options.text_pt * PT,
        column: mm(options.column_mm),
    }
}
