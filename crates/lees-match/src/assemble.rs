//! A result as far as it needs no more thought.

use lees_core::SettingMap;
use lees_core::check::{Check, Input, InputKind, LimitStatus, Provenance, Total, Verdict};
use lees_core::setting_list;
use lees_process::Processed;

use crate::finding::Findings;
use crate::reference::Settled;
use crate::settings::Settings;

/// Findings, axis and lines as a result; what takes more thought is left empty or undecided.
pub(crate) fn assemble(
    processed: &Processed,
    settled: &Settled<'_>,
    settings: &Settings,
    found: Findings,
) -> Check {
    let offset = settled.reference.as_ref().map_or(lees_core::Ppm(0.0), |r| r.applied);
    let mut spectrum = processed.spectrum.clone();
    spectrum.axis = settled.axis;
    let mut lines = processed.lines.clone();
    lines.iter_mut().for_each(|line| line.shift = line.shift + offset);
    let mut multiplets = processed.multiplets.clone();
    for multiplet in &mut multiplets {
        multiplet.shift = multiplet.shift + offset;
        multiplet.range.high = multiplet.range.high + offset;
        multiplet.range.low = multiplet.range.low + offset;
    }
    let mut warnings = processed.warnings.clone();
    warnings.extend(settled.warnings.iter().cloned());
    warnings.extend(found.warnings);
    Check {
        input: input(processed, settled),
        reference: settled.reference.clone(),
        product: None,
        volatiles: found.volatiles,
        total: Total { wt_percent: found.total, limit_wt_percent: None, status: LimitStatus::NoLimit },
        not_counted: found.not_counted,
        not_found: Vec::new(),
        unexplained: Vec::new(),
        purity: None,
        corrected_yield: None,
        verdict: Verdict::Undecided,
        reasons: Vec::new(),
        advice: Vec::new(),
        cautions: Vec::new(),
        warnings,
        settings: listed(settings),
        provenance: Provenance { version: String::new(), tables: String::new(), settings: String::new() },
        lines,
        multiplets,
        spectrum,
        noise: processed.noise.typical(),
    }
}

fn input(processed: &Processed, settled: &Settled<'_>) -> Input {
    let acquisition = &processed.spectrum.acquisition;
    Input {
        path: String::new(),
        title: acquisition.title.clone(),
        kind: if processed.kind == lees_process::InputKind::Fid {
            InputKind::Fid
        } else {
            InputKind::Spectrum
        },
        field: settled.axis.field(),
        solvent: settled.solvent.map(|s| s.name.clone()),
        points: settled.axis.points(),
        sha256: String::new(),
        acquisition: acquisition.clone(),
    }
}

/// The settings by name, each under `match.`.
fn listed(settings: &Settings) -> SettingMap {
    setting_list(settings).into_iter().map(|(name, value)| (format!("match.{name}"), value)).collect()
}
