//! Saturation of a standard whose T1 is known only as a range.

use lees_core::Seconds;

use crate::interval::Z95;
use crate::relaxation::{T1, Timing, recovery};
use crate::uncertainty::{Effect, Shape};

/// Steps of the average over a range of T1; the integrand is smooth.
const STEPS: u32 = 200;
/// What shrinks this uncertainty.
const REMEDY: &str = "a longer relaxation delay, a smaller pulse, or T1 given";

/// Share of the signal that is left, over all T1 of the range as equally likely.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Left {
    mean: f64,
    /// Such that 95 % of the range lie within 1.96 of it: the law is lopsided, its standard deviation would not do.
    u: f64,
    /// Distance of the farther end of the range.
    most: f64,
}

/// The factor on a ratio of standard to product, what stays open of it, and the largest error that may remain in per cent.
///
/// Every T1 of a range is taken as equally likely. The share left is then near 1 for most of them: its mean, not the middle
/// between its ends, is the fair estimate.
pub(super) fn correction(timing: &Timing, standard: T1, product: T1) -> (f64, Vec<Effect>, f64) {
    let (own, other) = (Left::of(timing, standard), Left::of(timing, product));
    let mut effects = Vec::new();
    if own.u > 0.0 {
        let source = "saturation of the standard (T1 not known)";
        effects.push(Effect::of_volatile(source, own.u / own.mean, Shape::Normal, REMEDY));
    }
    if other.u > 0.0 {
        let source = "saturation of the product (T1 not known)";
        effects.push(Effect::of_product(source, other.u / other.mean, Shape::Normal, REMEDY));
    }
    (other.mean / own.mean, effects, 100.0 * (own.most / own.mean + other.most / other.mean))
}

impl Left {
    fn of(timing: &Timing, t1: T1) -> Self {
        let at = |t1: f64| recovery(timing.angle, timing.repetition, Seconds(t1));
        match t1 {
            T1::Known(t1) => Self { mean: at(t1.0), u: 0.0, most: 0.0 },
            T1::Between(short, long) => {
                let step = (long.0 - short.0) / f64::from(STEPS);
                let values = || (0..STEPS).map(|k| at(step.mul_add(f64::from(k) + 0.5, short.0)));
                let mean = values().sum::<f64>() / f64::from(STEPS);
                let mut off: Vec<f64> = values().map(|v| (v - mean).abs()).collect();
                off.sort_by(f64::total_cmp);
                let reach = off.get(off.len() * 95 / 100).copied().unwrap_or_default();
                let most = (at(short.0) - mean).abs().max((mean - at(long.0)).abs());
                Self { mean, u: reach / Z95, most }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use lees_core::Degrees;
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    fn timing(angle: f64, repetition: f64) -> Timing {
        Timing {
            angle: Degrees(angle),
            repetition: Seconds(repetition),
            angle_known: true,
            repetition_known: true,
        }
    }

    /// Of T1 drawn evenly from the range, 95 of 100 true shares lie within 1.96 standard uncertainties.
    #[test]
    fn the_interval_covers_whatever_the_timing() {
        let mut rng = ChaCha8Rng::seed_from_u64(8);
        for (angle, repetition) in [(90.0, 12.0), (90.0, 25.0), (30.0, 8.0), (45.0, 30.0)] {
            let timing = timing(angle, repetition);
            let range = T1::Between(Seconds(1.5), Seconds(8.0));
            let (factor, effects, _) = correction(&timing, range, T1::Known(Seconds(0.001)));
            let u = effects[0].on_volatile;
            let draws = 4000;
            let inside = (0..draws)
                .filter(|_| {
                    let t1 = Seconds(rng.random_range(1.5..8.0));
                    (recovery(timing.angle, timing.repetition, t1) * factor - 1.0).abs() <= 1.96 * u
                })
                .count();
            let share = inside as f64 / f64::from(draws);
            assert!((0.935..=0.965).contains(&share), "{angle} {repetition}: {share}");
        }
    }

    #[test]
    fn a_known_t1_leaves_nothing_open() {
        let known = T1::Known(Seconds(6.0));
        let (factor, effects, open) = correction(&timing(90.0, 5.0), known, T1::Known(Seconds(1.0)));
        assert!((1.0 / factor - 0.5692).abs() < 1e-4); // as in the crate's relaxation example
        assert!(effects.is_empty() && open == 0.0);
    }
}
