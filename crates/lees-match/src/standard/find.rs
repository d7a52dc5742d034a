//! The standard's own signals in the spectrum: found, measured, and set aside from everything else.

use lees_core::{LineKind, Ppm, ShiftRange};

use super::others;
use crate::fit::scene::Scene;
use crate::product::{Region, area};
use crate::table::{NmrSolvent, Standard, StandardSignal};

/// A standard is looked for this far from its tabulated shift, in ppm: published values are rounded to a tenth and
/// belong to other concentrations.
const REACH: f64 = 0.2;
/// Scale of the usual distance from it, in ppm.
const USUAL: f64 = 0.08;
/// Lines closer than this, in hertz, make one cluster: 29Si satellites stand 3.3 Hz from their line.
const CLUSTER_HZ: f64 = 6.0;
/// Margin of a cluster in common widths.
const MARGIN_WIDTHS: f64 = 4.0;
/// A cluster is a singlet when its strongest line has this share of it ...
const SINGLET_SHARE: f64 = 0.85;
/// ... or when it is no wider than this many common widths.
const SINGLET_WIDTHS: f64 = 2.5;
/// Area over that beside a pure product: saturation and a rough product at one end, a sample with 4 % product at the other.
const PLAUSIBLE: (f64, f64) = (0.5, 25.0);
/// When none of its signals could be measured, those not fit for integration have at most this area over that beside a pure
/// product: that beside a product of 50 %.
const LIKELY: f64 = 2.0;
/// A singlet that would make the product this pure, in per cent, is the standard's with a slip in the masses; beyond, it is
/// something else.
const MISWEIGHED: (f64, f64) = (0.5, 5000.0);
/// A cluster with less than this share of the plausible area is not part of a multiplet.
const PART: f64 = 0.15;
/// Two places whose scores differ by less than this (natural logarithm) are both possible.
const DOUBT: f64 = 1.0;
/// Signals of one standard agree within this relative spread, beyond their own errors: relaxation of unlike protons.
const AGREEMENT: f64 = 0.01;
/// What the areas have in common does not shrink with the number of signals: line shape and integration limits, relative.
const COMMON: f64 = 0.004;
/// A signal this many uncertainties over the smallest has something else under it.
const TOO_LARGE: f64 = 3.0;

/// One signal of the standard in this spectrum.
#[derive(Debug, Clone)]
pub(crate) struct Seen {
    /// Its name in the table.
    pub name: String,
    /// Protons.
    pub protons: f64,
    /// Its pattern.
    pub multiplicity: lees_core::Multiplicity,
    /// Where it stands.
    pub shift: Ppm,
    /// The stretch that was measured.
    pub range: ShiftRange,
    /// Area.
    pub area: f64,
    /// Its standard uncertainty.
    pub area_u: f64,
    /// Whether the amount rests on it.
    pub used: bool,
    /// Why not.
    pub note: Option<String>,
}

/// The standard as found.
#[derive(Debug, Clone, Default)]
pub(crate) struct Found {
    /// Its signals.
    pub seen: Vec<Seen>,
    /// Area of one of its protons and the relative standard uncertainty; `None` when no signal stands alone.
    pub per_proton: Option<(f64, f64)>,
    /// Sentences for the reader.
    pub warnings: Vec<String>,
}

/// Lines close together, in hertz from the first point.
#[derive(Debug, Clone)]
pub(super) struct Cluster {
    pub from: f64,
    pub to: f64,
    pub centre: f64,
    pub area: f64,
    largest: f64,
}

/// Finds the standard's signals, measures them and sets their lines aside. `pure` is the area of one of its protons if the sample
/// were pure product.
pub(crate) fn find(
    scene: &mut Scene<'_>,
    standard: &Standard,
    nmr_solvent: &NmrSolvent,
    occupied: &[Region],
    pure: f64,
) -> Found {
    let solvent = nmr_solvent.name.as_str();
    let mut found = Found::default();
    let clusters = clusters(scene);
    for signal in standard.signals.iter().filter(|signal| signal.quantify) {
        let Some(places) = signal.shifts_in(solvent) else { continue };
        match choose(scene, signal, places, &clusters, occupied, pure) {
            Choice::One(own, doubt) => {
                found.warnings.extend(doubt.map(|at| {
                    format!(
                        "{} of {} was taken at {:.2} ppm; the line at {:.2} ppm could be it as well",
                        signal.name,
                        standard.name,
                        scene.shift(own[0].centre).0,
                        at.0
                    )
                }));
                found.seen.push(measure(scene, signal, &own));
            }
            Choice::Misweighed(own, why) => {
                found.warnings.push(format!("{} of {}: {why}", signal.name, standard.name));
                aside(scene, &own);
            }
            Choice::None(why) => found.warnings.push(format!("{} of {}: {why}", signal.name, standard.name)),
        }
    }
    if standard.signals.iter().all(|signal| !signal.quantify || signal.shifts_in(solvent).is_none()) {
        found.warnings.push(format!(
            "no shift of {} in {solvent} is tabulated; give it with --standard FILE.csv",
            standard.name
        ));
    }
    agree(&mut found.seen);
    found.per_proton = mean(&found.seen);
    let per_proton = found.per_proton.map_or(LIKELY * pure, |(per_proton, _)| per_proton);
    others::set_aside(scene, standard, nmr_solvent, &clusters, occupied, per_proton);
    found
}

