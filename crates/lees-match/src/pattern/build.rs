//! From a table entry to a pattern.

use lees_core::{Formula, Hertz, Megahertz, Multiplicity, Ppm};
use lees_spin::{PartnerSpin, SpinSystem};

use super::systems;
use super::{Pattern, PatternGroup, Role};
use crate::fit::template::Stick;
use crate::table::{Class, Compound, Family, Group, NmrSolvent, ShiftStatus, TableShift, stem};

/// What two careful measurements of the same dilute solution differ by, in ppm (METHODS of shift tables agree to
/// a few thousandths; common practice, no source).
const REPEATABILITY: f64 = 0.003;
/// Groups of one molecule tabulated closer than this, in ppm, stand at the same place.
const SAME_PLACE: f64 = 0.012;
/// Multiplets whose centres are nearer than this, in hertz, run into one another: toluene's ring at 60 to 80 MHz.
const MERGED_HZ: f64 = 7.0;
/// Sticks this close, in hertz, are one line at any width met in practice.
const SAME_LINE: f64 = 0.05;
/// A group tabulated as a wider range than this, in ppm, has no known structure.
const WIDEST_RANGE: f64 = 0.03;
/// A band without known structure is drawn as sticks this far apart, in hertz.
const BAND_STEP: f64 = 2.0;
/// A broad line is drawn as sticks at most this far apart, in hertz.
const HUMP_STEP: f64 = 1.0;
/// CH2 protons beside one of CH3 in grease: chains of some twenty to thirty carbons (common practice, no source).
const CHAIN_CH2: f64 = 8.0;

/// How fast the hydroxy protons of a compound exchange.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Exchange {
    /// So fast that they couple with nothing.
    Fast,
    /// So slowly that they couple like any others.
    Slow,
}

/// Where hydroxy protons stand that no table places in an NMR solvent in which they exchange slowly (primary and secondary alcohols
/// in DMSO-d6; common practice, no source).
const SLOW_OH: Ppm = Ppm(4.35);

/// The pattern of a compound; `None` when none of its groups has a place in this NMR solvent.
pub(crate) fn of_compound(
    compound: &Compound,
    index: usize,
    solvent: &NmrSolvent,
    field: Megahertz,
) -> Option<Pattern> {
    in_exchange(compound, index, solvent, field, Exchange::Fast)
}

/// The pattern of an alcohol in an NMR solvent in which its hydroxy proton may exchange slowly: dry DMSO-d6, acetone-d6 and the
/// like (Gottlieb et al., J. Org. Chem. 1997, 62, 7512, footnotes to ethanol and methanol; from memory). `None` for all others.
pub(crate) fn in_slow_exchange(
    compound: &Compound,
    index: usize,
    solvent: &NmrSolvent,
    field: Megahertz,
) -> Option<Pattern> {
    let spins = systems::of(stem(&compound.name));
    let exchanges = |name: &str| compound.group(name).is_some_and(|group| group.exchangeable);
    let slow = solvent.family == Family::Dipolar && spins.iter().any(|spin| exchanges(&spin.group));
    let pattern = slow.then(|| in_exchange(compound, index, solvent, field, Exchange::Slow))??;
    Some(Pattern { slow_exchange: true, ..pattern })
}

fn in_exchange(
    compound: &Compound,
    index: usize,
    solvent: &NmrSolvent,
    field: Megahertz,
    exchange: Exchange,
) -> Option<Pattern> {
    let role = match compound.class {
        Class::Volatile => Role::Volatile,
        Class::Water => Role::Water,
        _ => Role::Bystander,
    };
    let coupled = coupled_sticks(compound, solvent, field, exchange);
    let chain = compound.formula.as_ref().is_some_and(is_alkane);
    let groups: Vec<PatternGroup> = compound
        .groups
        .iter()
        .filter(|group| !group.exchangeable)
        .filter_map(|group| {
            let place = group.shift_in(solvent)?;
            let known =
                coupled.iter().find(|(name, _)| *name == group.name).map(|(_, sticks)| sticks.clone());
            let group = of_group(group, place, compound.class, known, field);
            let split = exchange == Exchange::Slow && systems::couples_to_exchangeable(compound, &group.name);
            let multiplicity = if split { split_once_more(&group.multiplicity) } else { group.multiplicity };
            Some(PatternGroup { rough: chain && group.sticks.len() > 1, multiplicity, ..group })
        })
        .collect();
    let groups = coincident(groups, field);
    let prior = compound.prior();
    (!groups.is_empty()).then(|| Pattern {
        compound: Some(index),
        name: compound.name.clone(),
        role,
        prior: libm::log(prior / (1.0 - prior)),
        slow_exchange: false,
        groups,
    })
}

