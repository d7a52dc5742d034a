//! 13C satellites: pairs about every strong line at the one-bond carbon coupling.

use lees_core::{Line, LineKind, Ppm};

use super::{ArtefactSettings, Scene};

/// Share of a line's area in each satellite, per site bound to one carbon: half of 1.07 % 13C, of the area of
/// the central 12C line (IUPAC isotopic composition of carbon, Meija et al., Pure Appl. Chem. 2016, 88, 293:
/// 0.0107).
pub const CARBON_SHARE: f64 = 0.0107 / 2.0 / (1.0 - 0.0107);
/// Share in each satellite of 29Si (4.67 % abundant), of the central line.
const SILICON_SHARE: f64 = 0.0467 / 2.0 / (1.0 - 0.0467);
/// Two-bond couplings of methyl protons to 29Si, hertz (TMS 6.6; common practice, no source).
const SILICON_COUPLING: (f64, f64) = (6.0, 7.6);
/// Least distance allowed between predicted and found position, hertz.
const PLACE_HZ: f64 = 0.3;
/// Standard errors by which place and area may be off: weak lines of overlapping satellite multiplets.
const ERRORS: f64 = 4.0;
/// Lines nearer to one another than this share of a width are one line.
const ONE_LINE: f64 = 0.3;
/// The middle of a pair may lie this far to higher shift, ppm: isotope shifts go to lower shift.
const WRONG_WAY_PPM: f64 = 0.001;

/// One kind of satellite.
struct Isotope {
    share: f64,
    couplings: (f64, f64),
    middle: (f64, f64),
    kind: LineKind,
}

/// A found or half-found pair.
struct Pair {
    left: Option<usize>,
    right: Option<usize>,
    parent: usize,
    coupling: f64,
}

/// Labels the satellites of every line strong enough to show them.
///
/// A pair must lie symmetrically about a point just to lower shift of its parent, at a possible coupling, and each
/// partner must have the area the abundance asks for. One line of a pair is labelled alone only when its partner
/// is hidden under a stronger signal, or when the residual at the partner's place holds the missing area. A line
/// that is larger than its satellite should be stays a signal.
pub(crate) fn label_satellites(lines: &mut [Line], scene: &Scene<'_>, settings: &ArtefactSettings) {
    let carbon = Isotope {
        share: CARBON_SHARE,
        couplings: (settings.least_coupling_hz, settings.most_coupling_hz),
        middle: (-WRONG_WAY_PPM, settings.isotope_shift_ppm),
        kind: LineKind::CarbonSatellite,
    };
    let silicon = Isotope {
        share: SILICON_SHARE,
        couplings: SILICON_COUPLING,
        middle: (-WRONG_WAY_PPM, WRONG_WAY_PPM),
        kind: LineKind::OtherSatellite,
    };
    for isotope in [carbon, silicon] {
        let alone = isotope.kind == LineKind::CarbonSatellite;
        let mut parents: Vec<usize> =
            (0..lines.len()).filter(|k| lines[*k].kind == LineKind::Signal).collect();
        parents.sort_by(|a, b| lines[*b].area.total_cmp(&lines[*a].area));
        let couplings = label_pairs(lines, scene, settings, &isotope, &parents);
        if alone {
            label_singles(lines, scene, settings, &isotope, &parents, &couplings);
        }
    }
}

/// Labels full pairs; returns the couplings found, by parent.
fn label_pairs(
    lines: &mut [Line],
    scene: &Scene<'_>,
    settings: &ArtefactSettings,
    isotope: &Isotope,
    parents: &[usize],
) -> Vec<(usize, f64)> {
    let mut couplings = Vec::new();
    for &parent in parents {
        while let Some(pair) = best_pair(lines, scene, settings, isotope, parent) {
            for k in [pair.left, pair.right].into_iter().flatten() {
                lines[k].kind = isotope.kind;
                lines[k].parent = Some(pair.parent);
            }
            couplings.push((parent, pair.coupling));
        }
    }
    couplings
}

/// The most symmetric pair of the right areas about a parent.
fn best_pair(
    lines: &[Line],
    scene: &Scene<'_>,
    settings: &ArtefactSettings,
    isotope: &Isotope,
    parent: usize,
) -> Option<Pair> {
    let (left, right) = sides(lines, scene, settings, isotope, parent);
    let centre = scene.position(&lines[parent]);
    let mut best: Option<(f64, Pair)> = None;
    for &l in &left {
        for &r in &right {
            let (a, b) = (scene.position(&lines[l]), scene.position(&lines[r]));
            let off = off_middle(scene, isotope, (a + b) / 2.0 - centre);
            let u = libm::hypot(hertz_u(scene, &lines[l]), hertz_u(scene, &lines[r])) / 2.0;
            let tolerance = PLACE_HZ.max(ERRORS * u);
            if off <= tolerance && best.as_ref().is_none_or(|(least, _)| off / tolerance < *least) {
                best =
                    Some((off / tolerance, Pair { left: Some(l), right: Some(r), parent, coupling: b - a }));
            }
        }
    }
    best.map(|(_, pair)| pair)
}

