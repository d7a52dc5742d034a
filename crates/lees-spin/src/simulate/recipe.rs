//! The recipe as a chemist writes it.

use num_complex::Complex64;
use serde::{Deserialize, Serialize};

use super::{Compound, Faults, Instrument, Noise, RecipeError, Shape};

/// How the spectrum is made from the decay.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Processing {
    /// Points of the spectrum after zero filling.
    pub points: usize,
    /// Exponential line broadening in hertz.
    pub lb_hz: f64,
}

impl Default for Processing {
    /// 64k points, 0.2 Hz.
    fn default() -> Self {
        Self { points: 65_536, lb_hz: 0.2 }
    }
}

/// What a file made from the recipe holds.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum OutputKind {
    /// The spectrum.
    #[default]
    Spectrum,
    /// The free induction decay.
    Fid,
}

/// How it is written.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Output {
    /// Spectrum or decay.
    pub kind: OutputKind,
    /// Whether the spectrum keeps its imaginary part.
    pub imaginary: bool,
    /// Noise standard deviation in digitiser counts, to which points are rounded; not rounded when absent.
    pub counts: Option<f64>,
}

impl Output {
    /// Factor that gives noise of standard deviation `sigma` the wanted counts.
    pub(crate) fn scale(&self, sigma: f64) -> f64 {
        self.counts.filter(|_| sigma > 0.0).map_or(1.0, |counts| counts / sigma)
    }

    /// A point in counts; adding zero turns -0 into 0.
    pub(crate) fn rounded(&self, z: Complex64, scale: f64) -> Complex64 {
        let z = z * scale;
        if self.counts.is_some() { Complex64::new(z.re.round() + 0.0, z.im.round() + 0.0) } else { z }
    }
}

/// What is in the tube, how it is measured and what goes wrong.
///
/// ```
/// use lees_spin::simulate::Recipe;
/// let recipe = Recipe::from_toml(r#"
///     title = "a dye, wet"
///     seed = 7
///     [noise]
///     snr = 800
///     [product]
///     name = "dye"
///     molar_mass = 300.0
///     signals = [{ at = 7.41, h = 1, split = "d 9.0" }, { at = 6.02, h = 1 }]
///     [[volatile]]
///     name = "2-propanol"
///     formula = "C3H8O"
///     wt_percent = 2.4
///     signals = [{ name = "CH", at = 4.04, h = 1 }, { at = 1.22, h = 6, with = { CH = 6.1 } }]
/// "#).expect("a recipe");
/// assert_eq!(recipe.volatile[0].signals.len(), 2);
/// let fault = Recipe::from_toml("title = \"x\"\nsede = 1\n").expect_err("a misspelt key");
/// assert!(fault.to_string().starts_with("line 2, column 1"), "{fault}");
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Recipe {
    /// Title of the recording.
    pub title: String,
    /// Seed of noise and baseline phases.
    pub seed: u64,
    /// Whether lines carry carbon-13 satellites.
    pub satellites: bool,
    /// The spectrometer.
    pub instrument: Instrument,
    /// From decay to spectrum.
    pub processing: Processing,
    /// Line shape common to all lines.
    pub shape: Shape,
    /// Noise.
    pub noise: Noise,
    /// Faults.
    pub faults: Faults,
    /// What a file holds.
    pub output: Output,
    /// The product; one mole of it is the unit of amount.
    pub product: Option<Compound>,
    /// Volatiles, counted in the sums.
    pub volatile: Vec<Compound>,
    /// Residual protons of the NMR solvent; not counted.
    pub nmr_solvent: Option<Compound>,
    /// Water; not counted.
    pub water: Option<Compound>,
    /// Others not counted: grease, silicone, TMS, broad humps of probe or polymer.
    pub other: Vec<Compound>,
    /// Impurities that no table knows; not counted.
    pub unknown: Vec<Compound>,
}

impl Default for Recipe {
    /// An empty tube at 400 MHz without noise or faults.
    fn default() -> Self {
        Self {
            title: String::new(),
            seed: 0,
            satellites: true,
            instrument: Instrument::default(),
            processing: Processing::default(),
            shape: Shape::default(),
            noise: Noise::default(),
            faults: Faults::default(),
            output: Output::default(),
            product: None,
            volatile: Vec::new(),
            nmr_solvent: None,
            water: None,
            other: Vec::new(),
            unknown: Vec::new(),
        }
    }
}

/// Most points of a spectrum.
const MOST_POINTS: usize = 1 << 23;

impl Recipe {
    /// Reads a recipe.
    ///
    /// # Errors
    /// [`RecipeError::Text`] with line and column for what is no recipe, the other kinds for values that make no sense.
    ///
    /// ```
    /// # use lees_spin::simulate::Recipe;
    /// assert_eq!(Recipe::from_toml("seed = 7").expect("the rest has defaults").seed, 7);
    /// let fault = Recipe::from_toml("sede = 7").expect_err("no such name");
    /// assert!(fault.to_string().contains("line 1"));
    /// ```
    pub fn from_toml(text: &str) -> Result<Self, RecipeError> {
        let recipe: Self = toml::from_str(text).map_err(|error| RecipeError::text(text, &error))?;
        recipe.check()?;
        Ok(recipe)
    }

