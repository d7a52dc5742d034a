//! The product's signals under a trace: a bracket, a number, how many protons.

use super::color;
use super::font::Ruler;
use super::frame::Frame;
use super::mark::Numbered;
use super::place::place;
use super::sheet::{Look, Sheet, mm};
use crate::ReportError;

/// From zero intensity to the bracket, in mm.
const BRACKET: f64 = 1.5;
/// From the bracket to the numbers' top, in mm.
const FAN: f64 = 2.2;
/// Free space between neighbours, in mm; the second is tried when the first doesn't fit.
const GAPS: [f64; 2] = [1.0, 0.4];
/// Line height over font size.
const LEADING: f64 = 1.2;

/// Numbers with their places.
pub(super) struct Numbers {
    labels: Vec<(Numbered, f64)>,
    protons: bool,
    size: f64,
    /// Whether there was no room for any.
    pub(super) crowded_out: bool,
}

impl Numbers {
    pub(super) fn plan(signals: Vec<Numbered>, frame: &Frame, size: f64, ruler: &Ruler) -> Self {
        for (protons, gap) in [(true, GAPS[0]), (true, GAPS[1]), (false, GAPS[0]), (false, GAPS[1])] {
            let width = |n: &Numbered| {
                let number = ruler.width(&n.number.to_string(), size, true);
                if protons { number.max(ruler.width(&n.protons, size, false)) } else { number }
            };
            let widths: Vec<_> = signals.iter().map(width).collect();
            let wanted: Vec<_> = signals.iter().map(|n| middle(frame.span(n.range))).collect();
            if let Some(places) = place(&wanted, &widths, mm(gap), frame.left, frame.right) {
                let labels = signals.into_iter().zip(places).collect();
                return Self { labels, protons, size, crowded_out: false };
            }
        }
        Self { labels: Vec::new(), protons: false, size, crowded_out: true }
    }

    /// Height below zero intensity, in units.
    pub(super) fn height(&self) -> f64 {
        let rows = if self.protons { 2.0 } else { 1.0 };
        if self.labels.is_empty() { mm(1.6) } else { mm(BRACKET + FAN + 0.8) + rows * LEADING * self.size }
    }

    /// Draws them under `foot`, the height below which no trace falls but for a little noise.
    pub(super) fn draw(&self, sheet: &mut Sheet, frame: &Frame, foot: f64) -> Result<(), ReportError> {
        let bracket = foot + mm(BRACKET);
        let first = bracket + mm(FAN) + 0.78 * self.size;
        for (signal, x) in &self.labels {
            let attributes = [
                ("data-number", signal.number.to_string()),
                ("data-ppm", format!("{:.4}", signal.range.centre().0)),
            ];
            sheet.group("number", &attributes, |pen| {
                let (left, right) = span(frame.span(signal.range));
                pen.path(&[(left, bracket), (right, bracket)], 32.0, color::BLUE)?;
                let leader = [(middle((left, right)), bracket), (*x, bracket + mm(FAN - 0.3))];
                pen.path(&leader, 14.0, color::BLUE)?;
                pen.text(&signal.number.to_string(), (*x, first), Look::new(self.size, color::BLUE).bold())?;
                if self.protons {
                    let second = first + LEADING * self.size;
                    pen.text(&signal.protons, (*x, second), Look::new(self.size, color::INK))?;
                }
                Ok(())
            })?;
        }
        Ok(())
    }
}

fn middle((left, right): (f64, f64)) -> f64 {
    (left + right) / 2.0
}

/// A bracket is at least 0.8 mm wide, else it is not seen.
fn span((left, right): (f64, f64)) -> (f64, f64) {
    let half = ((right - left) / 2.0).max(mm(0.4));
    (middle((left, right)) - half, middle((left, right)) + half)
}
