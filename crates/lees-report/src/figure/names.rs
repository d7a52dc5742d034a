//! The names over a trace: a sign, a text, a leader down to the signal.

use plotters::style::text_anchor::HPos;

use super::color;
use super::font::Ruler;
use super::frame::Frame;
use super::mark::{Kind, Mark};
use super::place::place;
use super::sample::highest;
use super::sheet::{Look, Pen, Sheet, mm};
use crate::ReportError;
use lees_core::Spectrum;

/// Names stay horizontal while none moves further than this.
const FARTHEST: f64 = 16.0;
/// Free space between neighbouring names, in mm.
const GAP: f64 = 1.4;
/// Height of the slanted part of the leaders, in mm.
pub(super) const FAN: f64 = 3.4;
/// Space for the sign under a name, in mm.
const SIGN: f64 = 2.3;
/// Height of a line of text over its font size.
const LINE: f64 = 1.22;
/// Width of a sign without words, in mm.
const NARROWEST: f64 = 0.4;
/// Length of a name that is written out in full, in characters.
const LONGEST: usize = 30;

/// Names with their places.
pub(super) struct Names {
    labels: Vec<(Mark, String, f64)>,
    upright: bool,
    size: f64,
    /// Height over the fan, in units.
    pub(super) zone: f64,
    /// How many marks found no place.
    pub(super) left_out: usize,
}

impl Names {
    /// Horizontal with groups, horizontal without, upright: the first that fits, the least important left out last.
    pub(super) fn plan(mut marks: Vec<Mark>, frame: &Frame, size: f64, ruler: &Ruler) -> Self {
        let all = marks.len();
        for groups in [true, false] {
            if let Some(names) = Self::horizontal(&marks, groups, frame, size, ruler) {
                return names;
            }
        }
        loop {
            if let Some(names) = Self::upright(&marks, frame, size, ruler) {
                return Self { left_out: all - marks.len(), ..names };
            }
            drop_least(&mut marks);
        }
    }

    fn horizontal(marks: &[Mark], groups: bool, frame: &Frame, size: f64, ruler: &Ruler) -> Option<Self> {
        let texts: Vec<_> = marks.iter().map(|m| shortened(&m.text(groups))).collect();
        let widths: Vec<_> = texts.iter().map(|t| ruler.width(t, size, false).max(mm(NARROWEST))).collect();
        let wanted: Vec<_> = marks.iter().map(|m| frame.x(m.shift)).collect();
        let places = place(&wanted, &widths, mm(GAP), frame.left, frame.right)?;
        let moved = wanted.iter().zip(&places).map(|(w, p)| (w - p).abs()).fold(0.0, f64::max);
        if moved > mm(FARTHEST) {
            return None;
        }
        let line = if texts.iter().all(String::is_empty) { 0.0 } else { 1.15 * size };
        let zone = if marks.is_empty() { 0.0 } else { mm(SIGN) + line };
        Some(Self { labels: zip(marks, texts, places), upright: false, size, zone, left_out: 0 })
    }

    fn upright(marks: &[Mark], frame: &Frame, size: f64, ruler: &Ruler) -> Option<Self> {
        let texts: Vec<_> = marks.iter().map(|m| shortened(&m.text(true))).collect();
        let wanted: Vec<_> = marks.iter().map(|m| frame.x(m.shift)).collect();
        let places = place(&wanted, &vec![LINE * size; marks.len()], 0.0, frame.left, frame.right)?;
        let longest = texts.iter().map(|t| ruler.width(t, size, false)).fold(0.0, f64::max);
        let zone = mm(SIGN) + longest + mm(0.5);
        Some(Self { labels: zip(marks, texts, places), upright: true, size, zone, left_out: 0 })
    }

    /// Everything over the trace that the names need, in units.
    pub(super) fn height(&self) -> f64 {
        if self.labels.is_empty() { mm(1.0) } else { self.zone + mm(FAN) }
    }

    pub(super) fn draw(
        &self,
        sheet: &mut Sheet,
        frame: &Frame,
        spectrum: &Spectrum,
    ) -> Result<(), ReportError> {
        for (mark, text, x) in &self.labels {
            let class = format!("name {}", mark.kind.class());
            let attributes = [("data-name", mark.name.clone()), ("data-ppm", format!("{:.4}", mark.shift))];
            sheet.group(&class, &attributes, |pen| {
                self.leader(pen, mark, *x, frame, spectrum)?;
                sign(pen, mark.kind, (*x, frame.top - mm(FAN + 0.95)))?;
                self.text(pen, text, *x, frame)
            })?;
        }
        Ok(())
    }

    fn leader(
        &self,
        pen: &Pen<'_, '_>,
        mark: &Mark,
        x: f64,
        frame: &Frame,
        s: &Spectrum,
    ) -> Result<(), ReportError> {
        let at = frame.x(mark.shift);
        let tip = highest(s, mark.range).map_or(frame.base, |y| frame.y(y)) - mm(0.7);
        let elbow = frame.top - mm(0.7);
        let path = [(x, frame.top - mm(FAN)), (at, elbow), (at, tip.max(elbow))];
        pen.path(&path, 14.0, mark.kind.color())
    }

    fn text(&self, pen: &Pen<'_, '_>, text: &str, x: f64, frame: &Frame) -> Result<(), ReportError> {
        if text.is_empty() {
            return Ok(());
        }
        let foot = frame.top - mm(FAN + SIGN);
        let look = Look::new(self.size, color::INK).align(HPos::Center);
        if self.upright {
            // Lower-case letters are about half a size high: this centres the line on the sign.
            pen.text(text, (x + 0.32 * self.size, foot), look.upright())
        } else {
            pen.text(text, (x, foot), look)
        }
    }
}

fn zip(marks: &[Mark], texts: Vec<String>, places: Vec<f64>) -> Vec<(Mark, String, f64)> {
    marks.iter().cloned().zip(texts).zip(places).map(|((m, t), p)| (m, t, p)).collect()
}

fn shortened(text: &str) -> String {
    if text.chars().count() <= LONGEST {
        return text.to_owned();
    }
    text.chars().take(LONGEST - 1).chain(['\u{2026}']).collect()
}

/// Hidden signals go first, then the kind that matters least.
fn drop_least(marks: &mut Vec<Mark>) {
    let least = marks.iter().enumerate().max_by_key(|(_, m)| (m.hidden, m.kind)).map(|(i, _)| i);
    if let Some(index) = least {
        marks.remove(index);
    }
}

/// Triangle, diamond or ring, about 1.5 mm high.
pub(super) fn sign(pen: &Pen<'_, '_>, kind: Kind, (x, y): (f64, f64)) -> Result<(), ReportError> {
    let r = mm(0.75);
    match kind {
        Kind::Volatile => pen.shape(&[(x - r, y - r), (x + r, y - r), (x, y + r)], kind.color()),
        Kind::NotCounted => pen.circle((x, y), 0.85 * r, kind.color(), false),
        Kind::Unexplained => {
            let points = [(x, y - r), (x + r, y), (x, y + r), (x - r, y), (x, y - r)];
            pen.shape(&points, color::PAPER)?;
            pen.path(&points, 20.0, kind.color())
        }
    }
}
