//! All lines of the tube, in hertz from the carrier.

use lees_core::Megahertz;

use super::amount::Content;
use super::system::system;
use super::{Recipe, RecipeError, Signal};
use crate::{Method, Transition};

/// Natural abundance of carbon-13 (IUPAC representative isotopic composition, from memory).
const CARBON_13: f64 = 0.0107;

/// How far a satellite pair's centre lies upfield of its parent, in ppm: a few ppb, common practice.
const ISOTOPE_SHIFT: f64 = 0.002;

/// Lines weaker than this (product protons) get no satellites: those would be far under any noise.
const FAINT_PARENT: f64 = 1e-4;

/// A wandering line is spread over copies this far apart, as a share of its width.
const WANDER_STEP: f64 = 0.25;

/// Most copies of a wandering line.
const MOST_COPIES: f64 = 200.0;

/// A line with the molecule it comes from.
#[derive(Debug, Clone, Copy)]
pub(crate) struct SimLine {
    /// Hertz above the carrier.
    pub(crate) offset: f64,
    /// Protons per mole of product, saturation included.
    pub(crate) amplitude: f64,
    /// Natural full width at half height in hertz.
    pub(crate) width: f64,
    /// Index of the content.
    pub(crate) content: usize,
    /// Index of the signal.
    pub(crate) signal: usize,
}

/// Every line of every compound.
#[derive(Debug, Clone)]
pub(crate) struct Lines {
    /// One line a transition, before satellites and wandering.
    pub(crate) parents: Vec<SimLine>,
    /// The least exact method used.
    pub(crate) method: Method,
}

/// The transitions of all compounds at this field.
pub(crate) fn lines(recipe: &Recipe, contents: &[Content<'_>]) -> Result<Lines, RecipeError> {
    let mut all = Lines { parents: Vec::new(), method: Method::Exact };
    for (index, content) in contents.iter().enumerate().filter(|(_, content)| content.moles > 0.0) {
        let solved = system(content.compound)?.solve(Megahertz(recipe.instrument.field_mhz));
        all.method = all.method.max(solved.method);
        all.parents.extend(solved.transitions.iter().map(|transition| {
            let signal = &content.compound.signals[transition.group];
            parent(recipe, content.moles, signal, transition, index)
        }));
    }
    Ok(all)
}

fn parent(recipe: &Recipe, moles: f64, signal: &Signal, transition: &Transition, content: usize) -> SimLine {
    let protons = transition.intensity * signal.h / f64::from(signal.spins());
    SimLine {
        offset: recipe.instrument.offset(transition.shift.0),
        amplitude: moles * protons * recipe.instrument.saturation(signal.t1),
        width: signal.width.unwrap_or(recipe.shape.natural_hz),
        content,
        signal: transition.group,
    }
}

/// What the receiver sees of the parents: satellites split off, wandering lines spread.
pub(crate) fn seen(recipe: &Recipe, contents: &[Content<'_>], parents: &[SimLine]) -> Vec<SimLine> {
    let mut out = Vec::with_capacity(3 * parents.len());
    for line in parents {
        let signal = &contents[line.content].compound.signals[line.signal];
        let coupling = if recipe.satellites { signal.carbon_coupling() } else { 0.0 };
        for line in spread(*line, signal.wander) {
            push_with_satellites(line, coupling, recipe.instrument.field_mhz, &mut out);
        }
    }
    out
}

/// A satellite pair each holds half of the carbon-13 share; the pattern within is taken as the parent's.
fn push_with_satellites(line: SimLine, coupling: f64, field_mhz: f64, out: &mut Vec<SimLine>) {
    if coupling == 0.0 || line.amplitude < FAINT_PARENT {
        out.push(line);
        return;
    }
    let centre = line.offset - ISOTOPE_SHIFT * field_mhz;
    out.push(SimLine { amplitude: line.amplitude * (1.0 - CARBON_13), ..line });
    for side in [0.5, -0.5] {
        let amplitude = line.amplitude * CARBON_13 / 2.0;
        out.push(SimLine { offset: centre + side * coupling, amplitude, ..line });
    }
}

fn spread(line: SimLine, wander: f64) -> impl Iterator<Item = SimLine> {
    let step = WANDER_STEP * line.width.max(f64::MIN_POSITIVE);
    let copies = (wander.abs() / step).ceil().clamp(1.0, MOST_COPIES);
    (0..copies as usize).map(move |k| {
        let place = (k as f64 + 0.5) / copies - 0.5;
        SimLine { offset: line.offset + place * wander, amplitude: line.amplitude / copies, ..line }
    })
}
