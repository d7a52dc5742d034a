//! The shift axis, with the regions that insets enlarge.

use lees_core::ShiftRange;
use plotters::style::text_anchor::HPos;

use super::color;
use super::font::Ruler;
use super::frame::Frame;
use super::place::place;
use super::sheet::{Look, Sheet, mm};
use super::ticks::ticks;
use crate::ReportError;

/// What is written at the axis: quantity over unit (IUPAC Green Book 2007, 1.1; shift: Harris et al. 2001).
pub(super) const LABEL: &str = "\u{3b4}(\u{b9}H) / ppm";

/// How much of an axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Axis {
    /// Marks, numbers and label.
    Full,
    /// Marks and numbers.
    Small,
    /// Nothing.
    None,
}

impl Axis {
    /// Height below the axis line, in units.
    pub(super) fn height(self, size: f64) -> f64 {
        match self {
            Self::Full => mm(2.6) + 2.25 * size,
            Self::Small => mm(2.2) + 1.1 * size,
            Self::None => mm(0.5),
        }
    }

    pub(super) fn draw(self, sheet: &mut Sheet, frame: &Frame, y: f64, size: f64) -> Result<(), ReportError> {
        if self == Self::None {
            return Ok(());
        }
        let marks = ticks(frame.range.high.0, frame.range.low.0, (frame.right - frame.left) / (4.6 * size));
        let foot = y + mm(1.9) + 0.75 * size;
        sheet.group("axis", &[], |pen| {
            pen.path(&[(frame.left, y), (frame.right, y)], 14.0, color::INK)?;
            for &shift in &marks.minor {
                pen.path(&[(frame.x(shift), y), (frame.x(shift), y + mm(0.7))], 10.0, color::INK)?;
            }
            for (shift, text) in &marks.major {
                let x = frame.x(*shift);
                pen.path(&[(x, y), (x, y + mm(1.4))], 14.0, color::INK)?;
                pen.text(text, (x, foot), Look::new(size, color::INK))?;
            }
            if self == Self::Full {
                let middle = (frame.left + frame.right) / 2.0;
                pen.text(LABEL, (middle, foot + 1.2 * size), Look::new(size, color::INK))?;
            }
            Ok(())
        })
    }
}

/// Lettered bars over the axis that show what the insets enlarge.
pub(super) fn regions(
    sheet: &mut Sheet,
    frame: &Frame,
    regions: &[(char, ShiftRange)],
    y: f64,
    size: f64,
    ruler: &Ruler,
) -> Result<(), ReportError> {
    let spans: Vec<_> = regions.iter().map(|(_, range)| frame.span(*range)).collect();
    let widths: Vec<_> = regions.iter().map(|(c, _)| ruler.width(&c.to_string(), size, true)).collect();
    let wanted: Vec<_> = spans.iter().map(|s| (s.0 + s.1) / 2.0).collect();
    let places = place(&wanted, &widths, mm(0.5), frame.left, frame.right).unwrap_or(wanted);
    for (((letter, _), span), x) in regions.iter().zip(&spans).zip(places) {
        sheet.group("region", &[("data-letter", letter.to_string())], |pen| {
            pen.path(&[(span.0, y - mm(0.25)), (span.1, y - mm(0.25))], 50.0, color::INK)?;
            let look = Look::new(size, color::INK).bold().align(HPos::Center);
            pen.text(&letter.to_string(), (x, y - mm(0.9)), look)
        })?;
    }
    Ok(())
}

/// Height of the lettered bars, in units.
pub(super) fn regions_height(regions: &[(char, ShiftRange)], size: f64) -> f64 {
    if regions.is_empty() { 0.0 } else { 1.05 * size + mm(0.4) }
}
