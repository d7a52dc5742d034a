//! White noise, and what it means in the spectrum.

use num_complex::Complex64;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use serde::{Deserialize, Serialize};

use super::{Recipe, transform};

/// How noisy the recording is.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Noise {
    /// Height of an isolated one-proton product singlet of the common width, over the standard deviation of a real
    /// point, in the spectrum as made by this recipe's processing. Noise-free when absent.
    pub snr: Option<f64>,
}

/// Height in the spectrum of an isolated one-proton line of the common width.
pub(crate) fn reference_height(recipe: &Recipe) -> f64 {
    let width = recipe.shape.natural_hz * std::f64::consts::PI;
    let sum: f64 = transform::window(recipe)
        .map(|(time, weight)| {
            // In filtered recordings the step at the pulse is half up already, and earlier points hold nothing.
            let step = if time < 0.0 { 0.0 } else { 1.0 };
            step * weight * libm::exp(-width * time) * recipe.shape.factor(time.max(0.0)).re
        })
        .sum();
    2.0 * recipe.instrument.dwell() * sum
}

/// Standard deviation of each part of a point of the decay, in product protons.
pub(crate) fn time_sigma(recipe: &Recipe) -> f64 {
    recipe.noise.snr.map_or(0.0, |snr| reference_height(recipe) / snr / spectrum_sigma(recipe, 1.0))
}

/// Standard deviation of a real point of the spectrum from that of the decay.
pub(crate) fn spectrum_sigma(recipe: &Recipe, time_sigma: f64) -> f64 {
    let squares: f64 = transform::window(recipe).map(|(_, weight)| weight * weight).sum();
    2.0 * recipe.instrument.dwell() * time_sigma * squares.sqrt()
}

/// Adds white noise to both parts.
pub(crate) fn add(points: &mut [Complex64], sigma: f64, random: &mut ChaCha8Rng) {
    if sigma > 0.0 {
        let mut draw = || {
            let value: f64 = StandardNormal.sample(random);
            value * sigma
        };
        points.iter_mut().for_each(|z| *z += Complex64::new(draw(), draw()));
    }
}
