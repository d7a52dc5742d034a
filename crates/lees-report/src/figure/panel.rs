//! One trace with everything that belongs to it, planned first, then drawn.

use lees_core::ShiftRange;
use lees_core::check::Check;
use plotters::style::RGBColor;
use plotters::style::text_anchor::HPos;

use super::axis::{Axis, regions, regions_height};
use super::color;
use super::font::Ruler;
use super::frame::{BELOW, Frame};
use super::mark::{self, Numbered, numbered};
use super::names::Names;
use super::numbers::Numbers;
use super::sheet::{Look, Sheet, mm};
use super::trace;
use crate::{ReportError, number};

/// A spectrum as drawn.
pub(super) struct Curve<'a> {
    pub(super) check: &'a Check,
    pub(super) color: RGBColor,
    /// Line width, in units.
    pub(super) stroke: f64,
    /// Intensity at the top.
    pub(super) full: f64,
}

/// What a panel shows.
pub(super) struct Spec<'a> {
    /// The spectra, the first one named and numbered.
    pub(super) traces: Vec<Curve<'a>>,
    pub(super) range: ShiftRange,
    pub(super) left: f64,
    pub(super) right: f64,
    /// Height of the trace over zero alone, in units.
    pub(super) height: f64,
    pub(super) axis: Axis,
    pub(super) numbers: bool,
    pub(super) names: bool,
    pub(super) integrals: bool,
    /// Spectra in panels above, whose signals need no second name.
    pub(super) above: Vec<&'a Check>,
    /// Words over the panel, one line each, with a sample of the trace in that colour.
    pub(super) headings: Vec<(String, Option<RGBColor>)>,
    /// Insets' letters and ranges.
    pub(super) regions: Vec<(char, ShiftRange)>,
    /// Font size in units.
    pub(super) size: f64,
    /// Width of a column of the downsampled trace, in units.
    pub(super) column: f64,
}

/// A panel that knows its height.
pub(super) struct Panel<'a> {
    spec: Spec<'a>,
    pub(super) names: Names,
    numbers: Numbers,
    /// Room for noise below zero, in units.
    below: f64,
}

/// Noise is shown down to so many times its standard deviation below zero, but not below this share of the height: cut
/// off at zero, it would look like signals.
const NOISE_SHOWN: f64 = 3.0;
const MOST_BELOW: f64 = 0.4;

impl Spec<'_> {
    /// Intensity of the first spectrum at the top.
    fn full(&self) -> f64 {
        self.traces.first().map_or(1.0, |curve| curve.full)
    }
}

impl<'a> Panel<'a> {
    pub(super) fn plan(spec: Spec<'a>, ruler: &Ruler) -> Self {
        let frame = Frame::new(spec.range, spec.full(), spec.left, spec.right, 0.0, spec.height);
        let first = spec.traces.first().map(|curve| curve.check);
        let mut found = first.filter(|_| spec.names).map(|c| mark::all(c, spec.range)).unwrap_or_default();
        mark::note_named(&mut found, &spec.above, spec.range);
        let names = Names::plan(found, &frame, spec.size, ruler);
        let signals = first.filter(|_| spec.numbers).map(|c| shown(c, &spec)).unwrap_or_default();
        let numbers = Numbers::plan(signals, &frame, spec.size, ruler);
        let noise = spec.traces.iter().map(|curve| curve.check.noise / curve.full).fold(0.0, f64::max);
        let below = ((NOISE_SHOWN * noise).min(MOST_BELOW) * spec.height).max(BELOW);
        let mut panel = Self { spec, names, numbers, below };
        panel.admit();
        panel
    }

    /// Says in the figure what found no room in it.
    fn admit(&mut self) {
        let mut notes = Vec::new();
        if self.names.left_out > 0 {
            notes.push(format!("{} more signals not named for want of room", self.names.left_out));
        }
        if self.numbers.crowded_out {
            notes.push("product signals not numbered for want of room".to_owned());
        }
        self.spec.headings.extend(notes.into_iter().map(|n| (n, None)));
    }

    /// How much more room there is below zero than every panel has.
    fn sunk(&self) -> f64 {
        self.below - BELOW
    }

    fn heading_height(&self) -> f64 {
        1.25 * self.spec.size * self.spec.headings.len() as f64
    }

    pub(super) fn height(&self) -> f64 {
        self.heading_height()
            + self.names.height()
            + self.spec.height
            + self.sunk()
            + self.numbers.height()
            + regions_height(&self.spec.regions, self.spec.size)
            + self.spec.axis.height(self.spec.size)
    }

    /// Draws it from `top` on, its headings under `crown`, which may lie higher.
    pub(super) fn draw(
        &self,
        sheet: &mut Sheet,
        top: f64,
        crown: f64,
        ruler: &Ruler,
    ) -> Result<(), ReportError> {
        let spec = &self.spec;
        let start = top + self.heading_height() + self.names.height();
        let base = start + spec.height;
        let frame = |full: f64| {
            Frame::new(spec.range, full, spec.left, spec.right, start, base).with_room(self.below)
        };
        self.headings(sheet, crown)?;
        for curve in &spec.traces {
            let look = (curve.color, curve.stroke);
            trace::draw(sheet, &frame(curve.full), &curve.check.spectrum, spec.column, look)?;
        }
        let frame = frame(spec.full());
        let Some(Curve { check: first, .. }) = spec.traces.first() else { return Ok(()) };
        if spec.integrals {
            trace::integrals(sheet, &frame, first)?;
        }
        self.names.draw(sheet, &frame, &first.spectrum)?;
        let foot = base + self.sunk();
        self.numbers.draw(sheet, &frame, foot)?;
        let line = foot + self.numbers.height() + regions_height(&spec.regions, spec.size);
        regions(sheet, &frame, &spec.regions, line, spec.size, ruler)?;
        spec.axis.draw(sheet, &frame, line, spec.size, ruler)
    }

    fn headings(&self, sheet: &mut Sheet, top: f64) -> Result<(), ReportError> {
        let spec = &self.spec;
        for (row, (text, sample)) in spec.headings.iter().enumerate() {
            let y = top + spec.size * (0.8 + 1.25 * row as f64);
            sheet.group("heading", &[], |pen| {
                let indent = if sample.is_some() { mm(6.0) } else { 0.0 };
                if let Some(color) = sample {
                    let middle = y - 0.26 * spec.size;
                    pen.path(&[(spec.left, middle), (spec.left + mm(4.5), middle)], 40.0, *color)?;
                }
                let look = Look::new(spec.size, color::INK).align(HPos::Left);
                pen.text(text, (spec.left + indent, y), look)
            })?;
        }
        Ok(())
    }
}

/// The numbered signals; with integrals, what was found stands in place of what was expected.
fn shown(check: &Check, spec: &Spec<'_>) -> Vec<Numbered> {
    let mut signals = numbered(check, spec.range);
    if spec.integrals {
        for signal in &mut signals {
            let found = check.product.iter().flat_map(|p| &p.signals).find(|s| s.range == signal.range);
            if let Some(found) = found.and_then(|s| s.found_protons.as_ref()) {
                signal.protons = number::short(found);
            }
        }
    }
    signals
}
