//! Which stretch is drawn and how tall.

use lees_core::check::Check;
use lees_core::{LineKind, Ppm, ShiftRange};

use super::sample::highest;

/// Free space beyond the outermost signal, in ppm.
const MARGIN_PPM: f64 = 0.35;
/// A line counts for the default range when it is this many times the noise.
const VISIBLE: f64 = 10.0;
/// Free space above the tallest line, as a factor.
const HEADROOM: f64 = 1.06;

/// Product lines taller than so many times the middle one are clipped, else the others are not seen.
const TALLEST_OVER_MIDDLE: f64 = 5.0;

/// The stretch that holds every visible signal and every one that a content rests on.
pub(super) fn default_range(check: &Check) -> ShiftRange {
    let axis = &check.spectrum.axis;
    let lines = check.lines.iter().filter(|l| l.kind == LineKind::Signal && l.height > VISIBLE * check.noise);
    let product = check.product.iter().flat_map(|p| p.signals.iter().map(|s| s.range));
    let unexplained = check.unexplained.iter().map(|u| u.range);
    let found = check.volatiles.iter().flat_map(|v| v.signals.iter().filter(|s| s.used).map(|s| s.range));
    let shifts =
        lines.map(|l| ShiftRange::new(l.shift, l.shift)).chain(product).chain(unexplained).chain(found);
    let shown = shifts.reduce(|a, b| ShiftRange { high: max(a.high, b.high), low: min(a.low, b.low) });
    let whole = ShiftRange { high: axis.first(), low: axis.last() };
    shown.map_or(whole, |r| clip(r.widened(Ppm(MARGIN_PPM)), whole))
}

fn clip(range: ShiftRange, whole: ShiftRange) -> ShiftRange {
    ShiftRange { high: min(range.high, whole.high), low: max(range.low, whole.low) }
}

fn max(a: Ppm, b: Ppm) -> Ppm {
    Ppm(a.0.max(b.0))
}

fn min(a: Ppm, b: Ppm) -> Ppm {
    Ppm(a.0.min(b.0))
}

/// The intensity at the top of the figure: the product's signals fit, what is far taller is clipped.
///
/// Without product, the tallest line outside what is not counted; without that, the tallest point.
pub(super) fn full(check: &Check, range: ShiftRange) -> f64 {
    let chosen = product(check, range)
        .or_else(|| others(check, range))
        .or_else(|| highest(&check.spectrum, range))
        .filter(|y| *y > 0.0);
    chosen.unwrap_or(1.0).max(3.0 * check.noise) * HEADROOM
}

/// The product's tallest signal, or a few times its middle one when that is less.
fn product(check: &Check, range: ShiftRange) -> Option<f64> {
    let ranges = check.product.iter().flat_map(|p| p.signals.iter().map(|s| s.range));
    let shown = ranges.filter(|r| range.contains(r.centre()));
    let mut heights: Vec<f64> = shown.filter_map(|r| highest(&check.spectrum, r)).collect();
    heights.sort_by(f64::total_cmp);
    let middle = heights.get(heights.len() / 2)?;
    heights.last().map(|tallest| tallest.min(TALLEST_OVER_MIDDLE * middle))
}

/// The tallest line that is no NMR solvent, water or the like.
fn others(check: &Check, range: ShiftRange) -> Option<f64> {
    let aside = |shift: Ppm| {
        check
            .not_counted
            .iter()
            .flat_map(|n| &n.finding.signals)
            .any(|s| s.range.widened(Ppm(0.02)).contains(shift))
    };
    let lines = check.lines.iter().filter(|l| l.kind == LineKind::Signal && range.contains(l.shift));
    lines.filter(|l| !aside(l.shift)).map(|l| l.height).reduce(f64::max)
}
