//! Where the product's signals lie and how much area is there.

use lees_core::{ExpectedSignal, Product, ShiftRange};

use super::halves::missing_half;
use crate::fit::scene::{Scene, SceneLine, total};
use crate::fit::whole::whole;

/// Lines this far outside a stated range, in ppm, still belong to it: journals round, concentration shifts.
const MARGIN: f64 = 0.015;
/// ... or this far in hertz: ranges are mostly stated for a higher field, where multiplets are narrower in ppm.
const MARGIN_HZ: f64 = 4.0;
/// A single stated shift without couplings stands for lines within this distance, in ppm.
const BARE_HALF: f64 = 0.02;
/// Half of an unresolved or many-line pattern given by its centre alone, in hertz.
const MULTIPLET_HALF_HZ: f64 = 12.0;
/// Signals closer than this, in ppm and in widths, cannot be told apart by place: journals round.
const TOUCHING: f64 = 0.006;
const TOUCHING_WIDTHS: f64 = 1.5;
/// Relative uncertainty of the area of any signal: line shape, integration limits.
const AREA_TOLERANCE: f64 = 0.004;
/// A line wider than this many common widths is a hump, not one of the product's sharp lines.
pub(super) const WIDEST: f64 = 12.0;

/// A line wider than this many common widths may be exchanging protons ...
const BROAD: f64 = 3.0;
/// ... which stand within this of where they were described, in ppm ...
pub(super) const STRAY: f64 = 0.3;
/// ... and whose area is known to this share: the baseline takes some of a broad line's foot.
const BROAD_TOLERANCE: f64 = 0.05;

/// Neighbours no further apart than this, in ppm, ...
const NEIGHBOURS: f64 = 0.02;
/// ... of which one lacks more than this share of its protons, ...
const SHORT_BY: f64 = 0.5;
/// ... and the other has as many too many, within this share of them, are one.
const BALANCED: f64 = 0.15;

/// A region with less than this share of its protons may stand elsewhere ...
const SHORT: f64 = 0.9;
/// ... within this of where it was described, in ppm, looked at in such steps ...
const DISPLACED: f64 = 0.06;
const DISPLACED_STEP_HZ: f64 = 1.0;
/// ... where its protons are found within this share, and within this share of what it lacks.
const DISPLACED_TOLERANCE: f64 = 0.08;
const LACK_TOLERANCE: f64 = 0.33;

/// One or more expected signals that cannot be told apart by place.
#[derive(Debug, Clone)]
pub(crate) struct Region {
    /// Indices into the product's signals.
    pub signals: Vec<usize>,
    /// The stretch that is measured.
    pub range: ShiftRange,
    /// First position in hertz from the first point.
    pub from: f64,
    /// Last position.
    pub to: f64,
    /// Protons expected.
    pub protons: f64,
    /// Area found, everything in the stretch counted.
    pub area: f64,
    /// Its standard uncertainty.
    pub area_u: f64,
    /// Whether exchange may spoil the count.
    pub exchanging: bool,
    /// How far it stands from where it was described, in hertz.
    pub moved: f64,
}

impl Region {
    /// Measures what stands between its ends.
    fn measure(&mut self, scene: &Scene<'_>) {
        (self.area, self.area_u) = area(scene, self.from, self.to);
        self.range = ShiftRange::new(scene.shift(self.from), scene.shift(self.to));
    }
}

/// The regions of a product whose signals all stand `off` hertz from where they were described, by growing position, areas measured.
pub(crate) fn regions(scene: &Scene<'_>, product: &Product, off: f64) -> Vec<Region> {
    let mut spans: Vec<(f64, f64, usize)> = product
        .signals
        .iter()
        .enumerate()
        .map(|(k, signal)| {
            let range = span(signal, scene.field());
            (scene.position(range.high) + off, scene.position(range.low) + off, k)
        })
        .collect();
    spans.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.2.cmp(&b.2)));
    let mut regions: Vec<Region> = Vec::new();
    let touching = (TOUCHING_WIDTHS * scene.width).max(TOUCHING * scene.field());
    for (from, to, k) in spans {
        let signal = &product.signals[k];
        match regions.last_mut().filter(|last| from < last.to + touching) {
            Some(last) => {
                last.to = last.to.max(to);
                last.signals.push(k);
                last.protons += signal.protons;
                last.exchanging |= exchanges(signal);
            }
            None => regions.push(Region {
                signals: vec![k],
                range: signal.range,
                from,
                to,
                protons: signal.protons,
                area: 0.0,
                area_u: 0.0,
                exchanging: exchanges(signal),
                moved: off,
            }),
        }
    }
    share_gaps(&mut regions, (MARGIN * scene.field()).max(MARGIN_HZ));
    for k in 0..regions.len() {
        let others = spans_but(&regions, k);
        if let [only] = regions[k].signals[..]
            && let Some(off) = missing_half(scene, &regions[k], &product.signals[only], &others)
        {
            let region = &mut regions[k];
            (region.from, region.to) = (region.from + off, region.to + off);
            region.moved += off;
        }
    }
    let spans: Vec<(f64, f64)> = regions.iter().map(|r| (r.from, r.to)).collect();
    for (k, region) in regions.iter_mut().enumerate() {
        (region.area, region.area_u) = if region.exchanging {
            broad_area(scene, k, &spans)
        } else {
            area(scene, region.from, region.to)
        };
        region.range = ShiftRange::new(scene.shift(region.from), scene.shift(region.to));
    }
    regions
}