/// Sets the lines of a cluster aside.
pub(super) fn aside(scene: &mut Scene<'_>, cluster: &Cluster) {
    let range = scene.lines_within(cluster.from, cluster.to);
    scene.lines[range].iter_mut().for_each(|line| line.set_aside = true);
}

fn clusters(scene: &Scene<'_>) -> Vec<Cluster> {
    let mut all: Vec<Cluster> = Vec::new();
    let mut last = f64::NEG_INFINITY;
    for line in scene.lines.iter().filter(|line| line.is_signal()) {
        let margin = MARGIN_WIDTHS * scene.width * line.factor.clamp(1.0, 3.0);
        match all.last_mut().filter(|_| line.at - last < CLUSTER_HZ.max(2.0 * scene.width)) {
            Some(cluster) => {
                cluster.to = line.at + margin;
                cluster.area += line.area;
                if line.area > cluster.largest {
                    (cluster.largest, cluster.centre) = (line.area, line.at);
                }
            }
            None => all.push(Cluster {
                from: line.at - margin,
                to: line.at + margin,
                centre: line.at,
                area: line.area,
                largest: line.area,
            }),
        }
        last = line.at;
    }
    all
}

impl Cluster {
    fn is_singlet(&self, scene: &Scene<'_>) -> bool {
        let span = self.to - self.from - 2.0 * MARGIN_WIDTHS * scene.width;
        self.largest > SINGLET_SHARE * self.area || span < SINGLET_WIDTHS * scene.width
    }

    pub(super) fn overlaps(&self, occupied: &[Region]) -> bool {
        occupied.iter().any(|region| region.from < self.centre && self.centre < region.to)
    }
}

enum Choice {
    /// The clusters of the signal, and another place that fits as well.
    One(Vec<Cluster>, Option<Ppm>),
    /// A line in the right place, whose area does not go with the masses.
    Misweighed(Cluster, String),
    None(String),
}

fn choose(
    scene: &Scene<'_>,
    signal: &StandardSignal,
    places: &[Ppm],
    clusters: &[Cluster],
    occupied: &[Region],
    pure: f64,
) -> Choice {
    let protons = f64::from(signal.protons);
    let plausible = (PLAUSIBLE.0 * pure * protons, PLAUSIBLE.1 * pure * protons);
    let off = |c: &Cluster| {
        let shift = scene.shift(c.centre).0;
        places.iter().map(|place| (shift - place.0).abs()).fold(f64::INFINITY, f64::min)
    };
    let near: Vec<&Cluster> = clusters.iter().filter(|c| off(c) < REACH).collect();
    let singlet = signal.multiplicity.partners().is_some_and(<[u8]>::is_empty) && places.len() == 1;
    let least = if singlet { plausible.0 } else { PART * plausible.0 };
    let large: Vec<&Cluster> = near
        .iter()
        .copied()
        .filter(|c| c.area > least && c.area < plausible.1 && (!singlet || c.is_singlet(scene)))
        .collect();
    let about = places.iter().map(|p| format!("{:.2}", p.0)).collect::<Vec<_>>().join(" and ");
    if large.is_empty() {
        let alone = near.iter().filter(|c| singlet && c.is_singlet(scene) && !c.overlaps(occupied));
        let largest = alone.max_by(|a, b| a.area.total_cmp(&b.area));
        return misweighed(scene, largest, pure * protons).unwrap_or_else(|| {
            Choice::None(format!(
                "within {REACH} ppm of {about} no signal is as large as the weighed masses ask for"
            ))
        });
    }
    let mut free: Vec<&Cluster> = large.into_iter().filter(|c| !c.overlaps(occupied)).collect();
    if free.is_empty() {
        return Choice::None(format!(
            "the product has signals near {about} ppm, so it could not be measured alone"
        ));
    }
    if !singlet {
        let sum: f64 = free.iter().map(|c| c.area).sum();
        return if sum > plausible.0 {
            Choice::One(free.into_iter().cloned().collect(), None)
        } else {
            Choice::None(format!("the signals near {about} ppm are smaller than the weighed masses ask for"))
        };
    }
    let score = |c: &Cluster| libm::log(c.area) - 0.5 * (off(c) / USUAL).powi(2);
    free.sort_by(|a, b| score(b).total_cmp(&score(a)));
    let second = free.get(1).filter(|c| score(free[0]) - score(c) < DOUBT).map(|c| scene.shift(c.centre));
    Choice::One(vec![free[0].clone()], second)
}

