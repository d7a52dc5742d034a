/// Included by examples: 0.21 wt% 2-propanol against 0.5 wt% and 0.05 wt% toluene against 0.089 wt%, invented.
pub fn two_volatiles() -> lees_core::check::Check {
    use lees_core::check::*;
    use lees_core::{Acquisition, Megahertz, Ppm, ShiftAxis, Spectrum};
    let about = |value: f64| Estimate { value, low: 0.9 * value, high: 1.1 * value, u: 0.05 * value };
    let volatile = |name: &str, wt_percent: f64, limit: f64| Finding {
        name: name.to_owned(),
        cas: None,
        molar_mass: None,
        mole_ratio: None,
        mol_percent: None,
        wt_percent: Some(about(wt_percent)),
        detection_limit_wt_percent: None,
        limit_wt_percent: Some(limit),
        status: LimitStatus::Below,
        conformance: None,
        signals: Vec::new(),
        evidence: 50.0,
        rivals: Vec::new(),
        budget: Vec::new(),
    };
    let field = Megahertz(400.0);
    let acquisition = Acquisition::at_field(field);
    Check {
        input: Input {
            path: "batch.jdx".to_owned(),
            title: String::new(),
            kind: InputKind::Spectrum,
            field,
            solvent: None,
            points: 2,
            sha256: String::new(),
            acquisition: acquisition.clone(),
        },
        reference: None,
        product: None,
        volatiles: vec![volatile("2-propanol", 0.21, 0.5), volatile("toluene", 0.05, 0.089)],
        total: Total { wt_percent: Some(about(0.26)), limit_wt_percent: None, status: LimitStatus::NoLimit },
        not_counted: Vec::new(),
        not_found: Vec::new(),
        unexplained: Vec::new(),
        purity: None,
        corrected_yield: None,
        verdict: Verdict::Dry,
        reasons: Vec::new(),
        advice: Vec::new(),
        cautions: Vec::new(),
        warnings: Vec::new(),
        settings: Default::default(),
        provenance: Provenance { version: String::new(), tables: String::new(), settings: String::new() },
        lines: Vec::new(),
        multiplets: Vec::new(),
        spectrum: Spectrum {
            axis: ShiftAxis::new(Ppm(10.0), Ppm(0.0), 2, field).expect("falls"),
            real: vec![0.0; 2].into(),
            imaginary: None,
            acquisition,
        },
        noise: 1.0,
    }
}
