//! Recordings of known content.
//!
//! A [`Recipe`] says what is in the tube and what goes wrong on the way; [`simulate`] gives the free induction
//! decay, the spectrum made from it, and the [`Truth`]. Everything follows from the recipe and its seed.
//!
//! One product proton has amplitude 1 at the start of the decay, and the spectrum is scaled to areas in
//! protons per hertz-integral before [`Output::counts`] turns it into digitiser counts.

mod amount;
mod compound;
mod envelope;
mod error;
mod fault;
mod filter;
mod instrument;
mod line;
mod noise;
mod recipe;
mod signal;
mod split;
mod synthesis;
mod system;
mod transform;
mod truth;
mod turn;

use lees_core::{Acquisition, Degrees, Fid, Megahertz, Nucleus, Ppm, Seconds, Spectrum};
use num_complex::Complex64;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

pub use compound::{Amount, Compound};
pub use envelope::{Foot, Shape, Spinning};
pub use error::RecipeError;
pub use fault::{Faults, Glitch, PhaseError, Receiver, Roll, Spike};
pub use instrument::Instrument;
pub use noise::Noise;
pub use recipe::{Output, OutputKind, Processing, Recipe};
pub use signal::{Deuterium, Signal};
pub use split::Split;
pub use truth::{Planted, Truth, TruthCompound, TruthLine};

/// What a recipe gives.
#[derive(Debug, Clone, PartialEq)]
pub struct Simulated {
    /// The decay as a receiver would deliver it.
    pub fid: Fid,
    /// The spectrum made from that decay with known phase, then spoiled as the recipe asks.
    pub spectrum: Spectrum,
    /// What is really there.
    pub truth: Truth,
}

/// Simulates one recipe; for many, keep a [`Simulator`].
///
/// # Errors
/// When the recipe contradicts itself: an amount or molar mass missing, an unknown coupling partner, or no points.
///
/// ```
/// use lees_spin::simulate::{Compound, Recipe, Signal, simulate};
/// let mut recipe = Recipe::default();
/// recipe.product = Some(Compound::new("dye").mass(300.0).signal(Signal::new(7.9, 1.0)));
/// recipe.volatile.push(Compound::new("dichloromethane").mass(84.93).wt(1.0).signal(Signal::new(5.30, 2.0)));
/// let made = simulate(&recipe).expect("a sound recipe");
/// let ratio = made.truth.volatiles[0].mole_ratio;
/// assert!((ratio - 0.01 * 300.0 / 0.99 / 84.93).abs() < 1e-9);
/// ```
pub fn simulate(recipe: &Recipe) -> Result<Simulated, RecipeError> {
    Simulator::default().run(recipe)
}

/// Simulates many recipes with one set of transform plans.
#[derive(Default)]
pub struct Simulator {
    transformer: transform::Transformer,
}

impl Simulator {
    /// Simulates one recipe.
    ///
    /// # Errors
    /// As [`simulate`].
    ///
    /// ```
    /// use lees_spin::simulate::{Compound, Recipe, Signal, Simulator};
    /// let dye = Compound::new("dye").mass(300.0).signal(Signal::new(7.9, 1.0));
    /// let recipe = Recipe { product: Some(dye), ..Recipe::default() };
    /// let mut simulator = Simulator::default();
    /// let made = simulator.run(&recipe).expect("a sound recipe");
    /// assert_eq!(made.spectrum, simulator.run(&recipe).expect("a sound recipe").spectrum);
    /// ```
    pub fn run(&mut self, recipe: &Recipe) -> Result<Simulated, RecipeError> {
        recipe.check()?;
        let mut random = ChaCha8Rng::seed_from_u64(recipe.seed);
        let contents = amount::contents(recipe)?;
        let lines = line::lines(recipe, &contents)?;
        let sigma = noise::time_sigma(recipe);
        let mut points = synthesis::decay(recipe, &line::seen(recipe, &contents, &lines.parents));
        fault::spoil_decay(&mut points, recipe);
        noise::add(&mut points, sigma, &mut random);
        let mut made = self.transformer.spectrum(recipe, &points);
        fault::spoil_spectrum(&mut made, recipe, &mut random);
        let sigma_made = noise::spectrum_sigma(recipe, sigma);
        let scale = recipe.output.scale(sigma_made);
        let spectrum = transform::dress(recipe, made, scale, acquisition(recipe))?;
        let fid = fid(recipe, points, recipe.output.scale(sigma));
        let truth = truth::truth(recipe, &contents, &lines, sigma_made * scale, scale);
        Ok(Simulated { fid, spectrum, truth })
    }
}

fn fid(recipe: &Recipe, points: Vec<Complex64>, scale: f64) -> Fid {
    Fid {
        points: points.into_iter().map(|z| recipe.output.rounded(z, scale)).collect(),
        dwell: Seconds(recipe.instrument.dwell()),
        carrier: Some(Ppm(recipe.instrument.carrier_ppm + recipe.faults.reference_error_ppm)),
        group_delay: recipe.instrument.group_delay,
        acquisition: acquisition(recipe),
    }
}

fn acquisition(recipe: &Recipe) -> Acquisition {
    let tube = &recipe.instrument;
    Acquisition {
        title: recipe.title.clone(),
        nucleus: Some(Nucleus::Proton),
        solvent: Some(tube.solvent.clone()),
        scans: tube.scans,
        relaxation_delay: tube.relaxation_delay_s.map(Seconds),
        acquisition_time: Some(Seconds(tube.acquisition_time())),
        pulse_angle: tube.pulse_angle_deg.map(Degrees),
        temperature_k: tube.temperature_k,
        ..Acquisition::at_field(Megahertz(tube.field_mhz))
    }
}
