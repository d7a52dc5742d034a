//! Which lines are fitted together.

use std::ops::Range;

use super::FitLine;

/// Most lines fitted at once; longer runs are cut at their widest gap.
const MOST_LINES: usize = 24;

/// Lines fitted together and the points they are fitted to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cluster {
    /// Indices into the (sorted) list of lines.
    pub lines: Range<usize>,
    /// Points of the spectrum.
    pub window: Range<usize>,
}

/// Splits lines, sorted by position, into connected clusters.
///
/// Two neighbours are connected when they lie within `reach` hertz times the larger of their width factors; the
/// window goes on by `reach` at either end.
#[must_use]
pub(crate) fn clusters(lines: &[FitLine], reach: f64, hertz_per_point: f64, points: usize) -> Vec<Cluster> {
    let mut out = Vec::new();
    let mut start = 0;
    for i in 1..=lines.len() {
        let apart = i == lines.len()
            || lines[i].position - lines[i - 1].position > reach * lines[i].factor.max(lines[i - 1].factor);
        if apart {
            divide(lines, start..i, &mut out);
            start = i;
        }
    }
    out.into_iter()
        .filter(|range| !range.is_empty())
        .map(|range| Cluster { window: window(lines, &range, reach, hertz_per_point, points), lines: range })
        .collect()
}

fn divide(lines: &[FitLine], range: Range<usize>, out: &mut Vec<Range<usize>>) {
    if range.len() <= MOST_LINES {
        out.push(range);
        return;
    }
    let quarter = range.len() / 4;
    let cut = (range.start + quarter..range.end - quarter)
        .max_by(|a, b| {
            let gap = |i: usize| lines[i].position - lines[i - 1].position;
            gap(*a).total_cmp(&gap(*b))
        })
        .unwrap_or(range.start + range.len() / 2);
    divide(lines, range.start..cut, out);
    divide(lines, cut..range.end, out);
}

fn window(lines: &[FitLine], range: &Range<usize>, reach: f64, step: f64, points: usize) -> Range<usize> {
    let edge = |side: f64| {
        lines[range.clone()].iter().map(move |l| side * (l.position + side * reach * l.factor.max(1.0)))
    };
    let low = -edge(-1.0).fold(f64::NEG_INFINITY, f64::max);
    let high = edge(1.0).fold(f64::NEG_INFINITY, f64::max);
    let start = ((low / step).floor().max(0.0) as usize).min(points.saturating_sub(1));
    let end =
        ((high / step).ceil().max(0.0) as usize).saturating_add(1).clamp(start + 1, points.max(start + 1));
    start..end
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reach_beyond_everything_takes_all_points() {
        let line = FitLine::new(5.0, 1.0, 1.0);
        for reach in [1e300, f64::INFINITY] {
            let found = clusters(&[line], reach, 0.5, 100);
            assert_eq!((found[0].window.clone(), found[0].lines.clone()), (0..100, 0..1));
        }
    }
}
