//! Spinning side bands.

use lees_core::{Line, LineKind};

use super::{ArtefactSettings, Scene};
use crate::noise::median_of;

/// Strongest lines whose surroundings are searched.
const PARENTS: usize = 24;
/// Pairs looked at, those of the strongest lines first: far more than any spectrum shows, so that no damaged file takes long.
const MOST_PAIRS: usize = 2000;
/// Side bands are smaller than this share of their parent.
const MOST_SHARE: f64 = 0.08;
/// Two parents further apart than this, hertz, are no lines of one multiplet.
const APART_HZ: f64 = 100.0;
/// Spin rates of two parents agree within this, hertz.
const SAME_RATE_HZ: f64 = 0.4;
/// Areas of a pair agree within this share.
const SAME_AREA: f64 = 0.35;
/// Distances of a pair agree within this share of a line's width.
const PLACE: f64 = 0.3;
/// A side band this many times above noise would be seen ...
const CLEAR: f64 = 6.0;
/// ... and is there when the spectrum has this share of its height; one in so many may be missing.
const LEAST_THERE: f64 = 0.3;
const MISSING_ONE_IN: usize = 5;
/// Area of a side band without its twin, over the usual one's.
const SINGLE: (f64, f64) = (0.4, 2.5);

/// A symmetric pair about a parent.
#[derive(Debug, Clone, Copy)]
struct Pair {
    parent: usize,
    left: usize,
    right: usize,
    /// Distance from the parent in hertz: the rate, or twice the rate.
    rate: f64,
}

/// A rate at which the tube seems to spin, and the area of a side band over its parent's.
#[derive(Debug, Clone, Copy)]
struct Spin {
    rate: f64,
    share: f64,
}

/// Labels pairs of small lines that stand at the same distance on both sides of two or more strong lines, and what stands
/// at that distance from other strong lines and is as large.
///
/// Nothing is labelled where strong lines show nothing at that distance: every line of a spinning tube has its bands.
pub(crate) fn label_sidebands(lines: &mut [Line], scene: &Scene<'_>, settings: &ArtefactSettings) {
    let parents = parents(lines);
    let pairs = parents.iter().flat_map(|p| pairs_of(lines, scene, settings, *p));
    let pairs: Vec<Pair> = pairs.take(MOST_PAIRS).collect();
    let slow = |p: &&Pair| p.rate <= settings.most_spin_hz;
    let share = |p: &Pair| (lines[p.left].area + lines[p.right].area) / (2.0 * lines[p.parent].area);
    let supported = |a: &&Pair| {
        pairs.iter().any(|b| {
            let distance = (scene.position(&lines[a.parent]) - scene.position(&lines[b.parent])).abs();
            let at_rate = |times: f64| (times * a.rate - b.rate).abs() < SAME_RATE_HZ;
            let second = b.parent == a.parent && at_rate(2.0) && share(b) < share(a);
            (distance > APART_HZ && at_rate(1.0)) || second
        })
    };
    let mut left: Vec<Pair> = pairs.iter().filter(slow).filter(supported).copied().collect();
    let mut bands: Vec<(usize, usize)> = Vec::new();
    while let Some(first) = left.first().copied() {
        let (alike, others): (Vec<Pair>, Vec<Pair>) =
            left.into_iter().partition(|pair| (pair.rate - first.rate).abs() < SAME_RATE_HZ);
        left = others;
        let spin =
            Spin { rate: median_of(alike.iter().map(|p| p.rate)), share: median_of(alike.iter().map(share)) };
        if is_everywhere(lines, scene, &parents, spin) {
            bands.extend(alike.iter().flat_map(|p| [(p.left, p.parent), (p.right, p.parent)]));
            bands.extend(singles(lines, scene, &parents, spin));
            let second = |p: &&Pair| (p.rate - 2.0 * spin.rate).abs() < SAME_RATE_HZ && share(p) < spin.share;
            bands.extend(pairs.iter().filter(second).flat_map(|p| [(p.left, p.parent), (p.right, p.parent)]));
        }
    }
    for (band, parent) in bands {
        lines[band].kind = LineKind::SpinningSideband;
        lines[band].parent = Some(parent);
    }
}

/// The strongest lines.
fn parents(lines: &[Line]) -> Vec<usize> {
    let mut parents: Vec<usize> = (0..lines.len()).filter(|k| lines[*k].kind == LineKind::Signal).collect();
    parents.sort_by(|a, b| lines[*b].height.total_cmp(&lines[*a].height));
    parents.truncate(PARENTS);
    parents
}

/// Whether the spectrum is as high as a side band would be beside nearly all lines whose bands would be seen.
fn is_everywhere(lines: &[Line], scene: &Scene<'_>, parents: &[usize], spin: Spin) -> bool {
    let (mut seen, mut missing) = (0, 0);
    for &parent in parents {
        let expected = spin.share * lines[parent].height;
        for side in [-1.0, 1.0] {
            let at = scene.index(scene.position(&lines[parent]) + side * spin.rate);
            if expected < CLEAR * scene.noise.sigma(at) {
                continue;
            }
            let there = scene.model[at] + scene.residual[at] > LEAST_THERE * expected;
            if there { seen += 1 } else { missing += 1 }
        }
    }
    missing * MISSING_ONE_IN <= seen + missing
}

/// Lines at the rate from a strong line, as large as its side band should be.
fn singles(lines: &[Line], scene: &Scene<'_>, parents: &[usize], spin: Spin) -> Vec<(usize, usize)> {
    let tolerance = SAME_RATE_HZ.max(PLACE * scene.shape.fwhm().0);
    let mut out = Vec::new();
    for (k, line) in lines.iter().enumerate().filter(|(_, line)| line.kind == LineKind::Signal) {
        let is_band = |parent: &usize| {
            let expected = spin.share * lines[*parent].area;
            let off = (scene.position(line) - scene.position(&lines[*parent])).abs() - spin.rate;
            off.abs() < tolerance && (SINGLE.0 * expected..SINGLE.1 * expected).contains(&line.area)
        };
        if let Some(parent) = parents.iter().copied().find(is_band) {
            out.push((k, parent));
        }
    }
    out
}

fn pairs_of(lines: &[Line], scene: &Scene<'_>, settings: &ArtefactSettings, parent: usize) -> Vec<Pair> {
    let centre = scene.position(&lines[parent]);
    let tolerance = PLACE * scene.shape.fwhm().0;
    let small = |k: usize| {
        let offset = (scene.position(&lines[k]) - centre).abs();
        lines[k].kind == LineKind::Signal
            && lines[k].area < MOST_SHARE * lines[parent].area
            && offset >= settings.least_spin_hz
            && offset <= 2.0 * settings.most_spin_hz
    };
    let (left, right): (Vec<usize>, Vec<usize>) =
        (0..lines.len()).filter(|k| small(*k)).partition(|k| scene.position(&lines[*k]) < centre);
    let mut out = Vec::new();
    for l in left {
        for r in right.iter().copied() {
            let (a, b) = (centre - scene.position(&lines[l]), scene.position(&lines[r]) - centre);
            let apart = (lines[l].area - lines[r].area).abs();
            let allowed = SAME_AREA * lines[l].area + 2.0 * libm::hypot(lines[l].area_u, lines[r].area_u);
            if (a - b).abs() < tolerance && apart < allowed {
                out.push(Pair { parent, left: l, right: r, rate: (a + b) / 2.0 });
            }
        }
    }
    out
}
