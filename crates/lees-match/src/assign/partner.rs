//! Lines that belong together: one line of a doublet, triplet or quartet is no singlet.

use super::context::Context;
use crate::fit::scene::{Scene, SceneLine};

/// Relative areas of equally spaced lines that couple to one to six protons.
const PATTERNS: [&[f64]; 6] = [
    &[1.0, 1.0],
    &[1.0, 2.0, 1.0],
    &[1.0, 3.0, 3.0, 1.0],
    &[1.0, 4.0, 6.0, 4.0, 1.0],
    &[1.0, 5.0, 10.0, 10.0, 5.0, 1.0],
    &[1.0, 6.0, 15.0, 20.0, 15.0, 6.0, 1.0],
];
/// Couplings over two and three bonds, in hertz (common practice, no source).
const COUPLINGS_HZ: (f64, f64) = (2.5, 17.0);
/// Partners of a line stand no further from it than this, in hertz: the outer lines of the longest pattern.
pub(super) const REACH_HZ: f64 = COUPLINGS_HZ.1 * (PATTERNS[PATTERNS.len() - 1].len() - 1) as f64;
/// Lines closer than this many widths are not told apart.
const LEAST_WIDTHS: f64 = 2.0;
/// Spacings within one multiplet agree within this, in hertz, or within this share of a width.
const SPACING_HZ: f64 = 0.2;
const SPACING_WIDTHS: f64 = 0.2;
/// Areas agree with the pattern within this share, roofs counted, and within this many standard uncertainties.
const AREA_TOLERANCE: f64 = 0.08;
const AREA_SIGMAS: f64 = 2.0;
/// Areas known no better than this, relative, say nothing about partners.
const WORST_AREA: f64 = 0.15;
/// Among the product's unresolved signals two lines of one height are common; a multiplet has more lines than this there.
const LEAST_LINES: usize = 2;
/// Widths within a multiplet agree within this factor.
const WIDTH_FACTOR: f64 = 1.6;
/// A line is unexplained when this share of it is.
const OPEN_SHARE: f64 = 0.7;
/// The product has no known line where it accounts for less than this share. In its multiplets of unknown structure any line
/// may be a partner: all the more does it belong there.
const PRODUCT_SHARE: f64 = 0.1;

/// Whether the line at a position is one of a multiplet of more than `lines` lines that nothing explains so far; what stands
/// in `kin`, stretches of the molecule's other groups, does not count.
pub(super) fn is_of_larger(
    scene: &Scene<'_>,
    context: &Context,
    at: f64,
    lines: usize,
    kin: &[(f64, f64)],
) -> bool {
    let reach = scene.width.max(1.0);
    let near = scene.lines_within(at - reach, at + reach);
    let Some(line) = scene.lines[near].iter().min_by(|a, b| (a.at - at).abs().total_cmp(&(b.at - at).abs()))
    else {
        return false;
    };
    if PATTERNS.iter().all(|pattern| pattern.len() <= lines) || line.area_u > WORST_AREA * line.area {
        return false;
    }
    let furthest = COUPLINGS_HZ.1;
    let apart = COUPLINGS_HZ.0.max(LEAST_WIDTHS * scene.width);
    let others = &scene.lines[scene.lines_within(line.at - REACH_HZ, line.at + REACH_HZ)];
    let open: Vec<&SceneLine> =
        others.iter().filter(|l| l.at != line.at && is_open(scene, context, l, line, kin)).collect();
    let least = lines.max(if context.is_in_unknown(line.at) { LEAST_LINES } else { 1 });
    open.iter()
        .map(|other| (other.at - line.at).abs())
        .filter(|j| (apart..=furthest).contains(j))
        .any(|j| PATTERNS.iter().any(|pattern| pattern.len() > least && fits(scene, &open, line, j, pattern)))
}

/// Whether a line may be a partner.
fn is_open(
    scene: &Scene<'_>,
    context: &Context,
    other: &SceneLine,
    line: &SceneLine,
    kin: &[(f64, f64)],
) -> bool {
    other.is_signal()
        && other.left > OPEN_SHARE * other.area
        && other.area_u < WORST_AREA * other.area
        && (1.0 / WIDTH_FACTOR..WIDTH_FACTOR).contains(&(other.factor / line.factor))
        && !kin.iter().any(|&(from, to)| from <= other.at && other.at <= to)
        && context.stick_area(scene, other.at) < PRODUCT_SHARE * other.area
}

/// Whether a line with others at spacing `j` makes a pattern, in any of its places.
fn fits(scene: &Scene<'_>, open: &[&SceneLine], line: &SceneLine, j: f64, pattern: &[f64]) -> bool {
    let slack = SPACING_HZ.max(SPACING_WIDTHS * scene.width);
    (0..pattern.len()).any(|place| {
        (0..pattern.len()).filter(|k| *k != place).all(|k| {
            let at = line.at + (k as f64 - place as f64) * j;
            let wanted = line.area * pattern[k] / pattern[place];
            open.iter().any(|other| {
                let u = libm::hypot(other.area_u, line.area_u * pattern[k] / pattern[place]);
                (other.at - at).abs() < slack
                    && (other.area - wanted).abs() < AREA_TOLERANCE * wanted + AREA_SIGMAS * u
            })
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::scene::tests::{line, wet_dye};

    /// Areas of 1 to 2 to 1 within a few per cent, as roofs have them, 7 Hz apart.
    #[test]
    fn a_line_of_a_triplet_is_one_of_more_than_two_lines_but_not_of_more_than_three() {
        let processed = wet_dye();
        let mut scene = Scene::of(&processed, processed.spectrum.axis);
        let at = [500.0, 507.0, 514.0];
        scene.lines = vec![line(at[0], 975.0), line(at[1], 2000.0), line(at[2], 1025.0)];
        let context = Context::default();
        for at in at {
            for lines in [1, 2] {
                assert!(is_of_larger(&scene, &context, at, lines, &[]), "{at} Hz, {lines} lines");
            }
            assert!(!is_of_larger(&scene, &context, at, 3, &[]), "{at} Hz");
        }
        scene.lines = vec![line(at[0], 950.0)];
        assert!(!is_of_larger(&scene, &context, at[0], 1, &[]), "alone");
    }
}
