//! Invented fractions of a dye column.

use lees_core::check::{Estimate, Verdict};
use lees_core::rack::{Brief, Content, Tags};

pub(super) fn estimate(value: f64, u: f64) -> Estimate {
    Estimate { value, low: (value - 2.0 * u).max(0.0), high: value + 2.0 * u, u }
}

/// A fraction with `wt` per cent of ethyl acetate against 0.5.
pub(super) fn fraction(name: &str, wt: f64, mass_g: Option<f64>) -> Brief {
    let content = estimate(wt, 0.05 * wt);
    let verdict = match (content.low > 0.5, content.high < 0.5) {
        (true, _) => Verdict::NeedsDrying,
        (_, true) => Verdict::Dry,
        _ => Verdict::Undecided,
    };
    Brief {
        path: format!("{name}.jdx"),
        tags: Tags { fraction: Some(name.to_owned()), mass_g, ..Tags::default() },
        product: Some("coumarin dye".to_owned()),
        verdict,
        total: Some(content),
        total_limit: None,
        contents: vec![Content {
            name: "ethyl acetate".to_owned(),
            wt_percent: Some(content),
            limit_wt_percent: Some(0.5),
        }],
        worst: Some(0),
        unexplained: 0,
        unexplained_percent: Some(0.0),
        warnings: Vec::new(),
    }
}
