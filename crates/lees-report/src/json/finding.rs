//! Compounds and signals as they are written.

use serde::Serialize;

use lees_core::check::{
    Contribution, Estimate, Finding, FoundSignal, LimitStatus, NotCounted, Rival, Unexplained,
};

#[derive(Serialize)]
pub(super) struct FindingOut<'a> {
    name: &'a str,
    cas: Option<&'a str>,
    molar_mass: Option<f64>,
    mole_ratio: Option<f64>,
    mole_ratio_low: Option<f64>,
    mole_ratio_high: Option<f64>,
    mol_percent: Option<f64>,
    mol_percent_low: Option<f64>,
    mol_percent_high: Option<f64>,
    wt_percent: Option<f64>,
    wt_percent_low: Option<f64>,
    wt_percent_high: Option<f64>,
    wt_percent_u: Option<f64>,
    detection_limit_wt_percent: Option<f64>,
    limit_wt_percent: Option<f64>,
    status: LimitStatus,
    conformance: Option<f64>,
    signals: Vec<SignalOut<'a>>,
    evidence: f64,
    rivals: Vec<RivalOut<'a>>,
    budget: &'a [Contribution],
    #[serde(skip_serializing_if = "Option::is_none")]
    why: Option<&'a str>,
}

impl<'a> FindingOut<'a> {
    pub(super) fn new(finding: &'a Finding) -> Self {
        let (ratio, mol, wt) = (finding.mole_ratio, finding.mol_percent, finding.wt_percent);
        Self {
            name: &finding.name,
            cas: finding.cas.as_deref(),
            molar_mass: finding.molar_mass,
            mole_ratio: value(ratio),
            mole_ratio_low: low(ratio),
            mole_ratio_high: high(ratio),
            mol_percent: value(mol),
            mol_percent_low: low(mol),
            mol_percent_high: high(mol),
            wt_percent: value(wt),
            wt_percent_low: low(wt),
            wt_percent_high: high(wt),
            wt_percent_u: wt.map(|e| e.u),
            detection_limit_wt_percent: finding.detection_limit_wt_percent,
            limit_wt_percent: finding.limit_wt_percent,
            status: finding.status,
            conformance: finding.conformance,
            signals: finding.signals.iter().map(SignalOut::new).collect(),
            evidence: finding.evidence,
            rivals: finding.rivals.iter().map(RivalOut::new).collect(),
            budget: &finding.budget,
            why: None,
        }
    }

    pub(super) fn not_counted(entry: &'a NotCounted) -> Self {
        Self { why: Some(&entry.why), ..Self::new(&entry.finding) }
    }
}

#[derive(Serialize)]
struct SignalOut<'a> {
    group: &'a str,
    ppm: f64,
    range_ppm: [f64; 2],
    protons: Option<f64>,
    multiplicity: String,
    used: bool,
    note: Option<&'a str>,
}

impl<'a> SignalOut<'a> {
    fn new(signal: &'a FoundSignal) -> Self {
        Self {
            group: &signal.group,
            ppm: signal.shift.0,
            range_ppm: [signal.range.high.0, signal.range.low.0],
            protons: signal.protons,
            multiplicity: signal.multiplicity.to_string(),
            used: signal.used,
            note: signal.note.as_deref(),
        }
    }
}

#[derive(Serialize)]
struct RivalOut<'a> {
    name: &'a str,
    wt_percent: Option<f64>,
    wt_percent_low: Option<f64>,
    wt_percent_high: Option<f64>,
}

impl<'a> RivalOut<'a> {
    fn new(rival: &'a Rival) -> Self {
        let wt = rival.wt_percent;
        Self { name: &rival.name, wt_percent: value(wt), wt_percent_low: low(wt), wt_percent_high: high(wt) }
    }
}

#[derive(Serialize)]
pub(super) struct UnexplainedOut<'a> {
    ppm: f64,
    range_ppm: [f64; 2],
    multiplicity: String,
    relative_protons: Option<f64>,
    relative_protons_low: Option<f64>,
    relative_protons_high: Option<f64>,
    note: Option<&'a str>,
}

impl<'a> UnexplainedOut<'a> {
    pub(super) fn new(entry: &'a Unexplained) -> Self {
        let protons = entry.relative_protons;
        Self {
            ppm: entry.shift.0,
            range_ppm: [entry.range.high.0, entry.range.low.0],
            multiplicity: entry.multiplicity.to_string(),
            relative_protons: value(protons),
            relative_protons_low: low(protons),
            relative_protons_high: high(protons),
            note: entry.note.as_deref(),
        }
    }
}

pub(super) fn value(estimate: Option<Estimate>) -> Option<f64> {
    estimate.map(|e| e.value)
}

pub(super) fn low(estimate: Option<Estimate>) -> Option<f64> {
    estimate.map(|e| e.low)
}

pub(super) fn high(estimate: Option<Estimate>) -> Option<f64> {
    estimate.map(|e| e.high)
}
