//! The sum of all lines at every point: exact near each line, interpolated in its far tails.

use lees_core::Hertz;

use super::{FitLine, lorentzian_of};
use crate::LineShape;
use crate::lineshape::Row;

/// Points between two nodes of the far field.
const NODE: usize = 32;
/// A line is evaluated exactly within this many widths of its position ...
const NEAR_WIDTHS: f64 = 16.0;
/// ... and within this many nodes, whichever reaches further.
const NEAR_NODES: f64 = 6.0;
/// Nodes for one where tails are all but straight: from four such stretches beyond the exact part on, where a tail bends by
/// less than a twentieth of itself within a stretch.
const COARSE: usize = 16;

/// Scratch for the far tails: left and right value of every interval between nodes, and of every 16 of them.
#[derive(Debug, Clone, Default)]
pub struct FarField {
    ends: Vec<(f64, f64)>,
    coarse: Vec<(f64, f64)>,
}

/// Writes the sum of `lines` to `out`, whose points are `step` hertz apart.
///
/// ```
/// use lees_core::Hertz;
/// use lees_process::{LineShape, lines::{FarField, FitLine, render}};
/// let shape = LineShape::voigt(Hertz(1.0), 0.9);
/// let mut out = vec![0.0; 4096];
/// render(&[FitLine::new(200.0, 3.0, 1.0)], &shape, 0.1, &mut FarField::default(), &mut out);
/// let far = 3.0 * shape.value(Hertz(150.0), 1.0);
/// assert!((out[3500] - far).abs() < 1e-3 * far);
/// ```
pub fn render(lines: &[FitLine], shape: &LineShape, step: f64, far: &mut FarField, out: &mut [f64]) {
    out.fill(0.0);
    add(lines, shape, step, far, out);
}

/// Adds the sum of `lines` to `out`.
pub(super) fn add(lines: &[FitLine], shape: &LineShape, step: f64, far: &mut FarField, out: &mut [f64]) {
    let intervals = out.len().div_ceil(NODE);
    let FarField { ends, coarse } = far;
    ends.clear();
    ends.resize(intervals, (0.0, 0.0));
    coarse.clear();
    coarse.resize(intervals.div_ceil(COARSE), (0.0, 0.0));
    let lorentzian = lorentzian_of(shape);
    for line in lines {
        add_one(line, line.shape(shape, &lorentzian), step, (ends, coarse), out);
    }
    for (stretch, (left, right)) in ends.chunks_mut(COARSE).zip(coarse) {
        let rise = (*right - *left) / COARSE as f64;
        for (k, end) in stretch.iter_mut().enumerate() {
            end.0 += *left + rise * k as f64;
            end.1 += *left + rise * (k + 1) as f64;
        }
    }
    for (chunk, (left, right)) in out.chunks_mut(NODE).zip(ends) {
        let slope = (*right - *left) / NODE as f64;
        chunk.iter_mut().zip(&PLACES).for_each(|(o, place)| *o += *left + slope * place);
    }
}

/// Points of an interval, by number.
const PLACES: [f64; NODE] = {
    let mut places = [0.0; NODE];
    let mut i = 1;
    while i < NODE {
        places[i] = places[i - 1] + 1.0;
        i += 1;
    }
    places
};

/// Intervals, and stretches of [`COARSE`] of them.
type Ends<'a> = (&'a mut [(f64, f64)], &'a mut [(f64, f64)]);

fn add_one(line: &FitLine, shape: &LineShape, step: f64, (ends, coarse): Ends<'_>, out: &mut [f64]) {
    let width = shape.fwhm().0 * line.factor;
    let node = NODE as f64 * step;
    let reach = (NEAR_WIDTHS * width).max(NEAR_NODES * node);
    let first = (((line.position - reach) / node).floor().max(0.0) as usize).min(ends.len());
    let last = (((line.position + reach) / node).ceil().max(0.0) as usize).clamp(first, ends.len());
    let value = |x: f64| line.area * shape.value(Hertz(x - line.position), line.factor);
    let end = (last * NODE).min(out.len());
    let near = &mut out[(first * NODE).min(end)..end];
    shape.add_row(Row::about(line.position, first as f64 * node, step), line.factor, line.area, near);
    let (below, above) = (first.saturating_sub(4 * COARSE) / COARSE, last.div_ceil(COARSE) + 4);
    let above = above.min(coarse.len());
    let long = COARSE as f64 * node;
    tail(&mut coarse[..below], 0.0, long, &value);
    tail(&mut ends[below * COARSE..first], (below * COARSE) as f64 * node, node, &value);
    let end = (above * COARSE).clamp(last, ends.len());
    tail(&mut ends[last..end], last as f64 * node, node, &value);
    tail(&mut coarse[above..], (above * COARSE) as f64 * node, long, &value);
}

/// Adds a tail to intervals `length` hertz long, the first of which starts at `from`; it is taken as straight over each.
fn tail(ends: &mut [(f64, f64)], from: f64, length: f64, value: &impl Fn(f64) -> f64) {
    let mut left = if ends.is_empty() { 0.0 } else { value(from) };
    for (k, end) in ends.iter_mut().enumerate() {
        let right = value(from + (k + 1) as f64 * length);
        end.0 += left;
        end.1 += right;
        left = right;
    }
}

/// Lines of the first list that are not in the second, their areas negative, and the other way round; both sorted by position.
pub(super) fn differences(old: &[FitLine], new: &[FitLine]) -> Vec<FitLine> {
    let mut changes = Vec::new();
    let (mut i, mut j) = (0, 0);
    while i < old.len() || j < new.len() {
        match (old.get(i), new.get(j)) {
            (Some(a), Some(b)) if a == b => (i, j) = (i + 1, j + 1),
            (Some(a), b) if b.is_none_or(|b| a.position <= b.position) => {
                changes.push(FitLine { area: -a.area, ..*a });
                i += 1;
            }
            (_, Some(b)) => {
                changes.push(*b);
                j += 1;
            }
            (_, None) => break,
        }
    }
    changes
}
