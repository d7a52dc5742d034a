//! Saturation: what a short repetition time takes from slowly relaxing protons.
//!
//! Steady state after many pulses of flip angle a every TR seconds: Mz/M0 = (1 - E) / (1 - E cos a), E = exp(-TR/T1)
//! (Ernst and Anderson, Rev. Sci. Instrum. 1966, 37, 93). The flip angle is the same for all lines, so that sin a cancels
//! in a ratio.

use lees_core::{Acquisition, Degrees, Seconds};
use serde::{Deserialize, Serialize};

use crate::interval::Z95;
use crate::uncertainty::{Effect, Shape};

/// What is known and assumed about relaxation.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct RelaxationSettings {
    /// Flip angle when the file does not say, degrees (common practice, no source).
    pub assumed_angle_degrees: f64,
    /// Repetition time when the file does not say, seconds (common practice, no source).
    pub assumed_repetition_s: f64,
    /// Shortest T1 to expect of product protons, seconds (memory: molecules of 250 to 1500 g/mol).
    pub product_t1_low_s: f64,
    /// Longest T1 to expect of product protons, seconds.
    pub product_t1_high_s: f64,
    /// Possible error from which a warning is due, per cent.
    pub warn_percent: f64,
}

impl Default for RelaxationSettings {
    fn default() -> Self {
        Self {
            assumed_angle_degrees: 30.0,
            assumed_repetition_s: 4.0,
            product_t1_low_s: 0.8,
            product_t1_high_s: 2.5,
            warn_percent: 3.0,
        }
    }
}

/// Pulse timing, as read or assumed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Timing {
    /// Flip angle.
    pub angle: Degrees,
    /// Relaxation delay plus acquisition time.
    pub repetition: Seconds,
    /// Whether the flip angle came from the file.
    pub angle_known: bool,
    /// Whether the repetition time came from the file.
    pub repetition_known: bool,
}

impl Timing {
    /// From what the file says, filled up with what is assumed.
    #[must_use]
    pub(crate) fn of(acquisition: &Acquisition, settings: &RelaxationSettings) -> Self {
        let repetition = acquisition.repetition_time().filter(|time| time.0 > 0.0);
        let angle = acquisition.pulse_angle.filter(|angle| angle.0 > 0.0 && angle.0 <= 180.0);
        Self {
            angle: angle.unwrap_or(Degrees(settings.assumed_angle_degrees)),
            repetition: repetition.unwrap_or(Seconds(settings.assumed_repetition_s)),
            angle_known: angle.is_some(),
            repetition_known: repetition.is_some(),
        }
    }

    /// In words, for warnings.
    #[must_use]
    pub(crate) fn words(&self) -> String {
        let every = match self.repetition_known {
            true => format!("{} s", round(self.repetition.0)),
            false => format!("{} to {} s", round(self.repetition.0), round(PATIENCE * self.repetition.0)),
        };
        let origin = match (self.angle_known, self.repetition_known) {
            (true, true) => "from the file",
            (false, false) => "assumed, the file says nothing",
            (true, false) => "repetition assumed",
            (false, true) => "flip angle assumed",
        };
        format!("{} degree pulse every {every} ({origin})", round(self.angle.0))
    }
}

/// To hundredths: files give seconds and degrees with the digits of their own arithmetic.
fn round(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

/// Fraction of the fully relaxed signal that is left in the steady state.
///
/// ```
/// use lees_core::{Degrees, Seconds};
/// let left = lees_match::relaxation::recovery(Degrees(90.0), Seconds(5.0), Seconds(1.0));
/// assert!((left - 0.99326).abs() < 1e-5); // 5 T1 after a 90 degree pulse
/// ```
#[must_use]
pub fn recovery(angle: Degrees, repetition: Seconds, t1: Seconds) -> f64 {
    if t1.0 <= 0.0 {
        return 1.0;
    }
    let e = libm::exp(-repetition.0 / t1.0);
    (1.0 - e) / (1.0 - e * libm::cos(angle.to_radians()))
}

/// A T1: measured by the user, or a range to expect.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum T1 {
    /// Measured.
    Known(Seconds),
    /// Anywhere between two ends.
    Between(Seconds, Seconds),
}

/// Values of T1 and of the repetition time that an average is taken over; the integrand is smooth.
const T1_STEPS: u32 = 100;
const REPETITION_STEPS: u32 = 12;
/// A repetition time that no file tells may be the assumed one or up to so many times as long: those who measure contents wait
/// until all protons are relaxed.
const PATIENCE: f64 = 10.0;

/// What saturation does to one compound: share of the signal that is left, over all T1 of a range as equally likely, and all
/// repetition times (on a logarithmic scale) when the file tells none.
///
/// The share left is near 1 for most of them: its mean, not the middle between its ends, is the fair estimate.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Saturation {
    mean: f64,
    /// Such that 95 % lie within 1.96 of it: the law is lopsided, its standard deviation would not do.
    u: f64,
    /// Distance of the farther end.
    most: f64,
}

