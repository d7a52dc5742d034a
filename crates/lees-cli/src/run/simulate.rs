//! `lees simulate`.

use std::fmt::Display;

use lees_core::Measurement;
use lees_spin::simulate::{OutputKind, Recipe, Simulated, simulate as make};

use crate::args::{Encoding, SimulateArgs};
use crate::failure::{Ending, Failure};
use crate::place::place;
use crate::request::text_file;
use crate::{file_form, out};

/// Makes a spectrum or FID of known content.
pub(crate) fn simulate(args: &SimulateArgs) -> Result<Ending, Failure> {
    let at = |fault: &dyn Display| Failure::usage(format!("{}: {fault}", args.recipe.display()));
    let output = place(&args.output)?;
    let truth_place = args.truth.as_deref().map(place).transpose()?;
    let mut recipe = Recipe::from_toml(&text_file(&args.recipe)?).map_err(|fault| at(&fault))?;
    if let Some(seed) = args.seed {
        recipe.seed = seed;
    }
    let Simulated { fid, spectrum, truth } = make(&recipe).map_err(|fault| at(&fault))?;
    let measurement = match recipe.output.kind {
        OutputKind::Fid => Measurement::Fid(fid),
        OutputKind::Spectrum => Measurement::Spectrum(spectrum),
    };
    let history = vec![format!("simulated from a recipe with seed {}", recipe.seed)];
    let written = file_form::bytes(&measurement, &args.output, Encoding::default(), history)?;
    out::write_file(&output, &written.bytes)?;
    if let Some(path) = &truth_place {
        let text = truth.to_json().map_err(Failure::input)? + "\n";
        out::write_file(path, text.as_bytes())?;
    }
    Ok(Ending::Well)
}
