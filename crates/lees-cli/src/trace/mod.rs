//! `--trace`: everything between the file and the verdict, to be looked at.

mod phase;
mod tables;

use std::path::Path;

use lees::{Traced, sha256};
use lees_report::figure::{FigureOptions, Steps, Svg, draw, png, steps};
use lees_report::json;
use serde_json::json;

use crate::failure::Failure;
use crate::out;

/// Longest name of a folder, in bytes: file systems allow 255.
const LONGEST_NAME: usize = 180;
/// Hexadecimal digits that tell folders apart whose names would be the same.
const MARK: usize = 8;
/// Dots an inch of the pictures to look at.
const SCREEN_DPI: f64 = 144.0;

/// Writes one spectrum's intermediates into a folder of its own below `folder`.
pub(crate) fn write(folder: &Path, traced: &Traced) -> Result<(), Failure> {
    let own = folder.join(folder_name(&traced.check.input.path));
    std::fs::create_dir_all(&own)
        .map_err(|fault| Failure::input(format!("{}: cannot make the folder: {fault}", own.display())))?;
    let text = |name: &str, text: String| out::write_file(&own.join(name), text.as_bytes());
    if let Some(phase) = phase::table(traced)? {
        text("phase.csv", phase)?;
        text("phase-lines.csv", phase::lines(traced)?)?;
    }
    text("spectrum.csv", tables::spectrum(traced)?)?;
    text("baseline.csv", tables::baseline(traced)?)?;
    text("lines.csv", tables::lines(&traced.check)?)?;
    text("multiplets.csv", tables::multiplets(&traced.check)?)?;
    text("windows.csv", tables::windows(&traced.check)?)?;
    text("settings.json", settings(traced)?)?;
    text("check.json", json::check(&traced.check) + "\n")?;
    let figure = draw(&[&traced.check], &FigureOptions::default()).map_err(Failure::input)?;
    picture(&own, "figure", figure)?;
    picture(&own, "steps", steps_figure(traced)?)
}

/// One picture to zoom and one to open anywhere.
fn picture(folder: &Path, name: &str, svg: Svg) -> Result<(), Failure> {
    let bitmap = png(&svg, SCREEN_DPI).map_err(Failure::input)?;
    out::write_file(&folder.join(format!("{name}.png")), &bitmap)?;
    out::write_file(&folder.join(format!("{name}.svg")), svg.into_string().as_bytes())
}

/// Raw spectrum and baseline, fitted lines, residual.
fn steps_figure(traced: &Traced) -> Result<Svg, Failure> {
    let processed = &traced.processed;
    let noise: Vec<f64> = (0..processed.baseline.len()).map(|i| processed.noise.sigma(i)).collect();
    let shown = Steps {
        baseline: processed.baseline.as_slice().unwrap_or_default(),
        model: processed.model.as_slice().unwrap_or_default(),
        noise: &noise,
    };
    steps(&traced.check, &shown).map_err(Failure::input)
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
            "pivot_index": known(processed.phase.pivot),
            "u_ph0_deg": known(processed.phase.u_ph0_deg),
            "u_ph1_deg": known(processed.phase.u_ph1_deg),
            "method": processed.phase.method,
            "applied": processed.phase.applied,
        },
        "noise": { "typical": check.noise },
        "line": { "full_width_hz": processed.shape.fwhm().0 },
        "settings": check.settings,
    });
    serde_json::to_string_pretty(&told).map(|text| text + "\n").map_err(Failure::input)
}

/// A folder's name from the path of an input: nothing in it leads out of the trace folder, and no two paths share one.
///
/// A path that is no plain name carries a part of its SHA-256, for `a/b` and `a_b` would else become the same.
fn folder_name(path: &str) -> String {
    let kept = |c: char| c.is_alphanumeric() || matches!(c, '.' | '-' | '_' | ' ');
    let plain: String = path.chars().map(|c| if kept(c) { c } else { '_' }).collect();
    let bare = plain.trim_start_matches(['.', '_', '-', ' ']).trim_end_matches(['.', ' ']);
    if bare.is_empty() {
        return "standard input".to_owned();
    }
    let from = bare.char_indices().map(|(at, _)| at).find(|at| bare.len() - at <= LONGEST_NAME);
    let name = &bare[from.unwrap_or(0)..];
    if name == path {
        return name.to_owned();
    }
    let mark: String = sha256(path.as_bytes()).chars().take(MARK).collect();
    format!("{name}-{mark}")
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn no_name_leads_out_of_the_folder() {
        assert!(folder_name("../../etc/passwd").starts_with("etc_passwd-"));
        assert!(folder_name("/a/b c.jdx").starts_with("a_b c.jdx-"));
        assert!(folder_name("rack.zip/f1/x.jdx#2").starts_with("rack.zip_f1_x.jdx_2-"));
        assert_eq!(folder_name("x.jdx"), "x.jdx");
        assert_eq!(folder_name("-"), "standard input");
        assert_eq!(folder_name(&"\u{e9}".repeat(500)).len(), LONGEST_NAME + 1 + MARK);
    }

    #[test]
    fn no_two_paths_share_a_folder() {
        let long = "x".repeat(300);
        let (a, b) = (format!("a{long}"), format!("b{long}"));
        let paths = ["a/b/c", "a_b/c", "a/b_c", "a_b_c", "/a/b/c", "../a/b/c", "a:b/c", "_a_b_c", &a, &b];
        let names: BTreeSet<String> = paths.iter().map(|path| folder_name(path)).collect();
        assert_eq!(names.len(), paths.len(), "{names:?}");
    }
}