/// Distance of a pair's middle from the stretch where isotope shifts put it, hertz.
fn off_middle(scene: &Scene<'_>, isotope: &Isotope, middle: f64) -> f64 {
    let field = scene.axis.field();
    let (low, high) = (Ppm(isotope.middle.0).to_hertz(field).0, Ppm(isotope.middle.1).to_hertz(field).0);
    (low - middle).max(middle - high).max(0.0)
}

fn hertz_u(scene: &Scene<'_>, line: &Line) -> f64 {
    line.shift_u.to_hertz(scene.axis.field()).0
}

/// Lines of the right area at possible distances left and right of a parent.
fn sides(
    lines: &[Line],
    scene: &Scene<'_>,
    settings: &ArtefactSettings,
    isotope: &Isotope,
    parent: usize,
) -> (Vec<usize>, Vec<usize>) {
    let centre = scene.position(&lines[parent]);
    let expected = isotope.share * whole_area(lines, scene, parent);
    let fits = |k: usize| {
        let distance = 2.0 * (scene.position(&lines[k]) - centre).abs();
        let margin = 2.0 * Ppm(settings.isotope_shift_ppm).to_hertz(scene.axis.field()).0;
        lines[k].kind == LineKind::Signal
            && distance > isotope.couplings.0 - margin
            && distance < isotope.couplings.1 + margin
            && area_fits(&lines[k], expected, settings.area_tolerance)
    };
    (0..lines.len()).filter(|k| *k != parent && fits(*k)).partition(|k| scene.position(&lines[*k]) < centre)
}

/// Area of all lines that stand where one does: a line widened by small couplings may have been fitted as several.
fn whole_area(lines: &[Line], scene: &Scene<'_>, parent: usize) -> f64 {
    let centre = scene.position(&lines[parent]);
    let reach = ONE_LINE * lines[parent].width.0;
    let there = |line: &&Line| line.kind == LineKind::Signal && (scene.position(line) - centre).abs() < reach;
    lines.iter().filter(there).map(|line| line.area).sum()
}

fn area_fits(line: &Line, expected: f64, tolerance: f64) -> bool {
    (line.area - expected).abs() < (tolerance * expected).max(ERRORS * line.area_u)
}

/// Labels satellites whose partner is hidden or just below detection.
fn label_singles(
    lines: &mut [Line],
    scene: &Scene<'_>,
    settings: &ArtefactSettings,
    isotope: &Isotope,
    parents: &[usize],
    couplings: &[(usize, f64)],
) {
    for &parent in parents {
        let (left, right) = sides(lines, scene, settings, isotope, parent);
        for k in left.into_iter().chain(right) {
            if lines[k].kind == LineKind::Signal
                && partner_plausible(lines, scene, isotope, parent, k, couplings)
            {
                lines[k].kind = isotope.kind;
                lines[k].parent = Some(parent);
            }
        }
    }
}

/// Whether the mirror place of line `k` about its parent is covered, or holds the missing area.
fn partner_plausible(
    lines: &[Line],
    scene: &Scene<'_>,
    isotope: &Isotope,
    parent: usize,
    k: usize,
    couplings: &[(usize, f64)],
) -> bool {
    let centre = scene.position(&lines[parent]);
    let known = couplings.iter().any(|(p, j)| {
        let near = (scene.position(&lines[*p]) - centre).abs() < 25.0;
        near && (2.0 * (scene.position(&lines[k]) - centre).abs() - j).abs() < 3.0
    });
    let expected = isotope.share * whole_area(lines, scene, parent);
    let field = scene.axis.field();
    let (low, high) = (Ppm(isotope.middle.0).to_hertz(field).0, Ppm(isotope.middle.1).to_hertz(field).0);
    let mirror = |middle: f64| 2.0 * (centre + middle) - scene.position(&lines[k]);
    (0..=6).map(|i| mirror(low + (high - low) * f64::from(i) / 6.0)).any(|place| {
        let cover = scene.model.get(scene.index(place)).copied().unwrap_or(0.0);
        let hidden = cover > lines[k].height * if known { 0.5 } else { 1.0 };
        hidden
            || scene
                .probe(place)
                .is_some_and(|(area, u)| area > 2.5 * u && (area - expected).abs() < ERRORS * u)
    })
}
