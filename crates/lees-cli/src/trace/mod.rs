//! `--trace`: everything between the file and the verdict, to be looked at.

mod tables;

use std::path::Path;

use lees::Traced;
use lees_report::figure::{FigureOptions, Steps, draw, steps};
use lees_report::json;
use serde_json::json;

use crate::failure::Failure;
use crate::out;

/// Longest name of a folder, in bytes: file systems allow 255.
const LONGEST_NAME: usize = 180;

/// Writes one spectrum's intermediates into a folder of its own below `folder`.
pub(crate) fn write(folder: &Path, traced: &Traced) -> Result<(), Failure> {
    let own = folder.join(folder_name(&traced.check.input.path));
    std::fs::create_dir_all(&own)
        .map_err(|fault| Failure::input(format!("{}: cannot make the folder: {fault}", own.display())))?;
    let text = |name: &str, text: String| out::write_file(&own.join(name), text.as_bytes());
    text("spectrum.csv", tables::spectrum(traced)?)?;
    text("baseline.csv", tables::baseline(traced)?)?;
    text("lines.csv", tables::lines(&traced.check)?)?;
    text("multiplets.csv", tables::multiplets(&traced.check)?)?;
    text("windows.csv", tables::windows(&traced.check)?)?;
    text("settings.json", settings(traced)?)?;
    text("check.json", json::check(&traced.check) + "\n")?;
    let figure = draw(&[&traced.check], &FigureOptions::default()).map_err(Failure::input)?;
    text("figure.svg", figure.into_string())?;
    text("steps.svg", steps_figure(traced)?)
}

/// Raw spectrum and baseline, fitted lines, residual.
fn steps_figure(traced: &Traced) -> Result<String, Failure> {
    let processed = &traced.processed;
    let noise: Vec<f64> = (0..processed.baseline.len()).map(|i| processed.noise.sigma(i)).collect();
    let shown = Steps {
        baseline: processed.baseline.as_slice().unwrap_or_default(),
        model: processed.model.as_slice().unwrap_or_default(),
        noise: &noise,
    };
    Ok(steps(&traced.check, &shown).map_err(Failure::input)?.into_string())
}

/// Settings, provenance, and what processing found out about phase, noise and line shape.
fn settings(traced: &Traced) -> Result<String, Failure> {
    let (check, processed) = (&traced.check, &traced.processed);
    let known = |value: f64| value.is_finite().then_some(value);
    let told = json!({
        "path": check.input.path,
        "sha256": check.input.sha256,
        "provenance": check.provenance,
        "reference": check.reference,
        "phase": {
            "ph0_deg": known(processed.phase.ph0_deg),
            "ph1_deg": known(processed.phase.ph1_deg),
            "u_ph0_deg": known(processed.phase.u_ph0_deg),
            "applied": processed.phase.applied,
        },
        "noise": { "typical": check.noise },
        "line": { "full_width_hz": processed.shape.fwhm().0 },
        "settings": check.settings,
    });
    serde_json::to_string_pretty(&told).map(|text| text + "\n").map_err(Failure::input)
}

/// A folder's name from the path of an input: nothing in it leads out of the trace folder.
fn folder_name(path: &str) -> String {
    let kept = |c: char| c.is_alphanumeric() || matches!(c, '.' | '-' | '_' | ' ');
    let plain: String = path.chars().map(|c| if kept(c) { c } else { '_' }).collect();
    let bare = plain.trim_start_matches(['.', '_', '-', ' ']).trim_end_matches(['.', ' ']);
    let from = bare.char_indices().map(|(at, _)| at).find(|at| bare.len() - at <= LONGEST_NAME);
    match &bare[from.unwrap_or(0)..] {
        "" => "standard input".to_owned(),
        name => name.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_name_leads_out_of_the_folder() {
        assert_eq!(folder_name("../../etc/passwd"), "etc_passwd");
        assert_eq!(folder_name("/a/b c.jdx"), "a_b c.jdx");
        assert_eq!(folder_name("rack.zip/f1/x.jdx#2"), "rack.zip_f1_x.jdx_2");
        assert_eq!(folder_name("-"), "standard input");
        assert_eq!(folder_name(&"\u{e9}".repeat(500)).len(), LONGEST_NAME);
    }
}
