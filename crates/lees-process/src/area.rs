//! Window sums: the cross-check of fitted areas.

use std::ops::Range;

use lees_core::Hertz;

use crate::{LineShape, Noise};

/// The sum over a window.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WindowArea {
    /// Sum times point distance, intensity times hertz, as it stands.
    pub raw: f64,
    /// The same over the retained share: tails outside the window added.
    pub corrected: f64,
    /// Standard uncertainty of the corrected area from coloured noise.
    pub u: f64,
}

/// Sums `values` (baseline removed) over an index range, for one line at `position` hertz from the first point.
///
/// A Lorentzian keeps `(2 / pi) atan k` of its area within `k` half widths; the share is taken from the common
/// shape. `None` when the window is empty or lies outside.
///
/// ```
/// use lees_core::Hertz;
/// use lees_process::{LineShape, Noise, area::window_area};
/// let shape = LineShape::voigt(Hertz(1.0), 1.0);
/// let line: Vec<f64> = (0..2000).map(|i| 5.0 * shape.value(Hertz(f64::from(i) * 0.1 - 100.0), 1.0)).collect();
/// let sum = window_area(&line, &Noise::white(1e-3, 2000), 0.1, 900..1101, 100.0, &shape, 1.0).expect("a window");
/// assert!(sum.raw < 4.85 && (sum.corrected - 5.0).abs() < 0.01);
/// ```
#[must_use]
pub fn window_area(
    values: &[f64],
    noise: &Noise,
    step: f64,
    range: Range<usize>,
    position: f64,
    shape: &LineShape,
    factor: f64,
) -> Option<WindowArea> {
    let window = values.get(range.clone())?;
    if window.is_empty() {
        return None;
    }
    let edge = |i: usize| Hertz((i as f64 - 0.5) * step - position);
    let kept = shape.integral(edge(range.end), factor) - shape.integral(edge(range.start), factor);
    let raw = window.iter().sum::<f64>() * step;
    (kept > 0.0).then(|| WindowArea { raw, corrected: raw / kept, u: noise.range_u(range) * step / kept })
}