/// Whether a molecule is a saturated hydrocarbon without rings. The CH2 groups of its chain differ by some hundredths of a
/// ppm, which no table gives (common practice, no source).
fn is_alkane(formula: &Formula) -> bool {
    let carbons = formula.count("C");
    let alkane = format!("C{carbons}H{}", 2 * carbons + 2).parse::<Formula>();
    alkane.is_ok_and(|alkane| (alkane.molar_mass() - formula.molar_mass()).abs() < 1e-6)
}

/// The pattern of a group that one more proton splits.
fn split_once_more(multiplicity: &Multiplicity) -> Multiplicity {
    let one_more = if multiplicity.is_singlet() { "d".to_owned() } else { format!("{multiplicity}d") };
    one_more.parse().unwrap_or_else(|_| Multiplicity::multiplet())
}

/// Protons to expect beside one another where the table gives no numbers.
fn relative_protons(class: Class, group: &Group) -> f64 {
    let counted = group.protons.map(f64::from);
    counted.unwrap_or(if class == Class::Grease && group.multiplicity.is_broad() { CHAIN_CH2 } else { 1.0 })
}

fn of_group(
    group: &Group,
    place: &TableShift,
    class: Class,
    known: Option<(Ppm, Vec<Stick>)>,
    field: Megahertz,
) -> PatternGroup {
    let half_range = (place.high.0 - place.low.0) / 2.0;
    let unclear = 2.0 * half_range > WIDEST_RANGE && !group.multiplicity.is_singlet();
    let (expected, sticks, resolved) = match known {
        _ if unclear => (place.centre(), band(group, place, field), false),
        Some((centre, sticks)) => (centre, sticks, true),
        None => {
            match hump(class, group).or_else(|| first_order(&group.multiplicity, &group.couplings, field)) {
                Some(sticks) => (place.centre(), sticks, true),
                None => (place.centre(), band(group, place, field), false),
            }
        }
    };
    PatternGroup {
        name: group.name.clone(),
        protons: relative_protons(class, group),
        multiplicity: group.multiplicity.clone(),
        expected,
        spread: Ppm(libm::hypot(libm::hypot(REPEATABILITY, place.u.0), half_range / 3f64.sqrt())),
        sticks,
        resolved,
        exact: false,
        rough: false,
        exchangeable: group.exchangeable,
        doubt: doubt(place),
        drawn: std::sync::OnceLock::new(),
        crowd: std::sync::OnceLock::new(),
    }
}

/// Groups that stand at the same place cannot be measured apart: they become one.
fn coincident(groups: Vec<PatternGroup>, field: Megahertz) -> Vec<PatternGroup> {
    let mut out: Vec<PatternGroup> = Vec::new();
    for group in groups {
        let same = |g: &&mut PatternGroup| {
            let apart = (g.expected.0 - group.expected.0).abs();
            let many = g.sticks.len() > 1 && group.sticks.len() > 1;
            let merged = many && apart * field.0 < MERGED_HZ;
            g.resolved && group.resolved && (apart < SAME_PLACE || merged)
        };
        match out.iter_mut().find(same) {
            Some(known) => unite(known, &group, field),
            None => out.push(group),
        }
    }
    out
}

