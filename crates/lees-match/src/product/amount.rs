//! Area of one product proton from the signals that agree.

/// A measured region: area, its standard uncertainty, protons, and whether it may be too large or too small for
/// reasons of its own.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Measured {
    /// Area of the product alone.
    pub area: f64,
    /// Its standard uncertainty.
    pub u: f64,
    /// Protons expected.
    pub protons: f64,
    /// Whether the amount may rest on it.
    pub eligible: bool,
}

/// Area per proton and what it rests on.
#[derive(Debug, Clone)]
pub(crate) struct PerProton {
    /// Area of one product proton.
    pub value: f64,
    /// Its standard uncertainty, spread between signals counted.
    pub u: f64,
    /// Which regions agree and were used.
    pub used: Vec<bool>,
    /// By how much, relative, another region's area may differ from what its protons let expect.
    pub spread: f64,
}

/// Regions agree with one another within this relative spread, beyond their own errors: relaxation of different
/// protons, 13C bookkeeping.
const AGREEMENT: f64 = 0.01;
/// A region further off than this many of its uncertainties is left out.
const OUTLIER_SIGMAS: f64 = 3.0;

/// Another region may differ by twice as much as those that agree, but is never known better than this ...
const LEAST_SPREAD: f64 = 0.015;
/// ... nor expected to differ by more than this, which holds where fewer agree than so many or one is smaller by more.
const MOST_SPREAD: f64 = 0.03;
const ENOUGH: i32 = 4;

/// No region has more votes than this: something else may lie in the largest.
const MOST_VOTES: f64 = 3.0;

/// Of two values so many times apart the larger is the product's ...
const FULLER: f64 = 3.0;
/// ... when it has at least this share of the votes: lines that stand elsewhere than described leave regions empty, while
/// something several times as much as the product is seldom beside it.
const NEARLY_AS_MANY: f64 = 0.6;
/// Of two values nearer to one another the smaller is the product's when it has that share of the votes and so many regions agree on
/// it: other molecules make signals larger, and nothing but saturation makes several of them smaller alike.
const SEVERAL: usize = 3;

/// The value that most of the weight agrees on, and the precision-weighted mean of those that agree.
pub(crate) fn per_proton(measured: &[Measured]) -> Option<PerProton> {
    let singles: Vec<(usize, f64, f64)> = measured
        .iter()
        .enumerate()
        .filter(|(_, m)| m.eligible && m.protons > 0.0 && m.area > 3.0 * m.u)
        .map(|(k, m)| {
            let value = m.area / m.protons;
            (k, value, libm::hypot(m.u / m.protons, AGREEMENT * value))
        })
        .collect();
    let votes = |single: &(usize, f64, f64)| support(&singles, measured, single.1);
    let most =
        |a: &&(usize, f64, f64), b: &&(usize, f64, f64)| votes(a).total_cmp(&votes(b)).then(b.0.cmp(&a.0));
    let first = singles.iter().max_by(most)?;
    let fuller = |s: &&(usize, f64, f64)| s.1 > FULLER * first.1 && votes(s) > NEARLY_AS_MANY * votes(first);
    let agree = |a: &(usize, f64, f64), b: &(usize, f64, f64)| {
        (a.1 - b.1).abs() < OUTLIER_SIGMAS * libm::hypot(a.2, b.2)
    };
    let smaller = |s: &&(usize, f64, f64)| {
        let is_smaller = s.1 < first.1 && FULLER * s.1 > first.1 && !agree(s, first);
        let several = || singles.iter().filter(|other| agree(s, other)).count() >= SEVERAL;
        is_smaller && votes(s) > NEARLY_AS_MANY * votes(first) && several()
    };
    let other =
        singles.iter().filter(fuller).max_by(most).or_else(|| singles.iter().filter(smaller).max_by(most));
    let centre = other.unwrap_or(first);
    let agreeing: Vec<&(usize, f64, f64)> = singles.iter().filter(|s| agree(s, centre)).collect();
    let weight: f64 = agreeing.iter().map(|s| s.2.powi(-2)).sum();
    let value = agreeing.iter().map(|s| s.1 * s.2.powi(-2)).sum::<f64>() / weight;
    let chi2: f64 = agreeing.iter().map(|s| ((s.1 - value) / s.2).powi(2)).sum();
    let birge = if agreeing.len() > 1 { (chi2 / (agreeing.len() - 1) as f64).sqrt() } else { 1.0 };
    let mut used = vec![false; measured.len()];
    agreeing.iter().for_each(|s| used[s.0] = true);
    let is_smaller = |s: &(usize, f64, f64)| s.1 + OUTLIER_SIGMAS * s.2 < (1.0 - MOST_SPREAD) * value;
    let even = !singles.iter().any(is_smaller);
    let spread = if even { spread(agreeing.iter().map(|s| s.1 / value)) } else { MOST_SPREAD };
    Some(PerProton { value, u: birge.max(1.0) / weight.sqrt(), used, spread })
}

