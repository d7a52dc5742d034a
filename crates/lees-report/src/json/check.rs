//! The whole check as it is written.

use serde::Serialize;

use lees_core::SettingMap;
use lees_core::check::{
    AbsolutePurity, Check, Contribution, CorrectedYield, Input, InputKind, LimitStatus, NotFound,
    ProductFound, ProductSignal, Provenance, Reference, SignalState, Total, Verdict,
};

use super::finding::{FindingOut, UnexplainedOut, high, low, value};

#[derive(Serialize)]
pub(super) struct CheckOut<'a> {
    schema: &'static str,
    input: InputOut<'a>,
    reference: Option<ReferenceOut<'a>>,
    product: Option<ProductOut<'a>>,
    volatiles: Vec<FindingOut<'a>>,
    total: TotalOut,
    not_counted: Vec<FindingOut<'a>>,
    not_found: &'a [NotFound],
    unexplained: Vec<UnexplainedOut<'a>>,
    purity: Option<PurityOut<'a>>,
    corrected_yield: Option<&'a CorrectedYield>,
    verdict: Verdict,
    reasons: &'a [String],
    advice: &'a [String],
    cautions: &'a [String],
    warnings: &'a [String],
    settings: &'a SettingMap,
    provenance: &'a Provenance,
}

impl<'a> CheckOut<'a> {
    pub(super) fn new(check: &'a Check) -> Self {
        Self {
            schema: super::CHECK_SCHEMA,
            input: InputOut::new(&check.input),
            reference: check.reference.as_ref().map(ReferenceOut::new),
            product: check.product.as_ref().map(ProductOut::new),
            volatiles: check.volatiles.iter().map(FindingOut::new).collect(),
            total: TotalOut::new(&check.total),
            not_counted: check.not_counted.iter().map(FindingOut::not_counted).collect(),
            not_found: &check.not_found,
            unexplained: check.unexplained.iter().map(UnexplainedOut::new).collect(),
            purity: check.purity.as_ref().map(PurityOut::new),
            corrected_yield: check.corrected_yield.as_ref(),
            verdict: check.verdict,
            reasons: &check.reasons,
            advice: &check.advice,
            cautions: &check.cautions,
            warnings: &check.warnings,
            settings: &check.settings,
            provenance: &check.provenance,
        }
    }
}

#[derive(Serialize)]
struct InputOut<'a> {
    path: &'a str,
    title: &'a str,
    kind: InputKind,
    field_mhz: f64,
    solvent: Option<&'a str>,
    points: usize,
    sha256: &'a str,
    scans: Option<u32>,
    repetition_time_s: Option<f64>,
    pulse_angle_degrees: Option<f64>,
    temperature_k: Option<f64>,
}

impl<'a> InputOut<'a> {
    fn new(input: &'a Input) -> Self {
        Self {
            path: &input.path,
            title: &input.title,
            kind: input.kind,
            field_mhz: input.field.0,
            solvent: input.solvent.as_deref(),
            points: input.points,
            sha256: &input.sha256,
            scans: input.acquisition.scans,
            repetition_time_s: input.acquisition.repetition_time().map(|t| t.0),
            pulse_angle_degrees: input.acquisition.pulse_angle.map(|a| a.0),
            temperature_k: input.acquisition.temperature_k,
        }
    }
}

#[derive(Serialize)]
struct ReferenceOut<'a> {
    signal: &'a str,
    observed_ppm: f64,
    expected_ppm: f64,
    applied_ppm: f64,
}

impl<'a> ReferenceOut<'a> {
    fn new(reference: &'a Reference) -> Self {
        Self {
            signal: &reference.signal,
            observed_ppm: reference.observed.0,
            expected_ppm: reference.expected.0,
            applied_ppm: reference.applied.0,
        }
    }
}

#[derive(Serialize)]
struct ProductOut<'a> {
    name: &'a str,
    formula: Option<String>,
    molar_mass: f64,
    relative_u: Option<f64>,
    signals: Vec<ProductSignalOut<'a>>,
}

impl<'a> ProductOut<'a> {
    fn new(product: &'a ProductFound) -> Self {
        Self {
            name: &product.name,
            formula: product.formula.as_ref().map(ToString::to_string),
            molar_mass: product.molar_mass,
            relative_u: product.relative_u,
            signals: product.signals.iter().map(ProductSignalOut::new).collect(),
        }
    }
}

#[derive(Serialize)]
struct ProductSignalOut<'a> {
    range_ppm: [f64; 2],
    text: &'a str,
    protons: f64,
    found_protons: Option<f64>,
    found_protons_low: Option<f64>,
    found_protons_high: Option<f64>,
    used: bool,
    state: SignalState,
    note: Option<&'a str>,
}

impl<'a> ProductSignalOut<'a> {
    fn new(signal: &'a ProductSignal) -> Self {
        Self {
            range_ppm: [signal.range.high.0, signal.range.low.0],
            text: &signal.text,
            protons: signal.protons,
            found_protons: value(signal.found_protons),
            found_protons_low: low(signal.found_protons),
            found_protons_high: high(signal.found_protons),
            used: signal.used,
            state: signal.state,
            note: signal.note.as_deref(),
        }
    }
}

#[derive(Serialize)]
struct TotalOut {
    wt_percent: Option<f64>,
    wt_percent_low: Option<f64>,
    wt_percent_high: Option<f64>,
    limit_wt_percent: Option<f64>,
    status: LimitStatus,
}

impl TotalOut {
    fn new(total: &Total) -> Self {
        Self {
            wt_percent: value(total.wt_percent),
            wt_percent_low: low(total.wt_percent),
            wt_percent_high: high(total.wt_percent),
            limit_wt_percent: total.limit_wt_percent,
            status: total.status,
        }
    }
}

#[derive(Serialize)]
struct PurityOut<'a> {
    standard: &'a str,
    standard_signal: &'a str,
    wt_percent: f64,
    wt_percent_low: f64,
    wt_percent_high: f64,
    budget: &'a [Contribution],
}

impl<'a> PurityOut<'a> {
    fn new(purity: &'a AbsolutePurity) -> Self {
        Self {
            standard: &purity.standard,
            standard_signal: &purity.standard_signal,
            wt_percent: purity.wt_percent.value,
            wt_percent_low: purity.wt_percent.low,
            wt_percent_high: purity.wt_percent.high,
            budget: &purity.budget,
        }
    }
}
