//! How much of a molecule may be there although it was not named.

use super::context::Context;
use super::probe::{Assessment, Company, PATTERN_TOLERANCE, Peak, peaks, witness};
use super::wide::{are_bunched, band, crowded, is_crowded};
use crate::fit::scene::{Scene, SceneLine};
use crate::fit::template::extent;
use crate::pattern::{Pattern, PatternGroup};

/// A molecule that lacks less log-evidence than this for naming may be there (odds of 1 to 400).
const DOUBTFUL: f64 = 6.0;
/// Something stands at a molecule's places when its log-evidence exceeds its prior by more than this.
const SPEAKS: f64 = 1.0;
/// Something unexplained this many spreads of a group's place away may be the group.
pub(crate) const PLACE_SPREADS: f64 = 3.5;
/// One-sided 95 % point of the normal law.
const ONE_SIDED: f64 = 1.645;

/// The most that can be there of a molecule that was not named: in the open, `sigmas` times the noise would have been named;
/// among the product's signals and in bands of unknown structure, no more than what stands there beyond what is accounted
/// for, with its one-sided 95 % limit. The place that shows most decides; infinite when none does.
pub(crate) fn at_most(scene: &Scene<'_>, pattern: &Pattern, context: &Context, sigmas: f64) -> f64 {
    let (mut information, mut least) = (0.0, f64::INFINITY);
    for group in pattern.groups.iter().filter(|g| !g.exchangeable) {
        let peaks = if group.resolved { peaks(scene, group) } else { &[] };
        if !group.resolved || is_crowded(group, peaks) {
            least = least.min(wide(scene, group, context));
            continue;
        }
        for peak in peaks {
            match sharp(scene, group, peak, context) {
                Some(Seen::Among(bound)) => least = least.min(bound),
                Some(Seen::Open(noise)) => information += (noise * noise).max(1e-300).recip(),
                None => {}
            }
        }
    }
    if information > 0.0 { least.min(sigmas / information.sqrt()) } else { least }
}

/// The most that can be there of a molecule that does not convince although something stands at its places: too little speaks
/// for it, but nothing against it. Nothing when it is plainly not there.
pub(crate) fn doubted(found: &Assessment, pattern: &Pattern, context: &Context) -> f64 {
    let least = context.least;
    let speaks = found.evidence - pattern.prior > SPEAKS;
    if speaks && found.evidence > least.evidence - DOUBTFUL && found.noise.is_finite() {
        upper(found.amount, found.noise.hypot(PATTERN_TOLERANCE * found.amount))
    } else {
        0.0
    }
}

/// The most of a molecule that what is unexplained at its places can be, whatever its look: no table's pattern is beyond doubt.
/// Every group in the open must have its share, so the one that shows least decides; of one among the product's lines nothing
/// is known.
pub(crate) fn stands(scene: &Scene<'_>, pattern: &Pattern, context: &Context) -> f64 {
    let of_group = |group: &PatternGroup| {
        let at = scene.position(group.expected);
        if context.is_in_unknown(at) {
            return None;
        }
        let slack = PLACE_SPREADS * group.spread.0 * scene.field() + scene.width;
        let (low, high) = extent(&group.sticks, 0.0);
        let (from, to) = (at + low - slack, at + high + slack);
        let open: Vec<&SceneLine> =
            scene.signals_within(from, to).filter(|line| !context.is_products(scene, line.at)).collect();
        let (left, variance) =
            open.iter().fold((0.0, 0.0), |(sum, v), l| (sum + l.left.max(0.0), v + l.area_u * l.area_u));
        let other = is_crowded(group, peaks(scene, group)) && are_bunched(&open, group);
        Some(if other { 0.0 } else { upper(left, variance.sqrt()) / group.protons })
    };
    let open = pattern.groups.iter().filter(|g| !g.exchangeable).filter_map(of_group);
    open.reduce(f64::min).unwrap_or(0.0)
}

/// What one peak's place would show.
enum Seen {
    /// Noise of the amount where nothing of the product stands.
    Open(f64),
    /// Upper limit where the product has lines.
    Among(f64),
}

fn sharp(scene: &Scene<'_>, group: &PatternGroup, peak: &Peak, context: &Context) -> Option<Seen> {
    let at = scene.position(group.expected);
    let company = Company { protons: group.protons, together: group.protons, exchangeable: false };
    let w = witness(scene, company, peak, at, context)?;
    let tolerated = PATTERN_TOLERANCE * w.amount;
    let noise = (w.u * w.u - tolerated * tolerated).max(0.0).sqrt();
    let excess = context.excess(scene, at + (peak.from + peak.to) / 2.0);
    Some(excess.map_or(Seen::Open(noise), |(area, u)| {
        Seen::Among(upper(area / peak.protons, noise.hypot(u / peak.protons)))
    }))
}

/// The bound by a band or a crowded multiplet.
fn wide(scene: &Scene<'_>, group: &PatternGroup, context: &Context) -> f64 {
    let witness = if group.resolved {
        crowded(scene, group, context, 0.0).map(|scan| scan.witnesses[0])
    } else {
        band(scene, group, context)
    };
    witness.map_or(f64::INFINITY, |w| upper(w.amount, w.u))
}

/// One-sided 95 % upper limit of a measured amount.
fn upper(amount: f64, u: f64) -> f64 {
    amount.max(0.0) + ONE_SIDED * u
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::scene::tests::{line, wet_dye};
    use crate::pattern::tests::{group, pattern};

    /// Two lines of 30 and 50 at the place of two protons: 40 a proton, and half of 1.645 times the root of their variances.
    #[test]
    fn no_more_of_a_molecule_can_be_there_than_all_lines_at_its_place_and_their_noise() {
        let processed = wet_dye();
        let mut scene = Scene::of(&processed, processed.spectrum.axis);
        let molecule = pattern(vec![group(2.0, 2.0, &[(0.0, 1.0)])]);
        let at = scene.position(molecule.groups[0].expected);
        let noisy = |off: f64, area: f64, area_u: f64| SceneLine { area_u, ..line(at + off, area) };
        scene.lines = vec![noisy(-1.0, 30.0, 3.0), noisy(1.0, 50.0, 4.0)];
        let most = stands(&scene, &molecule, &Context::default());
        assert!((most - (80.0 + 1.645 * 5.0) / 2.0).abs() < 1e-9, "{most}");
    }
}
