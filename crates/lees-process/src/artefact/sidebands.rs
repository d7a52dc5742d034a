//! Spinning side bands.

use lees_core::{Line, LineKind};

use super::{ArtefactSettings, Scene};

/// Strongest lines whose surroundings are searched.
const PARENTS: usize = 8;
/// Side bands are smaller than this share of their parent.
const MOST_SHARE: f64 = 0.08;
/// Two parents further apart than this, hertz, are no lines of one multiplet.
const APART_HZ: f64 = 100.0;
/// Spin rates of two parents agree within this, hertz.
const SAME_RATE_HZ: f64 = 0.4;
/// Areas of a pair agree within this share.
const SAME_AREA: f64 = 0.35;

/// A symmetric pair about a parent.
#[derive(Debug, Clone, Copy)]
struct Pair {
    parent: usize,
    left: usize,
    right: usize,
    rate: f64,
}

/// Labels pairs of small lines that stand at the same distance on both sides of two or more strong lines.
pub(crate) fn label_sidebands(lines: &mut [Line], scene: &Scene<'_>, settings: &ArtefactSettings) {
    let pairs = pairs(lines, scene, settings);
    let supported: Vec<Pair> = pairs
        .iter()
        .filter(|a| {
            pairs.iter().any(|b| {
                let distance = (scene.position(&lines[a.parent]) - scene.position(&lines[b.parent])).abs();
                distance > APART_HZ && (a.rate - b.rate).abs() < SAME_RATE_HZ
            })
        })
        .copied()
        .collect();
    for pair in supported {
        for k in [pair.left, pair.right] {
            lines[k].kind = LineKind::SpinningSideband;
            lines[k].parent = Some(pair.parent);
        }
    }
}

fn pairs(lines: &[Line], scene: &Scene<'_>, settings: &ArtefactSettings) -> Vec<Pair> {
    let mut parents: Vec<usize> = (0..lines.len()).filter(|k| lines[*k].kind == LineKind::Signal).collect();
    parents.sort_by(|a, b| lines[*b].height.total_cmp(&lines[*a].height));
    parents.truncate(PARENTS);
    parents.iter().flat_map(|p| pairs_of(lines, scene, settings, *p)).collect()
}

fn pairs_of(lines: &[Line], scene: &Scene<'_>, settings: &ArtefactSettings, parent: usize) -> Vec<Pair> {
    let centre = scene.position(&lines[parent]);
    let tolerance = 0.3 * scene.shape.fwhm().0;
    let small = |k: usize| {
        let offset = (scene.position(&lines[k]) - centre).abs();
        lines[k].kind == LineKind::Signal
            && lines[k].area < MOST_SHARE * lines[parent].area
            && offset >= settings.least_spin_hz
            && offset <= settings.most_spin_hz
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
