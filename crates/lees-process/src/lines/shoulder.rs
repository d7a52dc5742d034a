//! The shoulder that a poor shim gives every line, told from the faint lines that stand beside strong ones.

use super::{FitLine, WidthKind};
use crate::lineshape::ShapeParameters;
use crate::noise::median_of;
use crate::{LineShape, Noise};

/// Height over noise of a line whose shoulder would be seen.
const CLEAR: f64 = 200.0;
/// Most lines looked at, strongest first.
const MOST_LINES: usize = 100;
/// Area of a shoulder over that of its line.
const SHARES: (f64, f64) = (0.01, 0.3);
/// A shoulder stands within this many widths of its line, ...
const REACH: f64 = 5.0;
/// ... on either side of the common offset within this many, ...
const SAME_PLACE: f64 = 0.4;
/// ... and is as large as the others within this factor.
const SAME_SHARE: f64 = 1.8;
/// Lines nearer than this many widths to one another belong to one signal.
const ONE_SIGNAL: f64 = 12.0;
/// So many signals must show it, ...
const LEAST_SIGNALS: usize = 3;
/// ... and this share of the lines that could.
const LEAST_SHARE: f64 = 0.4;

/// A faint line beside a strong one.
struct Companion {
    parent: usize,
    line: usize,
    /// Distance in hertz, growing with the index.
    offset: f64,
    /// Area over the parent's.
    share: f64,
}

/// The shape with the shoulder that the strong lines have in common, and the lines (sorted by position) without those
/// that stood for it; `None` where they have none in common.
pub(super) fn common_shoulder(
    lines: &[FitLine],
    shape: &LineShape,
    noise: &Noise,
    step: f64,
) -> Option<(LineShape, Vec<FitLine>)> {
    let width = shape.fwhm().0;
    let strong = strong(lines, shape, noise, step);
    let companions = companions(lines, &strong, width);
    let together = |a: &Companion| -> Vec<&Companion> {
        let alike = |b: &&Companion| {
            (a.offset - b.offset).abs() < SAME_PLACE * width
                && (SAME_SHARE.recip()..SAME_SHARE).contains(&(b.share / a.share))
        };
        let mut alike: Vec<&Companion> = companions.iter().filter(alike).collect();
        alike.dedup_by_key(|c| c.parent);
        alike
    };
    let best = companions.iter().map(together).max_by_key(Vec::len)?;
    let signals = best
        .iter()
        .map(|c| lines[c.parent].position)
        .fold((0, f64::NEG_INFINITY), |(count, last), at| {
            if at - last > ONE_SIGNAL * width { (count + 1, at) } else { (count, at) }
        })
        .0;
    let offset = median_of(best.iter().map(|c| c.offset));
    let could = strong.iter().filter(|s| is_open(lines, **s, offset, width)).count();
    let ratio = median_of(best.iter().map(|c| c.share));
    // side lobes and side bands stand on both sides
    let is_twin =
        |c: &&Companion| (c.offset + offset).abs() < SAME_PLACE * width && c.share > ratio / SAME_SHARE;
    let twins = companions.iter().filter(is_twin).count();
    let is_common = signals >= LEAST_SIGNALS && best.len() as f64 >= LEAST_SHARE * could as f64;
    if !is_common || 2 * twins > best.len() {
        return None;
    }
    let wide = median_of(best.iter().map(|c| lines[c.line].factor / lines[c.parent].factor));
    let core = shape.parameters();
    let parameters = ShapeParameters {
        shoulder: ratio / (1.0 + ratio),
        shoulder_offset: offset / core.width,
        shoulder_width: wide * width / core.width,
        ..core
    };
    let mut whole = lines.to_vec();
    best.iter().for_each(|c| whole[c.parent].area += lines[c.line].area);
    let stays = |k: &usize| best.iter().all(|c| c.line != *k);
    Some((LineShape::new(parameters), (0..lines.len()).filter(stays).map(|k| whole[k]).collect()))
}

