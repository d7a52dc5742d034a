//! A pattern drawn with the spectrum's own line.

use lees_process::LineShape;
use lees_process::lineshape::Row;

/// Where and how a pattern is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Pose {
    /// Centre, hertz from the first point.
    pub at: f64,
    /// Stretch of the pattern about its centre: couplings off by a per cent make 1.01.
    pub stretch: f64,
    /// Width over the common width.
    pub factor: f64,
}

/// One line of a pattern: offset from the centre in hertz (growing to lower shift) and share of the area.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Stick {
    /// Offset from the centre.
    pub offset: f64,
    /// Share of the pattern's area.
    pub share: f64,
}

/// First and last offset of the sticks of at least a share, in hertz from the centre.
pub(crate) fn extent(sticks: &[Stick], least_share: f64) -> (f64, f64) {
    sticks
        .iter()
        .filter(|stick| stick.share >= least_share)
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), s| (low.min(s.offset), high.max(s.offset)))
}

/// A pattern and its derivatives by centre, stretch and width factor, per unit area.
#[derive(Debug, Clone, Default)]
pub(crate) struct Drawn {
    /// The pattern.
    pub value: Vec<f64>,
    /// By the centre, per hertz.
    pub by_at: Vec<f64>,
    /// By the stretch.
    pub by_stretch: Vec<f64>,
    /// By the width factor.
    pub by_factor: Vec<f64>,
}

/// A pattern over points `range` spaced `hz` apart, per unit area, without derivatives.
pub(crate) fn trace(
    shape: &LineShape,
    sticks: &[Stick],
    pose: Pose,
    hz: f64,
    range: std::ops::Range<usize>,
) -> Vec<f64> {
    let mut out = vec![0.0; range.len()];
    for stick in sticks {
        let centre = pose.at + stick.offset * pose.stretch;
        shape.add_row(Row::about(centre, range.start as f64 * hz, hz), pose.factor, stick.share, &mut out);
    }
    out
}

/// Derivatives are drawn this many widths from a line: beyond, they no longer steer it.
const STEERING_WIDTHS: f64 = 12.0;

/// Draws a pattern with its derivatives over points `range` spaced `hz` apart.
pub(crate) fn draw(
    shape: &LineShape,
    sticks: &[Stick],
    pose: Pose,
    hz: f64,
    range: std::ops::Range<usize>,
) -> Drawn {
    let n = range.len();
    let mut drawn =
        Drawn { value: vec![0.0; n], by_at: vec![0.0; n], by_stretch: vec![0.0; n], by_factor: vec![0.0; n] };
    let reach = STEERING_WIDTHS * shape.fwhm().0 * pose.factor;
    for stick in sticks {
        let centre = pose.at + stick.offset * pose.stretch;
        let row = |point: usize| Row::about(centre, (range.start + point) as f64 * hz, hz);
        let point = |at: f64| ((at / hz - range.start as f64).max(0.0) as usize).min(n);
        let (near, far) = (point(centre - reach), point(centre + reach));
        shape.add_row(row(0), pose.factor, stick.share, &mut drawn.value[..near]);
        shape.add_row(row(far), pose.factor, stick.share, &mut drawn.value[far..]);
        shape.each_point(row(near), pose.factor, far - near, |k, point| {
            let k = near + k;
            drawn.value[k] += stick.share * point.value;
            drawn.by_at[k] -= stick.share * point.by_offset;
            drawn.by_stretch[k] -= stick.share * stick.offset * point.by_offset;
            drawn.by_factor[k] += stick.share * point.by_factor;
        });
    }
    drawn
}

/// Sticks within this many widths are drawn as one.
pub(crate) const SAME_STICK: f64 = 0.05;

/// Sticks closer together than `apart` hertz become one: they cannot be told apart in this spectrum.
pub(crate) fn merge(sticks: &[Stick], apart: f64) -> Vec<Stick> {
    let mut sorted = sticks.to_vec();
    sorted.sort_by(|a, b| a.offset.total_cmp(&b.offset));
    let mut merged: Vec<Stick> = Vec::new();
    let mut start = f64::NEG_INFINITY;
    for stick in sorted {
        match merged.last_mut() {
            Some(last) if stick.offset - start < apart => {
                let share = last.share + stick.share;
                last.offset += (stick.offset - last.offset) * stick.share / share;
                last.share = share;
            }
            _ => {
                start = stick.offset;
                merged.push(stick);
            }
        }
    }
    merged
}
