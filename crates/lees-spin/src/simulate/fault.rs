//! What probe, receiver and operator do to a recording.

use lees_core::complex::polar;
use std::f64::consts::TAU;

use num_complex::Complex64;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use serde::{Deserialize, Serialize};

use super::turn::turn;
use super::{Recipe, noise, transform};

/// A phase error left in the spectrum: `ph0 + ph1 (k - pivot) / n` degrees at index k of n, high shift first.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct PhaseError {
    /// Zeroth order in degrees.
    pub ph0_deg: f64,
    /// First order in degrees across the spectrum.
    pub ph1_deg: f64,
    /// Where the first order is zero, in ppm; the carrier when absent.
    pub pivot_ppm: Option<f64>,
}

/// Phase and late start of the receiver; only the decay shows them, the spectrum is made with both undone.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Receiver {
    /// Receiver phase in degrees.
    pub phase_deg: f64,
    /// How late after the pulse the first point is taken, in points; leaves a rolling baseline.
    pub delay_points: f64,
}

/// A line at the carrier that no molecule gives.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Glitch {
    /// Area in product protons.
    pub area: f64,
    /// Full width at half height in hertz.
    pub width_hz: f64,
    /// Phase in degrees.
    pub phase_deg: f64,
}

/// A single wrong point of the spectrum.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Spike {
    /// Shift in ppm.
    pub at: f64,
    /// Height relative to an isolated one-proton product singlet.
    pub height: f64,
}

/// A slow wave under the spectrum: three cosines of up to `periods` periods, phases from the seed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Roll {
    /// Largest height relative to an isolated one-proton product singlet.
    pub height: f64,
    /// Periods of the fastest cosine across the spectrum.
    pub periods: f64,
}

/// All faults; none by default.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Faults {
    /// Phase error left in the spectrum.
    pub phase: PhaseError,
    /// Phase and late start of the receiver.
    pub receiver: Receiver,
    /// Factors on the first points after the pulse.
    pub first_points: Vec<f64>,
    /// Constant offset of the decay, real and imaginary, in product protons.
    pub dc: [f64; 2],
    /// A line at the carrier.
    pub glitch: Option<Glitch>,
    /// Single wrong points.
    pub spikes: Vec<Spike>,
    /// A rolling baseline.
    pub roll: Option<Roll>,
    /// How far the axis lies too high, in ppm.
    pub reference_error_ppm: f64,
}

/// Shares of the fastest cosine's periods that the three cosines have.
const ROLL_PERIODS: [f64; 3] = [0.35, 0.7, 1.0];

/// Faults of the receiver.
pub(crate) fn spoil_decay(points: &mut [Complex64], recipe: &Recipe) {
    let faults = &recipe.faults;
    let pulse = recipe.instrument.group_delay.map_or(0, |delay| delay.floor() as usize);
    points.iter_mut().skip(pulse).zip(&faults.first_points).for_each(|(z, factor)| *z *= factor);
    let dc = Complex64::new(faults.dc[0], faults.dc[1]);
    let glitch = faults.glitch.unwrap_or(Glitch { area: 0.0, width_hz: 0.0, phase_deg: 0.0 });
    let step = libm::exp(-std::f64::consts::PI * glitch.width_hz * recipe.instrument.dwell());
    let mut line = polar(glitch.area, glitch.phase_deg.to_radians());
    for z in points.iter_mut().skip(pulse) {
        *z += dc + line;
        line *= step;
    }
}

/// Faults of processing and probe in the spectrum.
pub(crate) fn spoil_spectrum(made: &mut [Complex64], recipe: &Recipe, random: &mut ChaCha8Rng) {
    plant_phase(made, recipe);
    let unit = noise::reference_height(recipe);
    if let Some(roll) = recipe.faults.roll {
        let phases: Vec<f64> = ROLL_PERIODS.iter().map(|_| random.random::<f64>() * TAU).collect();
        let size = made.len() as f64;
        for (k, z) in made.iter_mut().enumerate() {
            let place = TAU * roll.periods * k as f64 / size;
            let waves =
                ROLL_PERIODS.iter().zip(&phases).map(|(share, phase)| libm::cos(place * share + phase));
            z.re += roll.height * unit * waves.sum::<f64>() / ROLL_PERIODS.len() as f64;
        }
    }
    let Some(axis) = transform::axis(recipe) else { return };
    for spike in &recipe.faults.spikes {
        made[axis.nearest(lees_core::Ppm(spike.at))].re += spike.height * unit;
    }
}

fn plant_phase(made: &mut [Complex64], recipe: &Recipe) {
    let phase = recipe.faults.phase;
    if phase.ph0_deg == 0.0 && phase.ph1_deg == 0.0 {
        return;
    }
    let step = phase.ph1_deg.to_radians() / made.len() as f64;
    turn(made, phase.ph0_deg.to_radians() - step * pivot_index(recipe), step);
}

/// Index of the pivot of the planted phase.
pub(crate) fn pivot_index(recipe: &Recipe) -> f64 {
    let size = recipe.processing.points as f64;
    let offset = recipe.faults.phase.pivot_ppm.map_or(0.0, |ppm| recipe.instrument.offset(ppm));
    size / 2.0 - offset * size / recipe.instrument.spectral_width_hz
}