impl Saturation {
    fn of(timing: &Timing, t1: T1) -> Self {
        let repetitions = match timing.repetition_known {
            true => vec![timing.repetition.0],
            false => steps(0.0, libm::log(PATIENCE), REPETITION_STEPS)
                .map(|power| timing.repetition.0 * libm::exp(power))
                .collect(),
        };
        let t1s = match t1 {
            T1::Known(t1) => vec![t1.0],
            T1::Between(short, long) => steps(short.0, long.0, T1_STEPS).collect(),
        };
        let at = |repetition: f64, t1: f64| recovery(timing.angle, Seconds(repetition), Seconds(t1));
        let left: Vec<f64> = repetitions.iter().flat_map(|r| t1s.iter().map(|t1| at(*r, *t1))).collect();
        let mean = left.iter().sum::<f64>() / left.len() as f64;
        let mut off: Vec<f64> = left.iter().map(|v| (v - mean).abs()).collect();
        off.sort_by(f64::total_cmp);
        let most = off.last().copied().unwrap_or_default();
        let reach = off.get(off.len() * 95 / 100).copied().unwrap_or(most);
        Self { mean, u: if left.len() > 1 { reach / Z95 } else { 0.0 }, most }
    }
}

/// Middles of equal steps between two ends.
fn steps(from: f64, to: f64, count: u32) -> impl Iterator<Item = f64> {
    let step = (to - from) / f64::from(count);
    (0..count).map(move |k| step.mul_add(f64::from(k) + 0.5, from))
}

/// How a measured ratio of volatile to product is to be corrected.
#[derive(Debug, Clone, PartialEq)]
pub struct Correction {
    /// Multiply the measured ratio by this.
    pub factor: f64,
    /// What the unknown T1 leave open: on the volatile and on the product.
    pub effects: Vec<Effect>,
    /// The largest relative error that may remain, per cent.
    pub possible_percent: f64,
}

/// The correction of a ratio of volatile to product, with what remains open.
///
/// ```
/// use lees_core::{Degrees, Seconds};
/// use lees_match::relaxation::{T1, Timing, correction};
/// let timing = Timing { angle: Degrees(90.0), repetition: Seconds(5.0), angle_known: true, repetition_known: true };
/// let found = correction(&timing, T1::Known(Seconds(6.0)), T1::Known(Seconds(1.0)));
/// assert!((1.0 / found.factor - 0.5692).abs() < 1e-4); // uncorrected, the solvent reads 43 % low
/// assert_eq!(found.possible_percent, 0.0);
/// ```
#[must_use]
pub fn correction(timing: &Timing, volatile: T1, product: T1) -> Correction {
    corrected(timing, "volatile", volatile, product)
}

/// The same of a ratio of anything, `what`, to product.
pub(crate) fn corrected(timing: &Timing, what: &str, other: T1, product: T1) -> Correction {
    let (own, of_product) = (Saturation::of(timing, other), Saturation::of(timing, product));
    let unknown = match timing.repetition_known {
        true => "T1 not known",
        false => "repetition time not known",
    };
    let remedy = "a longer relaxation delay, a smaller pulse, or T1 given";
    let mut effects = Vec::new();
    if own.u > 0.0 {
        let source = format!("saturation of the {what} ({unknown})");
        effects.push(Effect::of_volatile(&source, own.u / own.mean, Shape::Normal, remedy));
    }
    if of_product.u > 0.0 {
        let source = format!("saturation of the product ({unknown})");
        effects.push(Effect::of_product(&source, of_product.u / of_product.mean, Shape::Normal, remedy));
    }
    Correction {
        factor: of_product.mean / own.mean,
        effects,
        possible_percent: 100.0 * (own.most / own.mean + of_product.most / of_product.mean),
    }
}