/// The only line that could be the standard's, by a purity that cannot be; `pure` is its area beside a pure product.
fn misweighed(scene: &Scene<'_>, cluster: Option<&&Cluster>, pure: f64) -> Option<Choice> {
    let cluster = *cluster?;
    let percent = 100.0 * pure / cluster.area;
    (MISWEIGHED.0..MISWEIGHED.1).contains(&percent).then(|| {
        let why = format!(
            "by the singlet at {:.2} ppm the product would be {percent:.0} % pure: check both masses (mg) and the purity of the standard (per cent)",
            scene.shift(cluster.centre).0
        );
        Choice::Misweighed(cluster.clone(), why)
    })
}

/// Measures the clusters and sets their lines aside.
fn measure(scene: &mut Scene<'_>, signal: &StandardSignal, own: &[Cluster]) -> Seen {
    let (mut sum, mut variance) = (0.0, 0.0);
    for cluster in own {
        let (area, u) = area(scene, cluster.from, cluster.to);
        let range = scene.lines_within(cluster.from, cluster.to);
        // protons beside 29Si belong to the signal; those on 13C are left out here as they are for the product
        let silicon = scene.lines[range.clone()].iter().filter(|line| line.kind == LineKind::OtherSatellite);
        sum += area + silicon.map(|line| line.area).sum::<f64>();
        variance += u * u;
        scene.lines[range].iter_mut().for_each(|line| line.set_aside = true);
    }
    let from = own.iter().map(|c| c.from).fold(f64::INFINITY, f64::min);
    let to = own.iter().map(|c| c.to).fold(f64::NEG_INFINITY, f64::max);
    let centre = own.iter().map(|c| c.centre * c.area).sum::<f64>() / own.iter().map(|c| c.area).sum::<f64>();
    Seen {
        name: signal.name.clone(),
        protons: f64::from(signal.protons),
        multiplicity: signal.multiplicity.clone(),
        shift: scene.shift(centre),
        range: ShiftRange::new(scene.shift(from), scene.shift(to)),
        area: sum,
        area_u: variance.sqrt(),
        used: true,
        note: None,
    }
}

impl Seen {
    fn value(&self) -> f64 {
        self.area / self.protons
    }

    fn u(&self) -> f64 {
        libm::hypot(self.area_u / self.protons, AGREEMENT * self.value())
    }
}

/// Leaves out signals with clearly more area than the smallest: something lies under them.
fn agree(seen: &mut [Seen]) {
    let Some((least, u)) = seen.iter().map(|s| (s.value(), s.u())).min_by(|a, b| a.0.total_cmp(&b.0)) else {
        return;
    };
    for signal in seen.iter_mut().filter(|s| s.value() - least > TOO_LARGE * libm::hypot(s.u(), u)) {
        signal.used = false;
        signal.note = Some(format!(
            "{:.0} % more area than the standard's smallest signal: something lies under it",
            100.0 * (signal.value() / least - 1.0)
        ));
    }
}

