//! The simulator's own plain processing, with everything known.

use std::f64::consts::PI;

use lees_core::{Acquisition, Hertz, Megahertz, Ppm, ShiftAxis, Spectrum};
use lees_fourier::Plans;
use ndarray::Array1;
use num_complex::Complex64;

use super::turn::turn;
use super::{Recipe, RecipeError};

/// Time after the pulse in seconds and weight of every point of the decay.
///
/// Exponential line broadening from the pulse on, weight one before. Without a digital filter the first point counts half
/// (Otting, Widmer, Wagner, Wüthrich, J. Magn. Reson. 1986, 66, 187, from memory); behind one the step at the pulse is
/// half up already.
pub(crate) fn window(recipe: &Recipe) -> impl Iterator<Item = (f64, f64)> {
    let tube = &recipe.instrument;
    let (dwell, delay, rate) = (tube.dwell(), tube.group_delay, PI * recipe.processing.lb_hz);
    let ratio = libm::exp(-rate * dwell);
    let mut weight = 1.0;
    (0..tube.fid_points).map(move |n| {
        let time = (n as f64 - delay.unwrap_or(0.0)) * dwell;
        if time > 0.0 {
            weight = if weight == 1.0 { libm::exp(-rate * time) } else { weight * ratio };
        }
        let half = if n == 0 && delay.is_none() { 0.5 } else { 1.0 };
        (time, weight * half)
    })
}

/// Holds transform plans.
pub(crate) struct Transformer {
    plans: Plans,
}

impl Default for Transformer {
    fn default() -> Self {
        Self { plans: Plans::new() }
    }
}

impl Transformer {
    /// The phased spectrum, highest frequency first, areas in protons.
    pub(crate) fn spectrum(&mut self, recipe: &Recipe, points: &[Complex64]) -> Vec<Complex64> {
        let size = recipe.processing.points;
        let scale = 2.0 * recipe.instrument.dwell();
        let mut buffer: Vec<Complex64> =
            points.iter().zip(window(recipe)).map(|(z, (_, weight))| z * (weight * scale)).collect();
        buffer.resize(size, Complex64::new(0.0, 0.0));
        self.plans.forward(size).process(&mut buffer);
        let mut falling: Vec<Complex64> = (0..size).map(|i| buffer[(size + size / 2 - i) % size]).collect();
        let receiver = &recipe.faults.receiver;
        let late = recipe.instrument.group_delay.unwrap_or(0.0) - receiver.delay_points;
        let step = -2.0 * PI * late / size as f64;
        let first = -step * (size / 2) as f64 - receiver.phase_deg.to_radians();
        turn(&mut falling, first, step);
        falling
    }
}

/// The shift axis, with the recipe's reference error.
pub(crate) fn axis(recipe: &Recipe) -> Option<ShiftAxis> {
    let tube = &recipe.instrument;
    let size = recipe.processing.points;
    let step = tube.spectral_width_hz / size as f64;
    let field = Megahertz(tube.field_mhz);
    let at = |i: usize| {
        let offset = Hertz(((size / 2) as f64 - i as f64) * step);
        Ppm(tube.carrier_ppm + recipe.faults.reference_error_ppm) + offset.to_ppm(field)
    };
    ShiftAxis::new(at(0), at(size.checked_sub(1)?), size, field)
}

/// The spectrum as a value.
pub(crate) fn dress(
    recipe: &Recipe,
    made: Vec<Complex64>,
    scale: f64,
    acquisition: Acquisition,
) -> Result<Spectrum, RecipeError> {
    let axis = axis(recipe).ok_or(RecipeError::Setting {
        name: "instrument.carrier_ppm",
        value: recipe.instrument.carrier_ppm,
        allowed: "a finite shift",
    })?;
    let scaled: Vec<Complex64> = made.into_iter().map(|z| recipe.output.rounded(z, scale)).collect();
    let imaginary = recipe.output.imaginary.then(|| scaled.iter().map(|z| z.im).collect::<Array1<f64>>());
    Ok(Spectrum { axis, real: scaled.iter().map(|z| z.re).collect(), imaginary, acquisition })
}
