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

/// How far a number at the axis may reach past its ends, in mm: less than half of what lies between two panels.
const OVERHANG: f64 = 1.5;
/// Free space between neighbouring numbers, in mm.
const APART: f64 = 0.8;

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

    pub(super) fn draw(
        self,
        sheet: &mut Sheet,
        frame: &Frame,
        y: f64,
        size: f64,
        ruler: &Ruler,
    ) -> Result<(), ReportError> {
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
            let numbers = in_order(
                marks.major.iter().map(|(shift, text)| (frame.x(*shift), ruler.width(text, size, false))),
                mm(APART),
                (frame.left - mm(OVERHANG), frame.right + mm(OVERHANG)),
            );
            for ((shift, text), number) in marks.major.iter().zip(numbers) {
                let x = frame.x(*shift);
                pen.path(&[(x, y), (x, y + mm(1.4))], 14.0, color::INK)?;
                pen.text(text, (number, foot), Look::new(size, color::INK))?;
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
    let shown: Vec<_> = regions.iter().filter(|(_, range)| range.overlaps(&frame.range)).collect();
    let spans: Vec<_> = shown.iter().map(|(_, range)| frame.span(*range)).collect();
    let width = |c: char| ruler.width(&c.to_string(), size, true);
    let wanted = shown.iter().zip(&spans).map(|((c, _), span)| ((span.0 + span.1) / 2.0, width(*c)));
    let places = in_order(wanted, mm(0.5), (frame.left, frame.right));
    for (((letter, _), span), x) in shown.into_iter().zip(&spans).zip(places) {
        sheet.group("region", &[("data-letter", letter.to_string())], |pen| {
            pen.path(&[(span.0, y - mm(0.25)), (span.1, y - mm(0.25))], 50.0, color::INK)?;
            let look = Look::new(size, color::INK).bold().align(HPos::Center);
            pen.text(&letter.to_string(), (x, y - mm(0.9)), look)
        })?;
    }
    Ok(())
}

/// Centres for texts of any order, each given by the centre it wants and its width, kept apart and within the ends; as
/// wanted where they don't fit.
fn in_order(texts: impl Iterator<Item = (f64, f64)>, gap: f64, (low, high): (f64, f64)) -> Vec<f64> {
    let (wanted, widths): (Vec<f64>, Vec<f64>) = texts.unzip();
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    order.sort_by(|&a, &b| wanted[a].total_cmp(&wanted[b]));
    let sorted = |values: &[f64]| order.iter().map(|&i| values[i]).collect::<Vec<_>>();
    let Some(places) = place(&sorted(&wanted), &sorted(&widths), gap, low, high) else { return wanted };
    let mut out = wanted;
    order.iter().zip(places).for_each(|(&i, x)| out[i] = x);
    out
}

/// Height of the lettered bars, in units.
pub(super) fn regions_height(regions: &[(char, ShiftRange)], size: f64) -> f64 {
    if regions.is_empty() { 0.0 } else { 1.05 * size + mm(0.4) }
}