/// The sentence for a correction that leaves more open than `settings.warn_percent`.
#[must_use]
pub(crate) fn warning(
    name: &str,
    timing: &Timing,
    found: &Correction,
    settings: &RelaxationSettings,
) -> Option<String> {
    if found.possible_percent < settings.warn_percent {
        return None;
    }
    let unknown =
        if timing.repetition_known { "its T1 is not known" } else { "a known T1 and timing would tell" };
    Some(format!(
        "{name}: relaxation may still bias the amount by up to {:.0} % after correction by {:+.0} % ({}); {unknown}",
        found.possible_percent,
        100.0 * (found.factor - 1.0),
        timing.words()
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    #[test]
    fn angles_and_times_are_told_to_hundredths() {
        let timing = Timing {
            angle: Degrees(44.999_997_188_674_605),
            repetition: Seconds(4.234_5),
            angle_known: true,
            repetition_known: true,
        };
        assert_eq!(timing.words(), "45 degree pulse every 4.23 s (from the file)");
    }

    /// 1 - exp(-TR/T1) after a 90 degree pulse (closed form); BIPM reports on internal standards (S. Westwood et al., 2018)
    /// give more than 99.99 % at 10 T1.
    #[test]
    fn recovery_after_a_quarter_turn() {
        for (multiple, left) in [
            (1.0, 0.63212),
            (2.0, 0.86466),
            (3.0, 0.95021),
            (4.0, 0.98168),
            (5.0, 0.99326),
            (7.0, 0.99909),
            (10.0, 0.999_955),
        ] {
            let found = recovery(Degrees(90.0), Seconds(multiple * 2.0), Seconds(2.0));
            assert_abs_diff_eq!(found, left, epsilon = 6e-6);
        }
    }

    /// Bias against product protons with T1 1.5 s (closed form, worked apart, to the printed digit).
    #[test]
    fn bias_table() {
        let rows = [
            (30.0, 4.0, [(3.0, -3.6, 0.06), (5.0, -9.0, 0.6), (8.0, -16.0, 0.6), (12.0, -25.0, 0.6)]),
            (90.0, 4.0, [(3.0, -21.0, 0.6), (5.0, -41.0, 0.6), (8.0, -58.0, 0.6), (12.0, -70.0, 0.6)]),
            (90.0, 30.0, [(3.0, 0.0, 0.06), (5.0, -0.2, 0.06), (8.0, -2.4, 0.06), (12.0, -8.0, 0.6)]),
        ];
        for (angle, repetition, cells) in rows {
            let left = |t1: f64| recovery(Degrees(angle), Seconds(repetition), Seconds(t1));
            for (t1, percent, digit) in cells {
                assert_abs_diff_eq!(100.0 * (left(t1) / left(1.5) - 1.0), percent, epsilon = digit);
            }
        }
    }

    #[test]
    fn an_unknown_t1_widens_and_warns() {
        let acquisition = Acquisition::at_field(lees_core::Megahertz(400.0));
        let settings = RelaxationSettings::default();
        let timing = Timing::of(&acquisition, &settings);
        assert!(!timing.angle_known && !timing.repetition_known);
        let found = correction(
            &timing,
            T1::Between(Seconds(2.0), Seconds(8.0)),
            T1::Between(Seconds(0.8), Seconds(2.5)),
        );
        assert!(found.factor > 1.0 && found.effects.len() == 2);
        let text = warning("toluene", &timing, &found, &settings).unwrap();
        assert!(text.contains("toluene") && text.contains("assumed"), "{text}");
        // with a long delay nothing is left to warn of
        let patient = Timing { repetition: Seconds(60.0), repetition_known: true, ..timing };
        let quiet = correction(&patient, T1::Between(Seconds(2.0), Seconds(8.0)), T1::Known(Seconds(1.0)));
        assert!(warning("toluene", &patient, &quiet, &settings).is_none());
    }

    #[test]
    fn what_is_open_on_both_sides_adds_up() {
        let timing = Timing {
            angle: Degrees(90.0),
            repetition: Seconds(5.0),
            angle_known: true,
            repetition_known: true,
        };
        let (volatile, product) =
            (T1::Between(Seconds(2.0), Seconds(8.0)), T1::Between(Seconds(0.8), Seconds(2.5)));
        let both = correction(&timing, volatile, product);
        let one = correction(&timing, volatile, T1::Known(Seconds(1.0)));
        let other = correction(&timing, T1::Known(Seconds(1.0)), product);
        assert!(one.possible_percent > 1.0 && other.possible_percent > 1.0);
        assert_abs_diff_eq!(
            both.possible_percent,
            one.possible_percent + other.possible_percent,
            epsilon = 1e-9
        );
        assert_eq!((one.effects.len(), other.effects.len()), (1, 1));
    }

    /// Of T1 drawn evenly from the range, 95 of 100 true shares lie within 1.96 standard uncertainties.
    #[test]
    fn the_interval_covers_whatever_the_timing() {
        let mut rng = ChaCha8Rng::seed_from_u64(8);
        for (angle, repetition) in [(90.0, 12.0), (90.0, 25.0), (30.0, 8.0), (45.0, 30.0)] {
            let timing = timing(angle, repetition);
            let range = T1::Between(Seconds(1.5), Seconds(8.0));
            let found = correction(&timing, range, T1::Known(Seconds(0.001)));
            let (factor, u) = (found.factor, found.effects[0].on_volatile);
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
    fn a_known_t1_leaves_nothing_open_but_for_an_unknown_timing() {
        let (slow, fast) = (T1::Known(Seconds(6.0)), T1::Known(Seconds(1.0)));
        let found = correction(&timing(90.0, 5.0), slow, fast);
        assert!((1.0 / found.factor - 0.5692).abs() < 1e-4, "as in the example of `correction`");
        assert!(found.effects.is_empty() && found.possible_percent == 0.0);
        let silent = Timing { repetition_known: false, ..timing(30.0, 4.0) };
        let open = correction(&silent, slow, fast);
        let reach = 1.96 * libm::hypot(open.effects[0].on_volatile, open.effects[1].on_product);
        assert!(open.factor * (1.0 - reach) < 1.0, "all may have been relaxed: {open:?}");
    }

    fn timing(angle: f64, repetition: f64) -> Timing {
        Timing {
            angle: Degrees(angle),
            repetition: Seconds(repetition),
            angle_known: true,
            repetition_known: true,
        }
    }
}