    /// A small tube to try things on: a laser dye in CDCl3 at 400 MHz with 1.4 wt% 2-propanol and 0.3 wt% dichloromethane,
    /// signal to noise 1000.
    ///
    /// ```
    /// use lees_spin::simulate::{Recipe, simulate};
    /// let made = simulate(&Recipe::wet_dye()).expect("a sound recipe");
    /// assert_eq!(made.truth.volatiles[0].name, "2-propanol");
    /// assert_eq!(made.spectrum.real.len(), 32_768);
    /// ```
    #[must_use]
    pub fn wet_dye() -> Self {
        Self::from_toml(include_str!("wet_dye.toml")).unwrap_or_default()
    }

    /// Writes the recipe.
    ///
    /// # Errors
    /// When a number has no TOML form.
    ///
    /// ```
    /// # use lees_spin::simulate::Recipe;
    /// let text = Recipe::default().to_toml().expect("plain numbers");
    /// assert_eq!(Recipe::from_toml(&text).expect("its own text"), Recipe::default());
    /// ```
    pub fn to_toml(&self) -> Result<String, RecipeError> {
        toml::to_string(self).map_err(|error| RecipeError::Text {
            line: 1,
            column: 1,
            what: error.to_string(),
        })
    }

    /// Checks settings and signals; amounts are checked when the recipe is followed.
    ///
    /// # Errors
    /// Names the first value out of range.
    ///
    /// ```
    /// # use lees_spin::simulate::Recipe;
    /// let mut recipe = Recipe::default();
    /// assert!(recipe.check().is_ok());
    /// recipe.processing.points = 7;
    /// assert!(recipe.check().is_err());
    /// ```
    pub fn check(&self) -> Result<(), RecipeError> {
        self.instrument.check()?;
        let size = self.processing.points;
        if size < self.instrument.fid_points || size > MOST_POINTS || !size.is_multiple_of(2) {
            return Err(RecipeError::Setting {
                name: "processing.points",
                value: size as f64,
                allowed: "an even number from fid_points to 8388608",
            });
        }
        self.check_ranges()?;
        self.compounds().try_for_each(check_signals)
    }

    fn check_ranges(&self) -> Result<(), RecipeError> {
        let ranges = [
            ("processing.lb_hz", self.processing.lb_hz, 0.0, 1e4, "0 to 10000"),
            ("shape.natural_hz", self.shape.natural_hz, 1e-3, 1e4, "0.001 to 10000"),
            ("shape.gaussian_hz", self.shape.gaussian_hz, 0.0, 1e4, "0 to 10000"),
            ("noise.snr", self.noise.snr.unwrap_or(1.0), 1e-3, 1e12, "0.001 to 1e12"),
            ("output.counts", self.output.counts.unwrap_or(1.0), 1e-3, 1e9, "0.001 to 1e9"),
            ("faults.receiver.delay_points", self.faults.receiver.delay_points, -1.0, 1e3, "-1 to 1000"),
        ];
        for (name, value, low, high, allowed) in ranges {
            if !(low..=high).contains(&value) {
                return Err(RecipeError::Setting { name, value, allowed });
            }
        }
        Ok(())
    }

    /// Every compound.
    ///
    /// ```
    /// # use lees_spin::simulate::{Compound, Recipe};
    /// let recipe = Recipe { volatile: vec![Compound::new("acetone")], ..Recipe::default() };
    /// assert_eq!(recipe.compounds().count(), 1);
    /// ```
    pub fn compounds(&self) -> impl Iterator<Item = &Compound> {
        let one = self.product.iter().chain(&self.nmr_solvent).chain(&self.water);
        one.chain(&self.volatile).chain(&self.other).chain(&self.unknown)
    }
}

fn check_signals(compound: &Compound) -> Result<(), RecipeError> {
    for signal in &compound.signals {
        let fault = |what: String| {
            Err(RecipeError::compound(&compound.name, format!("signal `{}`: {what}", signal.label())))
        };
        if !signal.at.is_finite() {
            return fault("its shift is not finite".to_owned());
        }
        if !(signal.h > 0.0 && signal.h <= 1000.0) {
            return fault(format!("{} protons; allowed are more than 0 to 1000", signal.h));
        }
        if !(1..=1000).contains(&signal.parts) {
            return fault(format!("{} parts; allowed are 1 to 1000", signal.parts));
        }
        let each = signal.h / f64::from(signal.parts);
        if !signal.with.is_empty() && each.fract() != 0.0 {
            return fault(format!("`with` needs a whole number of protons a part, not {each}"));
        }
        if signal.width.is_some_and(|width| !(width > 0.0 && width <= 1e5)) {
            return fault("its width is not within 0 to 100000 Hz".to_owned());
        }
        if signal.t1.is_some_and(|t1| !(t1 > 0.0 && t1.is_finite())) {
            return fault("its T1 is not more than 0 s".to_owned());
        }
    }
    Ok(())
}