/// Weighted mean of the used signals with its relative standard uncertainty: their own errors, widened when they disagree
/// (Birge, Phys. Rev. 1932, 40, 207), but never below what all areas have in common.
fn mean(seen: &[Seen]) -> Option<(f64, f64)> {
    let used: Vec<&Seen> = seen.iter().filter(|s| s.used && s.area > 0.0).collect();
    let own = |s: &Seen| s.area_u / s.protons;
    let weight: f64 = used.iter().map(|s| own(s).powi(-2)).sum();
    if used.is_empty() || !weight.is_finite() {
        return None;
    }
    let value = used.iter().map(|s| s.value() * own(s).powi(-2)).sum::<f64>() / weight;
    let chi2: f64 = used.iter().map(|s| ((s.value() - value) / own(s)).powi(2)).sum();
    let birge = if used.len() > 1 { (chi2 / (used.len() - 1) as f64).sqrt().max(1.0) } else { 1.0 };
    Some((value, (birge / weight.sqrt() / value).max(COMMON)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::scene::tests::{line, wet_dye};

    /// A signal with that area per proton and standard uncertainty of it.
    fn seen(per_proton: f64, protons: f64, u: f64) -> Seen {
        Seen {
            name: "CH3".to_owned(),
            protons,
            multiplicity: lees_core::Multiplicity::singlet(),
            shift: Ppm(3.0),
            range: ShiftRange { high: Ppm(3.1), low: Ppm(2.9) },
            area: per_proton * protons,
            area_u: u * protons,
            used: true,
            note: None,
        }
    }

    #[test]
    fn a_signal_with_something_under_it_is_left_out_and_said_by_how_much() {
        let mut all = [seen(1.0, 6.0, 0.001), seen(1.3, 2.0, 0.001), seen(1.02, 3.0, 0.001)];
        agree(&mut all);
        assert_eq!(all.each_ref().map(|s| s.used), [true, false, true]);
        assert_eq!(
            all[1].note.as_deref(),
            Some("30 % more area than the standard's smallest signal: something lies under it")
        );
    }

    /// Two values of 1.00 (0.01) and 1.03 (0.02), worked by hand: weights 10000 and 2500, mean 1.006, chi square 1.8,
    /// so the uncertainty of the mean, 0.00894, is widened by the root of 1.8.
    #[test]
    fn signals_that_disagree_widen_the_uncertainty_of_their_mean() {
        let (value, relative) = mean(&[seen(1.0, 2.0, 0.01), seen(1.03, 9.0, 0.02)]).unwrap();
        assert!((value - 1.006).abs() < 1e-9, "{value}");
        assert!((relative - 0.012 / 1.006).abs() < 1e-6, "{relative}");
        let (_, least) = mean(&[seen(1.0, 2.0, 1e-4), seen(1.0, 9.0, 1e-4)]).unwrap();
        assert_eq!(least, COMMON, "no better than what all areas have in common");
        assert_eq!(mean(&[]), None);
    }

    #[test]
    fn lines_close_together_are_one_cluster_centred_on_the_largest_with_four_widths_about_it() {
        let processed = wet_dye();
        let mut scene = Scene::of(&processed, processed.spectrum.axis);
        scene.lines = vec![line(500.0, 1.0), line(503.3, 200.0), line(506.6, 1.0), line(600.0, 7.0)];
        let found = clusters(&scene);
        let margin = MARGIN_WIDTHS * scene.width;
        let read: Vec<_> = found.iter().map(|c| (c.from, c.centre, c.to, c.area, c.largest)).collect();
        assert_eq!(
            read,
            [
                (500.0 - margin, 503.3, 506.6 + margin, 202.0, 200.0),
                (600.0 - margin, 600.0, 600.0 + margin, 7.0, 7.0)
            ]
        );
    }

    /// Two protons of 100 each, and a fifth more, are 240: a line of 200 is theirs, then one of 30, and none of 60.
    #[test]
    fn signals_that_are_not_integrated_are_set_aside_as_far_as_their_protons_go() {
        let processed = wet_dye();
        let mut scene = Scene::of(&processed, processed.spectrum.axis);
        let tables = crate::table::Tables::bundled();
        let solvent = tables.nmr_solvent("CDCl3").unwrap();
        let mut standard = tables.standard("dimethyl sulfone").unwrap().clone();
        standard.signals.truncate(1);
        let signal = &mut standard.signals[0];
        signal.quantify = false;
        signal.protons = 2;
        signal.shifts = vec![("CDCl3".to_owned(), vec![Ppm(3.0), Ppm(3.4)])];
        let at = |shift: f64, area: f64| line(scene.position(Ppm(shift)), area);
        let lines = vec![at(5.0, 10.0), at(3.3, 60.0), at(3.2, 200.0), at(3.1, 30.0)];
        scene.lines = lines;
        let clusters = clusters(&scene);
        others::set_aside(&mut scene, &standard, solvent, &clusters, &[], 100.0);
        let aside: Vec<bool> = scene.lines.iter().map(|line| line.set_aside).collect();
        assert_eq!(aside, [false, false, true, true]);
    }
}