/// Joins neighbours of which one lacks what the other has too much: their lines stand on the wrong side of the border that was
/// drawn between them.
pub(crate) fn join_neighbours(scene: &Scene<'_>, regions: Vec<Region>, per_proton: f64) -> Vec<Region> {
    let near = NEIGHBOURS * scene.field();
    let excess = |region: &Region| region.area - per_proton * region.protons;
    let mut joined: Vec<Region> = Vec::new();
    for region in regions {
        let belong = |last: &Region| {
            let (a, b) = (excess(last), excess(&region));
            let (short, lack) = if a < b { (last, -a) } else { (&region, -b) };
            let expected = per_proton * short.protons;
            let balanced = (a + b).abs() < BALANCED * lack;
            !last.exchanging && !region.exchanging && lack > SHORT_BY * expected && balanced
        };
        match joined.last_mut().filter(|last| region.from - last.to < near && belong(last)) {
            Some(last) => {
                last.signals.extend(region.signals);
                (last.to, last.protons) = (region.to, last.protons + region.protons);
                last.measure(scene);
            }
            None => joined.push(region),
        }
    }
    joined
}

/// Moves regions in which too little stands to where, close by and outside all others, just their protons stand: a shift was
/// mistyped, or the concentration is another. Protons that do not exchange cannot be missing.
pub(crate) fn move_displaced(scene: &Scene<'_>, regions: &mut [Region], per_proton: f64) {
    for k in 0..regions.len() {
        let region = &regions[k];
        let expected = per_proton * region.protons;
        if region.exchanging || region.area > SHORT * expected {
            continue;
        }
        let others = spans_but(regions, k);
        if let Some(off) = displacement(scene, region, &others, expected) {
            let region = &mut regions[k];
            (region.from, region.to) = (region.from + off, region.to + off);
            region.moved += off;
            region.measure(scene);
        }
    }
}

/// The stretches of all regions but one.
fn spans_but(regions: &[Region], own: usize) -> Vec<(f64, f64)> {
    regions.iter().enumerate().filter(|(k, _)| *k != own).map(|(_, r)| (r.from, r.to)).collect()
}

/// The smallest move, in hertz, that puts a region about its expected area, its lines in the middle.
fn displacement(scene: &Scene<'_>, region: &Region, others: &[(f64, f64)], expected: f64) -> Option<f64> {
    let furthest = (DISPLACED * scene.field() / DISPLACED_STEP_HZ).ceil() as i32;
    let mut steps: Vec<i32> = (-furthest..=furthest).collect();
    steps.sort_by_key(|step| step.abs());
    let tolerance = (DISPLACED_TOLERANCE * expected).min(LACK_TOLERANCE * (expected - region.area));
    let fits = |off: f64| {
        let (from, to) = (region.from + off, region.to + off);
        let free = others.iter().all(|other| to <= other.0 || other.1 <= from);
        free && (area(scene, from, to).0 - expected).abs() < tolerance
    };
    let off = steps.into_iter().map(|step| f64::from(step) * DISPLACED_STEP_HZ).find(|off| fits(*off))?;
    let lines = || scene.signals_within(region.from + off, region.to + off).filter(|l| l.factor < WIDEST);
    let centre = lines().map(|l| l.at * l.area).sum::<f64>() / lines().map(|l| l.area).sum::<f64>();
    Some(centre - (region.from + region.to) / 2.0).filter(|off| fits(*off))
}

/// A broad signal is taken for OH or NH.
fn exchanges(signal: &ExpectedSignal) -> bool {
    let named = signal.assignment.as_deref().is_some_and(|a| a.contains("OH") || a.contains("NH"));
    named || signal.multiplicity.as_ref().is_some_and(lees_core::Multiplicity::is_broad)
}

/// The stretch an entry covers at this field: its range, or its couplings about its single shift.
fn span(signal: &ExpectedSignal, field: f64) -> ShiftRange {
    let stated = signal.range.high.0 - signal.range.low.0;
    let partners = signal.multiplicity.as_ref().and_then(|m| m.partners().map(<[u8]>::to_vec));
    let half_hz = match &partners {
        Some(counts) if counts.is_empty() => 0.0,
        Some(counts) if counts.len() <= signal.couplings.len() => {
            counts.iter().zip(&signal.couplings).map(|(n, j)| f64::from(*n) * j.0.abs() / 2.0).sum()
        }
        _ => MULTIPLET_HALF_HZ,
    };
    let half = (stated / 2.0).max(half_hz / field);
    let floor = if stated < 1e-9 && half_hz == 0.0 { BARE_HALF - MARGIN } else { 0.0 };
    let centre = signal.range.centre();
    let half = lees_core::Ppm(half.max(floor));
    ShiftRange { high: centre + half, low: centre - half }
}

