//! What is explained is taken off.

use super::Assessment;
use super::measure::on_place;
use super::peak::{Peak, peaks};
use crate::assign::context::Context;
use crate::assign::wide::{is_crowded, reach, take};
use crate::fit::scene::Scene;
use crate::pattern::Pattern;

/// A signal of which the fitted lines hold less than this share was too small to be fitted.
const LEAST_FITTED: f64 = 0.3;

/// Takes a molecule off the lines that are still to be explained.
pub(crate) fn take_off(scene: &mut Scene<'_>, context: &mut Context, pattern: &Pattern, found: &Assessment) {
    for fit in &found.groups {
        let group = &pattern.groups[fit.group];
        let peaks = peaks(scene, group);
        if !group.resolved || is_crowded(group, peaks) {
            let (from, to) = reach(scene, group, fit.at);
            take(scene, context, from, to, found.amount * group.protons);
            context.take(fit.at, found.amount * group.protons);
            continue;
        }
        for peak in peaks {
            let area = found.amount * peak.protons;
            take_peak(scene, peak, fit.at, area);
            context.take(fit.at + (peak.from + peak.to) / 2.0, area);
        }
    }
}

/// Takes an area off the lines at a peak's place, in proportion to what is left of each; what they do not hold is
/// taken off the points beside them.
fn take_peak(scene: &mut Scene<'_>, peak: &Peak, at: f64, area: f64) {
    let on = on_place(scene);
    let lines = scene.lines_within(at + peak.from - on, at + peak.to + on);
    let there: f64 = scene.lines[lines.clone()].iter().map(|l| l.left.max(0.0)).sum();
    let share = if there > 0.0 { (area / there).min(1.0) } else { 0.0 };
    for line in &mut scene.lines[lines] {
        let part = share * line.left.max(0.0);
        line.left -= part;
        line.taken += part;
    }
    if there < LEAST_FITTED * area {
        let middle = (peak.from + peak.to) / 2.0;
        scene.take_unseen(&peak.sticks, at + middle, (area - there) / peak.protons);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::scene::tests::{line, wet_dye};
    use crate::pattern::tests::group;

    #[test]
    fn an_area_is_taken_off_all_lines_at_the_place_in_proportion_and_never_more_than_there_is() {
        let processed = wet_dye();
        let mut scene = Scene::of(&processed, processed.spectrum.axis);
        let singlet = group(2.0, 3.0, &[(0.0, 1.0)]);
        let peak = peaks(&scene, &singlet)[0].clone();
        let at = scene.position(singlet.expected);
        let near = 0.1 * scene.width;
        scene.lines = vec![line(at - near, 60.0), line(at + near, 20.0), line(at + 100.0, 30.0)];
        let of_each = |scene: &Scene<'_>| scene.lines.iter().map(|l| (l.left, l.taken)).collect::<Vec<_>>();
        take_peak(&mut scene, &peak, at, 40.0);
        assert_eq!(of_each(&scene), [(30.0, 30.0), (10.0, 10.0), (30.0, 0.0)]);
        take_peak(&mut scene, &peak, at, 50.0);
        assert_eq!(of_each(&scene), [(0.0, 60.0), (0.0, 20.0), (30.0, 0.0)]);
        assert!(scene.unseen.is_empty(), "the lines held most of it");
    }
}