fn unite(known: &mut PatternGroup, other: &PatternGroup, field: Megahertz) {
    let total = known.protons + other.protons;
    let lines: Vec<(Ppm, f64)> = [&*known, other]
        .into_iter()
        .flat_map(|g| {
            let place = |s: &Stick| Ppm(g.expected.0 - s.offset / field.0);
            g.sticks.iter().map(move |s| (place(s), s.share * g.protons))
        })
        .collect();
    if let Some((centre, sticks)) = gather(&lines, field) {
        known.expected = centre;
        known.sticks = sticks;
        known.protons = total;
        known.name = format!("{} + {}", known.name, other.name);
        known.multiplicity = Multiplicity::multiplet();
    }
}

fn doubt(place: &TableShift) -> Option<String> {
    match place.status {
        ShiftStatus::Borrowed => {
            Some(format!("no tabulated shift in this NMR solvent; looked for near {:.2}", place.centre().0))
        }
        ShiftStatus::Doubtful => {
            Some(format!("the printed shift is doubtful; looked for near {:.2} instead", place.centre().0))
        }
        _ => None,
    }
}

/// Sticks of every group that a known spin system covers, with the group's centre of gravity.
fn coupled_sticks(
    compound: &Compound,
    solvent: &NmrSolvent,
    field: Megahertz,
    exchange: Exchange,
) -> Vec<(String, (Ppm, Vec<Stick>))> {
    let shift = |name: &str| {
        let group = compound.group(name)?;
        let tabulated = group.shift_in(solvent).map(TableShift::centre);
        match (group.exchangeable, exchange) {
            (false, _) => tabulated,
            (true, Exchange::Slow) => tabulated.or(Some(SLOW_OH)),
            (true, Exchange::Fast) => None,
        }
    };
    let spins = systems::of(stem(&compound.name));
    let lines: Vec<(&str, Ppm, f64)> = if spins.is_empty() {
        from_partners(compound, field, shift)
    } else {
        systems::lines(spins, field, shift).into_iter().map(|(g, t)| (g, t.shift, t.intensity)).collect()
    };
    compound
        .groups
        .iter()
        .filter_map(|group| {
            let own: Vec<(Ppm, f64)> =
                lines.iter().filter(|(name, ..)| *name == group.name).map(|(_, s, i)| (*s, *i)).collect();
            Some((group.name.clone(), gather(&own, field)?))
        })
        .collect()
}

/// Lines from the couplings of the shift table, for compounds all of whose coupled groups name their partners.
fn from_partners(
    compound: &Compound,
    field: Megahertz,
    shift: impl Fn(&str) -> Option<Ppm>,
) -> Vec<(&str, Ppm, f64)> {
    if compound.groups.iter().all(|group| group.partners.is_empty()) {
        return Vec::new();
    }
    let mut system = SpinSystem::default();
    let mut places = vec![None; compound.groups.len()];
    for (k, group) in compound.groups.iter().enumerate() {
        let whole = group.partners.is_empty() || group.multiplicity.partners().is_some();
        if let (Some(at), Some(protons), true) = (shift(&group.name), group.protons, whole) {
            places[k] = Some(system.add(&group.name, at, protons / copies(compound, k)));
        }
    }
    for (k, group) in compound.groups.iter().enumerate() {
        for partner in &group.partners {
            if let (Some(a), Some(Some(b)), true) = (places[k], places.get(partner.group), k < partner.group)
            {
                system.couple(a, *b, partner.j);
            }
        }
    }
    let own: Vec<usize> = (0..places.len()).filter(|&k| places[k].is_some()).collect();
    system
        .transitions(field)
        .into_iter()
        .filter(|t| all_there(compound, own[t.group], &places))
        .map(|t| (compound.groups[own[t.group]].name.as_str(), t.shift, t.intensity))
        .collect()
}

/// Whether a coupled group has all its partners in the system; with one missing its lines would be too few.
fn all_there(compound: &Compound, group: usize, places: &[Option<usize>]) -> bool {
    let partners = &compound.groups[group].partners;
    let there = |k: usize| places[k].is_some() || compound.groups[k].exchangeable;
    !partners.is_empty() && partners.iter().all(|partner| there(partner.group))
}

