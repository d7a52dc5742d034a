/// Included by examples: a simulated tube of a wet dye, checked against a limit of 0.5 wt% on all volatiles together.
pub fn checked_dye() -> lees_core::check::Check {
    let text = "name = 'dye'\nformula = 'C16H16N2O2S'\nsignals = '8.79 (s, 1H), 7.87 (d, 1H), 7.47 (d, 1H), \
                7.41 (d, 1H), 6.66 (dd, 1H), 6.55 (d, 1H), 3.46 (q, 4H), 1.25 (t, 6H)'\n[limits]\ntotal = '0.5 wt%'";
    let product = lees_format::product::parse(text, "dye.toml").expect("a product");
    let job = lees::Job { product: Some(product), ..lees::Job::default() };
    let made = lees_spin::simulate::simulate(&lees_spin::simulate::Recipe::wet_dye()).expect("a sound recipe");
    let made = lees_core::Measurement::Spectrum(made.spectrum);
    let bytes = lees_format::write::jcamp(&made, &Default::default()).bytes;
    let mut checker = lees::Checker::new(&job).expect("a sound job");
    checker.check(&bytes, "dye.jdx").expect("one spectrum").remove(0).expect("it can be checked")
}

/// A fraction with `wt_percent` of ethyl acetate against a limit of 0.5 wt%, known within 10 %, after `hours` of drying.
pub fn fraction(name: &str, wt_percent: f64, grams: f64, hours: f64) -> lees_core::rack::Brief {
    use lees_core::check::{Estimate, Verdict};
    use lees_core::rack::{Brief, Content, Tags};
    let about = Estimate { value: wt_percent, low: 0.9 * wt_percent, high: 1.1 * wt_percent, u: 0.05 * wt_percent };
    let content = Content { name: "ethyl acetate".to_owned(), wt_percent: Some(about), limit_wt_percent: Some(0.5) };
    Brief {
        path: format!("{name}.jdx"),
        tags: Tags {
            batch: Some("LD-7".to_owned()),
            fraction: Some(name.to_owned()),
            mass_g: Some(grams),
            drying_hours: Some(hours),
        },
        product: Some("dye".to_owned()),
        verdict: if about.high < 0.5 { Verdict::Dry } else { Verdict::NeedsDrying },
        total: Some(about),
        total_limit: Some(0.5),
        contents: vec![content],
        worst: Some(0),
        unexplained: 0,
        unexplained_percent: Some(0.0),
        warnings: Vec::new(),
    }
}
