//! The tables of a trace, as CSV with units in the header.

use lees::Traced;
use lees_core::ShiftRange;
use lees_core::check::{Check, Finding};

use crate::failure::Failure;

/// Every point: shift, intensity, baseline that was removed, fitted lines, residual, local noise.
pub(super) fn spectrum(traced: &Traced) -> Result<String, Failure> {
    let (spectrum, processed) = (&traced.check.spectrum, &traced.processed);
    let header = ["shift_ppm", "intensity", "baseline", "model", "residual", "noise"];
    let points = spectrum.real.iter().zip(&processed.baseline).zip(&processed.model).enumerate();
    let rows = points.map(|(i, ((y, baseline), model))| {
        let numbers = [*y, *baseline, *model, y - model, processed.noise.sigma(i)];
        std::iter::once(shift(spectrum.axis.shift(i).0)).chain(numbers.map(|n| n.to_string())).collect()
    });
    csv(&header, rows)
}

/// Every point before and after the baseline was removed.
pub(super) fn baseline(traced: &Traced) -> Result<String, Failure> {
    let spectrum = &traced.check.spectrum;
    let points = spectrum.real.iter().zip(&traced.processed.baseline).enumerate();
    let rows = points.map(|(i, (y, baseline))| {
        vec![shift(spectrum.axis.shift(i).0), (y + baseline).to_string(), baseline.to_string()]
    });
    csv(&["shift_ppm", "raw", "baseline"], rows)
}

/// Every fitted line.
pub(super) fn lines(check: &Check) -> Result<String, Failure> {
    let header = [
        "line",
        "shift_ppm",
        "shift_u_ppm",
        "width_hz",
        "height",
        "area",
        "area_u",
        "kind",
        "parent_line",
        "profile",
    ];
    let rows = check.lines.iter().enumerate().map(|(k, line)| {
        vec![
            k.to_string(),
            shift(line.shift.0),
            line.shift_u.0.to_string(),
            line.width.0.to_string(),
            line.height.to_string(),
            line.area.to_string(),
            line.area_u.to_string(),
            word(&line.kind),
            line.parent.map_or_else(String::new, |parent| parent.to_string()),
            word(&line.profile),
        ]
    });
    csv(&header, rows)
}

/// Every multiplet with its couplings and lines.
pub(super) fn multiplets(check: &Check) -> Result<String, Failure> {
    let header = ["shift_ppm", "high_ppm", "low_ppm", "pattern", "couplings_hz", "area", "area_u", "lines"];
    let rows = check.multiplets.iter().map(|multiplet| {
        let couplings = multiplet.couplings.iter().map(|(j, u)| format!("{:.3}({:.3})", j.0, u.0));
        let lines = multiplet.lines.iter().map(usize::to_string);
        vec![
            shift(multiplet.shift.0),
            shift(multiplet.range.high.0),
            shift(multiplet.range.low.0),
            multiplet.multiplicity.to_string(),
            couplings.collect::<Vec<_>>().join(" "),
            multiplet.area.to_string(),
            multiplet.area_u.to_string(),
            lines.collect::<Vec<_>>().join(" "),
        ]
    });
    csv(&header, rows)
}

/// Every stretch that was measured: whose it is, what was found, whether it counted and why not.
pub(super) fn windows(check: &Check) -> Result<String, Failure> {
    let header = ["high_ppm", "low_ppm", "part", "whose", "signal", "protons", "area", "used", "note"];
    let mut rows = product_windows(check);
    let others = check.not_counted.iter().map(|entry| ("not counted", &entry.finding));
    let found = check.volatiles.iter().map(|finding| ("volatile", finding)).chain(others);
    rows.extend(found.flat_map(|(part, finding)| finding_windows(part, finding)));
    rows.extend(check.unexplained.iter().map(|signal| {
        let mut row = ends(signal.range);
        row.extend(["unexplained", "", &signal.multiplicity.to_string(), ""].map(str::to_owned));
        row.extend([signal.area.to_string(), String::new(), signal.note.clone().unwrap_or_default()]);
        row
    }));
    csv(&header, rows)
}

fn product_windows(check: &Check) -> Vec<Vec<String>> {
    let Some(product) = &check.product else { return Vec::new() };
    let windows = product.signals.iter().map(|signal| {
        let area = signal.found_protons.zip(product.area_per_proton).map(|(n, one)| n.value * one);
        let mut row = ends(signal.range);
        row.extend(["product".to_owned(), product.name.clone(), signal.text.clone()]);
        row.extend([signal.protons.to_string(), number(area), signal.used.to_string()]);
        row.push(signal.note.clone().unwrap_or_default());
        row
    });
    windows.collect()
}

fn finding_windows(part: &str, finding: &Finding) -> Vec<Vec<String>> {
    let windows = finding.signals.iter().map(|signal| {
        let mut row = ends(signal.range);
        row.extend([part, &finding.name, &signal.group].map(str::to_owned));
        row.extend([number(signal.protons), number(signal.area), signal.used.to_string()]);
        row.push(signal.note.clone().unwrap_or_default());
        row
    });
    windows.collect()
}

fn ends(range: ShiftRange) -> Vec<String> {
    vec![shift(range.high.0), shift(range.low.0)]
}

/// Finer than any line: a hundredth of a hertz at 1 GHz is 1e-5 ppm.
pub(super) fn shift(ppm: f64) -> String {
    format!("{ppm:.6}")
}

fn number(value: Option<f64>) -> String {
    value.map_or_else(String::new, |value| value.to_string())
}

/// A name as the JSON output writes it.
fn word(name: &impl serde::Serialize) -> String {
    serde_json::to_value(name).ok().and_then(|v| v.as_str().map(str::to_owned)).unwrap_or_default()
}

pub(super) fn csv(header: &[&str], rows: impl IntoIterator<Item = Vec<String>>) -> Result<String, Failure> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(header).map_err(Failure::input)?;
    for row in rows {
        writer.write_record(&row).map_err(Failure::input)?;
    }
    let bytes = writer.into_inner().map_err(Failure::input)?;
    String::from_utf8(bytes).map_err(Failure::input)
}