/// How many identical fragments of the molecule hold a group: the partners' protons over those its multiplicity shows.
///
/// A diethylamine's CH2 (4H, q) has six methyl protons for partners but couples to three: two fragments. A group of unknown
/// multiplicity is in as many as its partners.
fn copies(compound: &Compound, group: usize) -> u32 {
    let own = |k: usize| -> Option<u32> {
        let group = &compound.groups[k];
        let seen: u32 = group.multiplicity.partners()?.iter().map(|n| u32::from(*n)).sum();
        let others = group.partners.iter().map(|partner| &compound.groups[partner.group]);
        let there: u32 = others.filter(|g| !g.exchangeable).filter_map(|g| g.protons).sum();
        (seen > 0 && there > 0 && there.is_multiple_of(seen)).then(|| there / seen)
    };
    let partners = || compound.groups[group].partners.iter().filter_map(|partner| own(partner.group));
    let fragments = own(group).or_else(|| partners().next()).unwrap_or(1);
    let whole = compound.groups[group].protons.is_some_and(|protons| protons.is_multiple_of(fragments));
    if whole { fragments } else { 1 }
}

/// Centre of gravity and sticks of unit total share.
fn gather(lines: &[(Ppm, f64)], field: Megahertz) -> Option<(Ppm, Vec<Stick>)> {
    let total: f64 = lines.iter().map(|(_, i)| i).sum();
    if total <= 0.0 {
        return None;
    }
    let centre = lines.iter().map(|(s, i)| s.0 * i).sum::<f64>() / total;
    let sticks: Vec<Stick> =
        lines.iter().map(|(s, i)| Stick { offset: (centre - s.0) * field.0, share: i / total }).collect();
    Some((Ppm(centre), crate::fit::template::merge(&sticks, SAME_LINE)))
}

/// First-order sticks; `None` for an unresolved multiplet or one whose couplings are not all given.
pub(crate) fn first_order(
    multiplicity: &Multiplicity,
    couplings: &[Hertz],
    field: Megahertz,
) -> Option<Vec<Stick>> {
    let partners = multiplicity.partners()?;
    if partners.len() > couplings.len() {
        return None;
    }
    let mut system = SpinSystem::default();
    let group = system.add("", Ppm(0.0), 1);
    for (count, j) in partners.iter().zip(couplings) {
        system.split(group, PartnerSpin::Half, u32::from(*count), *j);
    }
    let lines: Vec<(Ppm, f64)> =
        system.transitions(field).iter().map(|line| (line.shift, line.intensity)).collect();
    gather(&lines, field).map(|(_, sticks)| sticks)
}

/// Lines of many slightly unlike protons, such as the chains of grease: sticks under a Gaussian that ends, at two of
/// its standard deviations, with the tabulated outer width. `None` for other lines.
fn hump(class: Class, group: &Group) -> Option<Vec<Stick>> {
    let span = group.span.filter(|_| class == Class::Grease || group.multiplicity.is_broad())?;
    let half = (span.0 / (2.0 * HUMP_STEP)).ceil() as i32;
    let bell = |k: i32| libm::exp(-0.5 * (2.0 * f64::from(k) / f64::from(half)).powi(2));
    let total: f64 = (-half..=half).map(bell).sum();
    let stick =
        |k: i32| Stick { offset: span.0 / 2.0 * f64::from(k) / f64::from(half), share: bell(k) / total };
    Some((-half..=half).map(stick).collect())
}

