//! Broad humps beside the product: signals, or what phase and baseline leave of strong lines.

use crate::fit::scene::{Scene, SceneLine};

/// Wider than this many common widths is a hump, which the baseline may have too (common practice, no source).
const HUMP: f64 = 30.0;
/// A hump lower than this share of the tallest line is taken for the baseline. In 36 public spectra and FIDs 54 of 59 humps were lower; of
/// 40 in processed spectra, away from their ends, four rose above 0.02 % of the tallest line in the file as it came. A phase that is off by
/// two degrees raises as much.
const LOW: f64 = 0.003;
/// So many are told by their places.
const TOLD: usize = 6;

/// A low hump: where it stands in ppm, and the product's protons it would be.
pub(crate) type LowHump = (f64, Option<f64>);

/// Whether lines are a hump and nothing else.
pub(crate) fn is_hump(scene: &Scene<'_>, group: &[usize]) -> bool {
    group.iter().all(|&k| scene.lines[k].factor > HUMP)
}

/// Whether a hump is so low that the baseline may have it.
pub(crate) fn is_low(scene: &Scene<'_>, group: &[usize]) -> bool {
    let tallest = scene.lines.iter().map(height).fold(0.0, f64::max);
    let highest = group.iter().map(|&k| height(&scene.lines[k])).fold(0.0, f64::max);
    is_hump(scene, group) && highest < LOW * tallest
}

/// Height on a scale that all lines share; the form of a line matters less than humps differ from signals.
fn height(line: &SceneLine) -> f64 {
    line.area / line.factor
}

/// A hump may be many things.
pub(crate) fn note(scene: &Scene<'_>, group: &[usize]) -> Option<String> {
    is_hump(scene, group).then(|| "a broad hump: exchanging protons, a polymer, or the baseline?".to_owned())
}

/// What a careful reader should know of humps that are not listed as signals.
pub(crate) fn warning(humps: &[LowHump]) -> Option<String> {
    let told: Vec<String> = humps
        .iter()
        .take(TOLD)
        .map(|(shift, protons)| {
            let protons =
                protons.map_or_else(String::new, |p| format!(" ({p:.2} H per molecule of product)"));
            format!("{shift:.2} ppm{protons}")
        })
        .collect();
    let more = humps.len().saturating_sub(TOLD);
    let rest = if more > 0 { format!(" and {more} more") } else { String::new() };
    (!humps.is_empty()).then(|| {
        format!(
            "broad humps lower than {} % of the tallest line were taken for the baseline, not for signals: {}{rest}; protons that exchange, or a polymer, may look the same",
            100.0 * LOW,
            told.join(", ")
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::scene::tests::{line, wet_dye};

    #[test]
    fn a_hump_is_low_beside_a_tall_line_only() {
        let processed = wet_dye();
        let mut scene = Scene::of(&processed, processed.spectrum.axis);
        let hump = |area: f64| SceneLine { factor: 100.0, ..line(900.0, area) };
        scene.lines = vec![hump(50.0), line(1500.0, 100.0), line(1600.0, 0.01)];
        assert!(is_hump(&scene, &[0]) && !is_hump(&scene, &[1]) && !is_hump(&scene, &[0, 1]));
        assert!(note(&scene, &[0]).is_some() && note(&scene, &[1]).is_none());
        assert!(!is_low(&scene, &[0]), "0.5 % of the height of the line");
        assert!(!is_low(&scene, &[2]), "sharp");
        scene.lines[0] = hump(20.0);
        assert!(is_low(&scene, &[0]), "0.2 %");
    }

    #[test]
    fn low_humps_are_told_with_the_protons_they_would_be() {
        assert_eq!(warning(&[]), None);
        let seven: Vec<LowHump> = (0..7).map(|k| (f64::from(k), (k == 0).then_some(0.474))).collect();
        let said = warning(&seven).expect("seven humps");
        assert!(said.contains("0.00 ppm (0.47 H per molecule of product), 1.00 ppm, "), "{said}");
        assert!(said.contains("0.3 %") && said.contains("5.00 ppm and 1 more;"), "{said}");
    }
}
