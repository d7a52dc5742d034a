//! What was weighed, from flags.

use std::borrow::Cow;
use std::path::Path;

use lees::Crude;
use lees_match::standard::{InternalStandard, WeighedSettings, Weighing};
use lees_match::table::Tables;

use super::text_file;
use crate::args::WeighedArgs;
use crate::failure::Failure;

/// A purity of 1 per cent or less is a mass fraction written in the wrong unit.
const LEAST_PURITY: f64 = 1.0;

/// The internal standard's name; a file of its own adds its rows to the tables.
pub(crate) fn standard_name(
    args: &WeighedArgs,
    tables: &mut Cow<'static, Tables>,
) -> Result<Option<String>, Failure> {
    let Some(named) = &args.standard else { return Ok(None) };
    let name = match named.to_ascii_lowercase().ends_with(".csv") {
        true => from_file(Path::new(named), tables)?,
        false => named.clone(),
    };
    let standard =
        tables.require_standard(&name).map_err(|fault| Failure::usage(format!("--standard: {fault}")))?;
    Ok(Some(standard.name.clone()))
}

/// The internal standard with its masses.
pub(crate) fn standard(
    args: &WeighedArgs,
    name: Option<String>,
    assumed: &WeighedSettings,
) -> Result<Option<InternalStandard>, Failure> {
    let (Some(name), Some(standard_mg), Some(sample_mg)) = (name, args.standard_mass, args.sample_mass)
    else {
        return Ok(None);
    };
    let percent = args.standard_purity;
    if !(percent > LEAST_PURITY && percent <= 100.0) {
        return Err(Failure::usage(format!(
            "--standard-purity {percent}: must be over {LEAST_PURITY} to 100, in per cent by mass"
        )));
    }
    let weighing = Weighing::of(
        positive("--standard-mass", standard_mg, "mg")?,
        positive("--sample-mass", sample_mg, "mg")?,
        percent,
        assumed,
    );
    weighing.check().map_err(|fault| Failure::usage(format!("--standard: {fault}")))?;
    Ok(Some(InternalStandard { name, weighing }))
}

/// The name of the one standard in a file, whose rows are added to the tables.
fn from_file(path: &Path, tables: &mut Cow<'static, Tables>) -> Result<String, Failure> {
    let (text, file) = (text_file(path)?, path.display().to_string());
    *tables = Cow::Owned(tables.with_standards(&text, &file).map_err(Failure::usage)?);
    let mut names = compounds(&text);
    names.dedup();
    match names.as_slice() {
        [only] => Ok(only.clone()),
        [] => Err(Failure::usage(format!("--standard {file}: holds no standard"))),
        several => Err(Failure::usage(format!(
            "--standard {file}: holds several standards ({}); give a file with one",
            several.join(", ")
        ))),
    }
}

/// The cells of the column `compound` of a table that was read before.
fn compounds(text: &str) -> Vec<String> {
    let bare = text.trim_start_matches('\u{feff}');
    let mut reader =
        csv::ReaderBuilder::new().trim(csv::Trim::All).comment(Some(b'#')).from_reader(bare.as_bytes());
    let at = reader.headers().ok().and_then(|header| header.iter().position(|cell| cell == "compound"));
    let rows = reader.records().filter_map(Result::ok);
    rows.filter_map(|row| Some(row.get(at?)?.to_owned())).collect()
}

/// The mass of the whole batch.
pub(crate) fn crude(args: &WeighedArgs) -> Result<Option<Crude>, Failure> {
    let Some(mass) = args.mass else { return Ok(None) };
    let theoretical_g = args.theoretical.map(|mass| positive("--theoretical", mass, "g")).transpose()?;
    Ok(Some(Crude { mass_g: positive("--mass", mass, "g")?, theoretical_g }))
}

fn positive(flag: &str, value: f64, unit: &str) -> Result<f64, Failure> {
    if value.is_finite() && value > 0.0 {
        return Ok(value);
    }
    Err(Failure::usage(format!("{flag} {value}: must be above 0 {unit}")))
}