/// Evenly spread sticks over the tabulated range or span.
fn band(group: &Group, place: &TableShift, field: Megahertz) -> Vec<Stick> {
    let range = (place.high.0 - place.low.0) * field.0;
    let width = group.span.map_or(range, |span| span.0.max(range)).max(BAND_STEP);
    let count = (width / BAND_STEP).ceil().max(1.0) as usize + 1;
    (0..count)
        .map(|k| Stick { offset: width * (k as f64 / (count - 1) as f64 - 0.5), share: 1.0 / count as f64 })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::table::Tables;

    /// At high field the second moment of a multiplet is a quarter of the sum of its squared couplings, one term a coupled
    /// proton (Van Vleck 1948, for spins one half in first order).
    #[test]
    fn second_moments_are_those_of_the_tabulated_multiplicity() {
        let tables = Tables::bundled();
        let solvent = tables.nmr_solvent("CDCl3").unwrap();
        let mut seen = Vec::new();
        for (index, compound) in tables.compounds().iter().enumerate() {
            let Some(pattern) = of_compound(compound, index, solvent, Megahertz(10_000.0)) else { continue };
            for group in pattern.groups.iter().filter(|g| g.resolved) {
                let Some(row) = compound.group(&group.name) else { continue };
                let Some(counts) = row.multiplicity.partners() else { continue };
                if counts.len() != 1 || row.couplings.len() != 1 {
                    continue;
                }
                let wanted = f64::from(counts[0]) * row.couplings[0].0.powi(2) / 4.0;
                let found: f64 = group.sticks.iter().map(|s| s.share * s.offset * s.offset).sum();
                assert!(
                    (found - wanted).abs() < 0.2 * wanted,
                    "{} {}: {found:.1} instead of {wanted:.1} square hertz",
                    compound.name,
                    group.name
                );
                seen.push(compound.name.as_str());
            }
        }
        for name in ["diethylamine", "N,N-diisopropylethylamine", "dibutyl ether", "N-methylmorpholine"] {
            assert!(seen.contains(&name), "{name} was not looked at");
        }
    }

    /// A proton's lines have the second moment of a quarter of its squared couplings summed, at any field and however strong the
    /// coupling among the others of its shift (Van Vleck 1948): in rings that turn over each CH2 proton has one cis and one trans
    /// neighbour in every adjacent CH2, not four alike on one side.
    #[test]
    fn ring_protons_have_two_neighbours_a_side() {
        let tables = Tables::bundled();
        let solvent = tables.nmr_solvent("CDCl3").unwrap();
        let moment = |name: &str, group: &str| {
            let index = tables.compounds().iter().position(|c| c.name == name).unwrap();
            let pattern =
                of_compound(&tables.compounds()[index], index, solvent, Megahertz(2_000.0)).unwrap();
            let group = pattern.groups.iter().find(|g| g.name == group).unwrap().clone();
            group.sticks.iter().map(|s| s.share * s.offset * s.offset).sum::<f64>()
        };
        let alpha = 7.9f64.powi(2) + 6.1f64.powi(2);
        for (name, group, wanted) in [
            ("tetrahydrofuran", "OCH2", alpha / 4.0),
            ("tetrahydrofuran", "CH2", alpha / 4.0),
            ("sulfolane", "SCH2", 2.0 * 6.9f64.powi(2) / 4.0),
            ("tetralin", "ArCH2", 2.0 * 6.4f64.powi(2) / 4.0),
            ("n-pentane", "CH3", 2.0 * 7.2f64.powi(2) / 4.0),
        ] {
            let found = moment(name, group);
            assert!((found - wanted).abs() < 0.1 * wanted, "{name} {group}: {found:.1}, not {wanted:.1}");
        }
    }

    /// Diethylamine and triethylamine are two and three ethyl groups: the lines are those of one, of two and three protons.
    #[test]
    fn of_identical_fragments_the_lines_are_those_of_one() {
        let tables = Tables::bundled();
        let solvent = tables.nmr_solvent("CDCl3").unwrap();
        for (name, methylene) in [("diethylamine", "NCH2"), ("triethylamine", "CH2")] {
            let compound = tables.compound(name).unwrap();
            let shift = |group: &str| {
                let group = compound.group(group).filter(|group| !group.exchangeable)?;
                group.shift_in(solvent).map(TableShift::centre)
            };
            let lines = from_partners(compound, Megahertz(2_000.0), shift);
            let protons = |group: &str| {
                lines.iter().filter(|(name, ..)| *name == group).map(|(.., area)| area).sum::<f64>()
            };
            let seen = (protons(methylene), protons("CH3"));
            assert!((seen.0 - 2.0).abs() < 0.01 && (seen.1 - 3.0).abs() < 0.01, "{name}: {seen:?}");
        }
    }
}