/// Widens each region by the margin, or by half the gap where a neighbour is nearer.
fn share_gaps(regions: &mut [Region], margin: f64) {
    let stated: Vec<(f64, f64)> = regions.iter().map(|r| (r.from, r.to)).collect();
    for (k, region) in regions.iter_mut().enumerate() {
        let before = k.checked_sub(1).map_or(f64::INFINITY, |p| (stated[k].0 - stated[p].1) / 2.0);
        let after = stated.get(k + 1).map_or(f64::INFINITY, |next| (next.0 - stated[k].1) / 2.0);
        region.from -= margin.min(before);
        region.to += margin.min(after);
    }
}

/// Whether a broad line stands so near a stretch that it may be exchanging protons described there.
pub(super) fn strays(scene: &Scene<'_>, line: &SceneLine, (from, to): (f64, f64)) -> bool {
    let reach = STRAY * scene.field();
    line.factor > BROAD && from - reach <= line.at && line.at <= to + reach
}

/// Area of exchanging protons: the lines in the stretch, however broad, and broad ones near it that stand in no other.
fn broad_area(scene: &Scene<'_>, own: usize, spans: &[(f64, f64)]) -> (f64, f64) {
    let reach = STRAY * scene.field();
    let (from, to) = spans[own];
    let within = |at: f64, span: &(f64, f64)| span.0 <= at && at <= span.1;
    let elsewhere = |at: f64| spans.iter().enumerate().any(|(k, span)| k != own && within(at, span));
    let counted = scene.signals_within(from - reach, to + reach).filter(|line| {
        (strays(scene, line, spans[own]) && !elsewhere(line.at)) || within(line.at, &spans[own])
    });
    let (sum, variance) = total(counted);
    (sum, libm::hypot(variance.sqrt(), BROAD_TOLERANCE * sum))
}

/// Area of all signals between two positions, and its standard uncertainty.
pub(crate) fn area(scene: &Scene<'_>, from: f64, to: f64) -> (f64, f64) {
    let own: Vec<&SceneLine> = scene.signals_within(from, to).filter(|line| line.factor < WIDEST).collect();
    let (sum, variance) = total(own.iter().copied());
    let range = scene.range(from, to);
    let noise = if range.is_empty() { 0.0 } else { scene.noise.range_u(range) * scene.hz };
    let (area, u) = whole(scene, &own, variance.sqrt().min(noise));
    (area, libm::hypot(u, AREA_TOLERANCE * sum))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::scene::tests::{line, wet_dye};
    use lees_core::Measurement;
    use lees_process::{Settings, Workspace, process};
    use lees_spin::simulate::{Compound, Recipe, Signal, Simulator};

    #[test]
    fn broad_lines_near_exchanging_protons_are_theirs_unless_another_signal_has_them() {
        let processed = wet_dye();
        let mut scene = Scene::of(&processed, processed.spectrum.axis);
        let broad = |at: f64, area: f64| SceneLine { factor: 2.0 * BROAD, ..line(at, area) };
        let sharp_beside = line(530.0, 1.0);
        scene.lines = vec![line(510.0, 30.0), sharp_beside, broad(540.0, 200.0), broad(610.0, 4000.0)];
        let (sum, u) = broad_area(&scene, 0, &[(500.0, 520.0), (600.0, 620.0)]);
        assert_eq!(sum, 230.0);
        assert!(u >= BROAD_TOLERANCE * sum, "{u}");
    }

    /// Two methyl groups at 2.066 and 2.045 ppm, described at 2.09 and 2.05: both stand nearer to 2.05.
    #[test]
    fn a_signal_on_the_wrong_side_of_the_border_is_not_missing() {
        let mut compound = Compound::new("diacetate").mass(250.0);
        for (at, protons) in [(7.9, 1.0), (6.8, 1.0), (2.066, 3.0), (2.045, 3.0)] {
            compound = compound.signal(Signal::new(at, protons));
        }
        let recipe = Recipe { product: Some(compound), ..Recipe::default() };
        let made = Simulator::default().run(&recipe).expect("a sound recipe");
        let measured = Measurement::Spectrum(made.spectrum);
        let processed =
            process(&measured, &Settings::default(), &mut Workspace::default()).expect("a spectrum");
        let scene = Scene::of(&processed, processed.spectrum.axis);
        let text = "name = 'diacetate'\nmolar_mass = 250\n\
                    signals = '7.90 (s, 1H), 6.80 (s, 1H), 2.09 (s, 3H), 2.05 (s, 3H)'";
        let product = lees_format::product::parse(text, "diacetate.toml").expect("a product");
        let apart = regions(&scene, &product, 0.0);
        let per_proton = apart[0].area;
        let off = |region: &Region| (region.area / per_proton - region.protons).abs();
        assert!(apart[2..].iter().all(|region| off(region) > 2.9), "one has none, the other six");
        let joined = join_neighbours(&scene, apart, per_proton);
        assert_eq!(joined.iter().map(|region| region.protons).collect::<Vec<f64>>(), [1.0, 1.0, 6.0]);
        assert!(joined.iter().all(|region| off(region) < 0.05 * region.protons));
    }
}