/// By how much another may differ from those that agree, by their ratios to what they agree on.
pub(super) fn spread(ratios: impl Iterator<Item = f64>) -> f64 {
    let (count, squares) = ratios.fold((0, 0.0), |(n, sum), ratio| (n + 1, sum + (ratio - 1.0).powi(2)));
    let scatter = (squares / f64::from(count.max(1))).sqrt();
    if count < ENOUGH { MOST_SPREAD } else { (2.0 * scatter).clamp(LEAST_SPREAD, MOST_SPREAD) }
}

/// How much speaks for a value: every region votes with its protons, the less the further it is off.
fn support(singles: &[(usize, f64, f64)], measured: &[Measured], value: f64) -> f64 {
    singles
        .iter()
        .map(|(k, v, u)| {
            let r = (v - value) / libm::hypot(*u, 2.0 * AGREEMENT * value);
            measured[*k].protons.min(MOST_VOTES) * libm::exp(-0.5 * r * r)
        })
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two signals disagree: one has a thirtieth of its protons, since it stands elsewhere, or one and a half times as many.
    #[test]
    fn of_two_values_far_apart_the_larger_is_the_products() {
        let region = |area| Measured { area, u: 0.01, protons: 1.0, eligible: true };
        let found = per_proton(&[region(0.1), region(3.0)]).expect("two regions");
        assert!((found.value - 3.0).abs() < 1e-9 && found.used == [false, true], "{found:?}");
        let found = per_proton(&[region(2.0), region(3.0)]).expect("two regions");
        assert!(
            (found.value - 2.0).abs() < 1e-9 && found.used == [true, false],
            "something else lies in the second"
        );
        let found = per_proton(&[region(0.1), region(0.1), region(3.0)]).expect("three regions");
        assert_eq!(found.used, [true, true, false], "outvoted");
    }

    /// Two signals of 3 and more protons with a fifth too much, beside three or two of one proton.
    #[test]
    fn several_smaller_signals_that_agree_outweigh_larger_ones() {
        let region =
            |protons: f64, each: f64| Measured { area: each * protons, u: 0.01, protons, eligible: true };
        let larger = [region(4.0, 1.2), region(6.0, 1.2)];
        let with =
            |smaller: &[Measured]| per_proton(&[&larger, smaller].concat()).expect("several regions").value;
        assert!((with(&[region(1.0, 1.0); 4]) - 1.0).abs() < 1e-9);
        assert!((with(&[region(1.0, 1.0); 3]) - 1.2).abs() < 1e-9, "half as many votes");
        assert!((with(&[region(2.0, 1.0); 2]) - 1.2).abs() < 1e-9, "two signals only");
    }

    /// Regions 1 % off to either side let another be 2 % off.
    #[test]
    fn another_region_may_differ_by_twice_as_much_as_those_that_agree() {
        let region = |area| Measured { area, u: 0.001, protons: 1.0, eligible: true };
        let spread = |areas: &[f64]| {
            per_proton(&areas.iter().map(|a| region(*a)).collect::<Vec<_>>()).expect("regions").spread
        };
        assert!((spread(&[1.01, 0.99, 1.01, 0.99]) - 0.02).abs() < 5e-4);
        assert_eq!(spread(&[1.0; 4]), LEAST_SPREAD);
        assert_eq!(spread(&[1.0; 3]), MOST_SPREAD, "too few");
        assert_eq!(spread(&[1.0, 1.0, 1.0, 1.0, 1.0, 0.8]), MOST_SPREAD, "one is a fifth smaller");
        assert_eq!(
            spread(&[1.0, 1.0, 1.0, 1.0, 1.0, 1.4]),
            LEAST_SPREAD,
            "something else lies in the largest"
        );
    }

    /// A value off by twice what is allowed, the root of 0.03 and 0.04 squared: exp(-2) of a vote.
    #[test]
    fn regions_vote_with_their_protons_and_less_the_further_they_are_off() {
        let region = |protons| Measured { area: 1.0, u: 0.1, protons, eligible: true };
        let measured = [region(2.0), region(9.0)];
        let vote = |k, v| support(&[(k, v, 0.03)], &measured, 2.0);
        assert!((vote(0, 2.0) - 2.0).abs() < 1e-12);
        assert!((vote(0, 2.1) - 2.0 * libm::exp(-2f64)).abs() < 1e-9);
        assert!((vote(1, 1.9) - 3.0 * libm::exp(-2f64)).abs() < 1e-9, "no more than three protons count");
        let all = support(&[(0, 2.0, 0.03), (1, 1.9, 0.03)], &measured, 2.0);
        assert!((all - vote(0, 2.0) - vote(1, 1.9)).abs() < 1e-12);
    }
}
