//! Fewer points, no line lost: the lowest and highest point of every column.

use lees_core::{ShiftRange, Spectrum};

/// The trace between two shifts as (shift, intensity), highest shift first.
///
/// With more than two points a column, each column keeps its lowest and highest point, at their own shifts and in
/// their own order, so every maximum is drawn where it stands.
pub(crate) fn envelope(spectrum: &Spectrum, range: ShiftRange, columns: usize) -> Vec<(f64, f64)> {
    let indices = spectrum.axis.index_range(range.high, range.low);
    let point =
        |i: usize| Some((spectrum.axis.shift(i).0, *spectrum.real.get(i)?)).filter(|p| p.1.is_finite());
    let count = indices.len();
    if columns == 0 || count <= 2 * columns {
        return indices.filter_map(point).collect();
    }
    let edge = |column: usize| indices.start + column * count / columns;
    (0..columns).flat_map(|c| extremes((edge(c)..edge(c + 1)).filter_map(point))).collect()
}

/// Lowest and highest point in the order they come.
fn extremes(points: impl Iterator<Item = (f64, f64)>) -> impl Iterator<Item = (f64, f64)> {
    let mut low: Option<(f64, f64)> = None;
    let mut high: Option<(f64, f64)> = None;
    for point in points {
        if low.is_none_or(|l| point.1 < l.1) {
            low = Some(point);
        }
        if high.is_none_or(|h| point.1 > h.1) {
            high = Some(point);
        }
    }
    let (first, second) = if low.map(|p| p.0) >= high.map(|p| p.0) { (low, high) } else { (high, low) };
    first.into_iter().chain(second.filter(|_| first != second))
}

/// The highest intensity between two shifts; `None` when no point lies there.
pub(crate) fn highest(spectrum: &Spectrum, range: ShiftRange) -> Option<f64> {
    let indices = spectrum.axis.index_range(range.high, range.low);
    let points = indices.filter_map(|i| spectrum.real.get(i).copied()).filter(|y| y.is_finite());
    points.reduce(f64::max)
}
