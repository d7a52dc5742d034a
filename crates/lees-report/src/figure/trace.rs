//! The curve itself, its integrals, and the signs of a clipped line.

use lees_core::Spectrum;
use lees_core::check::Check;
use plotters::style::RGBColor;

use super::color;
use super::frame::Frame;
use super::sample::envelope;
use super::sheet::{Pen, Sheet, mm};
use crate::ReportError;

/// Line width of the trace, in units: 0.5 pt.
pub(super) const STROKE: f64 = 18.0;
/// Clipped stretches nearer than this get one sign, in mm.
const SIGN_GAP: f64 = 1.6;
/// Share of the height that the largest integral takes.
const INTEGRAL_SHARE: f64 = 0.4;
/// Level ends of an integral, in mm.
const INTEGRAL_END: f64 = 0.6;

/// The curve, one lowest and one highest point a column of `column` units.
pub(super) fn draw(
    sheet: &mut Sheet,
    frame: &Frame,
    spectrum: &Spectrum,
    column: f64,
    (color, stroke): (RGBColor, f64),
) -> Result<(), ReportError> {
    let columns = ((frame.right - frame.left) / column).ceil() as usize;
    let points = envelope(spectrum, frame.range, columns);
    let pieces = pieces(frame, &points);
    sheet.group("trace", &[], |pen| {
        pieces.iter().try_for_each(|piece| pen.path(&thinned(piece), stroke, color))
    })?;
    let clipped = clipped(frame, &points);
    if clipped.is_empty() {
        return Ok(());
    }
    sheet.group("clipped", &[], |pen| clipped.iter().try_for_each(|&x| broken(pen, x, frame.top, color)))
}

/// The path without points in the middle of level or upright runs.
fn thinned(path: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut out: Vec<(f64, f64)> = Vec::with_capacity(path.len());
    for &point in path {
        if let [.., a, b] = out.as_slice() {
            let level = a.1 == b.1 && b.1 == point.1;
            let upright = a.0 == b.0 && b.0 == point.0 && (b.1 - a.1) * (point.1 - b.1) >= 0.0;
            if level || upright {
                out.pop();
            }
        }
        out.push(point);
    }
    out
}

/// The parts of the curve under the frame's top: a clipped line stays open.
fn pieces(frame: &Frame, points: &[(f64, f64)]) -> Vec<Vec<(f64, f64)>> {
    let mut pieces = vec![Vec::new()];
    let mut over = false;
    for &(shift, y) in points {
        if over && y > frame.full {
            pieces.push(Vec::new());
        }
        over = y > frame.full;
        if let Some(last) = pieces.last_mut() {
            last.push((frame.x(shift), frame.y(y)));
        }
    }
    pieces.retain(|piece| piece.len() > 1);
    pieces
}

/// Where lines rise over the frame: the middle of a narrow stretch, both ends of a wide one.
fn clipped(frame: &Frame, points: &[(f64, f64)]) -> Vec<f64> {
    let mut runs: Vec<(f64, f64)> = Vec::new();
    for &(shift, _) in points.iter().filter(|p| p.1 > frame.full) {
        let x = frame.x(shift);
        match runs.last_mut().filter(|run| x - run.1 < mm(SIGN_GAP)) {
            Some(run) => run.1 = x,
            None => runs.push((x, x)),
        }
    }
    let signs =
        |&(a, b): &(f64, f64)| if b - a > 1.5 * mm(SIGN_GAP) { vec![a, b] } else { vec![(a + b) / 2.0] };
    runs.iter().flat_map(signs).collect()
}

/// Two slanted strokes with paper between: the line goes on.
fn broken(pen: &Pen<'_, '_>, x: f64, top: f64, color: RGBColor) -> Result<(), ReportError> {
    let (half, rise, gap, y) = (mm(0.9), mm(0.35), mm(0.35), top + mm(1.5));
    let stroke = |dy: f64| [(x - half, y + rise + dy), (x + half, y - rise + dy)];
    let [a, b] = stroke(-gap);
    let [c, d] = stroke(gap);
    pen.shape(&[a, b, d, c], color::PAPER)?;
    pen.path(&[a, b], STROKE, color)?;
    pen.path(&[c, d], STROKE, color)
}

/// Running integrals of the product's signals, all on one scale.
pub(super) fn integrals(sheet: &mut Sheet, frame: &Frame, check: &Check) -> Result<(), ReportError> {
    let Some(product) = &check.product else { return Ok(()) };
    let curves: Vec<_> = product
        .signals
        .iter()
        .filter(|s| frame.range.contains(s.range.centre()))
        .map(|s| running(&check.spectrum, s.range))
        .collect();
    let largest = curves.iter().filter_map(|c| c.last()).map(|p| p.1).fold(0.0, f64::max);
    if largest <= 0.0 {
        return Ok(());
    }
    let floor = frame.base - mm(1.5);
    let unit = INTEGRAL_SHARE * (frame.base - frame.top) / largest;
    sheet.group("integrals", &[], |pen| {
        curves.iter().try_for_each(|curve| {
            let mut path: Vec<_> =
                curve.iter().map(|&(shift, sum)| (frame.x(shift), floor - unit * sum)).collect();
            if let (Some(&first), Some(&last)) = (path.first(), path.last()) {
                path.insert(0, (first.0 - mm(INTEGRAL_END), first.1));
                path.push((last.0 + mm(INTEGRAL_END), last.1));
            }
            pen.path(&thinned(&path), 16.0, color::GREEN)
        })
    })
}

/// The running sum over a range, widened by its own width, as (shift, sum).
fn running(spectrum: &Spectrum, range: lees_core::ShiftRange) -> Vec<(f64, f64)> {
    let mut sum = 0.0;
    let indices = spectrum.axis.index_range(range.high, range.low);
    let stride = (indices.len() / 200).max(1);
    let mut curve = Vec::new();
    for (k, i) in indices.enumerate() {
        sum += spectrum.real.get(i).copied().unwrap_or(0.0);
        if k % stride == 0 {
            curve.push((spectrum.axis.shift(i).0, sum));
        }
    }
    curve
}