/// Strong sharp lines that no taller one stands beside.
fn strong(lines: &[FitLine], shape: &LineShape, noise: &Noise, step: f64) -> Vec<usize> {
    let height = |l: &FitLine| l.area * shape.height(l.factor);
    let clear = |l: &FitLine| {
        l.width == WidthKind::Common && height(l) > CLEAR * noise.sigma((l.position / step).max(0.0) as usize)
    };
    let reach = REACH * shape.fwhm().0;
    let overshadowed = |k: usize| {
        let own = &lines[k];
        lines
            .iter()
            .any(|other| (other.position - own.position).abs() < reach && own.area < SHARES.1 * other.area)
    };
    let mut strong: Vec<usize> = (0..lines.len()).filter(|&k| clear(&lines[k]) && !overshadowed(k)).collect();
    if strong.len() > MOST_LINES {
        strong.sort_by(|a, b| height(&lines[*b]).total_cmp(&height(&lines[*a])));
        strong.truncate(MOST_LINES);
        strong.sort_unstable();
    }
    strong
}

fn companions(lines: &[FitLine], strong: &[usize], width: f64) -> Vec<Companion> {
    let mut out = Vec::new();
    for &parent in strong {
        let own = &lines[parent];
        for (line, other) in lines.iter().enumerate() {
            let (offset, share) = (other.position - own.position, other.area / own.area);
            let faint = (SHARES.0..SHARES.1).contains(&share) && !strong.contains(&line);
            if line != parent && faint && offset.abs() < REACH * width {
                out.push(Companion { parent, line, offset, share });
            }
        }
    }
    out
}

/// Whether a shoulder at an offset from a line would not lie under another one.
fn is_open(lines: &[FitLine], k: usize, offset: f64, width: f64) -> bool {
    let place = lines[k].position + offset;
    lines.iter().enumerate().all(|(other, line)| {
        other == k || line.area < SHARES.1 * lines[k].area || (line.position - place).abs() > width
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn with_shoulders(at: &[f64], share: f64) -> Vec<FitLine> {
        let pair = |at: &f64| [FitLine::new(*at, 1000.0, 1.0), FitLine::new(at + 2.0, share * 1000.0, 1.6)];
        at.iter().flat_map(pair).collect()
    }

    fn told(lines: &[FitLine]) -> Option<(LineShape, Vec<FitLine>)> {
        common_shoulder(lines, &LineShape::voigt(lees_core::Hertz(1.0), 1.0), &Noise::white(1.0, 10_000), 0.1)
    }

    #[test]
    fn a_shoulder_is_what_three_signals_have_beside_them() {
        let (shape, lines) = told(&with_shoulders(&[100.0, 300.0, 500.0], 0.08)).expect("three alike");
        let shoulder = shape.parameters();
        assert!((shoulder.shoulder - 0.08 / 1.08).abs() < 1e-9, "{shoulder:?}");
        assert_eq!((shoulder.shoulder_offset, shoulder.shoulder_width), (2.0, 1.6));
        let areas: Vec<f64> = lines.iter().map(|line| line.area).collect();
        assert_eq!(areas, [1080.0; 3], "no area is lost");
    }

    #[test]
    fn what_one_signal_or_few_lines_show_is_no_shoulder() {
        assert!(told(&with_shoulders(&[100.0, 300.0], 0.08)).is_none(), "two signals");
        assert!(told(&with_shoulders(&[100.0, 107.0, 114.0], 0.08)).is_none(), "one triplet");
        let mut lobes = with_shoulders(&[100.0, 300.0, 500.0], 0.08);
        lobes.extend([98.0, 298.0, 498.0].map(|at| FitLine::new(at, 80.0, 1.6)));
        lobes.sort_by(|a, b| a.position.total_cmp(&b.position));
        assert!(told(&lobes).is_none(), "on both sides");
        let mut many = with_shoulders(&[100.0, 300.0, 500.0], 0.08);
        many.extend((0..6).map(|k| FitLine::new(600.0 + 40.0 * f64::from(k), 1000.0, 1.0)));
        assert!(told(&many).is_none(), "six of nine lines have none");
    }
}
