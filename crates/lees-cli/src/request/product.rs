//! The product from its file or its flags.

use lees_core::{ExpectedSignal, Formula, LimitSet, MassFraction, Product};
use lees_format::{journal, product};

use super::range::parse_with_protons;
use super::text_file;
use crate::args::{JudgeArgs, ProductArgs};
use crate::failure::Failure;

/// The product, when it is described at all; limits from flags are added to those of the file.
pub(crate) fn product(args: &ProductArgs, judge: &JudgeArgs) -> Result<Option<Product>, Failure> {
    let mut described = match &args.product {
        Some(path) => {
            let name = path.display().to_string();
            product::parse(&text_file(path)?, &name).map_err(Failure::usage)?
        }
        None => match from_flags(args)? {
            Some(product) => product,
            None => return no_product(args, judge),
        },
    };
    if let Some(name) = &args.name {
        described.name.clone_from(name);
    }
    add_quantify(&mut described, &args.quantify)?;
    if described.signals.is_empty() {
        return Err(Failure::usage(
            "the product has no signals: give its journal line with --signals (or `signals` in the product file), \
             or a stretch with its protons, such as --quantify 6.4-6.7=2H",
        ));
    }
    let formula = described.formula.as_ref();
    if let Some(fault) = formula.and_then(|formula| product::protons_beyond(formula, &described.signals)) {
        return Err(Failure::usage(fault));
    }
    add_limits(&mut described.limits, judge)?;
    Ok(Some(described))
}

fn no_product(args: &ProductArgs, judge: &JudgeArgs) -> Result<Option<Product>, Failure> {
    let mass_needed = args.signals.is_some() || !args.quantify.is_empty();
    if mass_needed {
        return Err(Failure::usage("the product needs --formula or --molar-mass beside its signals"));
    }
    add_limits(&mut LimitSet::default(), judge)?;
    Ok(None)
}

fn from_flags(args: &ProductArgs) -> Result<Option<Product>, Failure> {
    let formula: Option<Formula> =
        args.formula.as_deref().map(str::parse).transpose().map_err(Failure::usage)?;
    let molar_mass = match (&formula, args.molar_mass) {
        (None, None) => return Ok(None),
        (None, Some(mass)) if mass.is_finite() && mass > 0.0 => mass,
        (None, Some(mass)) => {
            return Err(Failure::usage(format!("--molar-mass {mass}: must be above 0 g/mol")));
        }
        (Some(formula), given) => agreeing(formula, given)?,
    };
    let signals = match &args.signals {
        Some(line) => journal::parse(line).map_err(|fault| Failure::usage(format!("--signals: {fault}")))?,
        None => Vec::new(),
    };
    Ok(Some(Product {
        name: "product".to_owned(),
        formula,
        molar_mass,
        signals,
        nmr_solvent: args.signals.as_deref().and_then(journal::nmr_solvent),
        quantify: Vec::new(),
        limits: LimitSet::default(),
    }))
}

fn agreeing(formula: &Formula, given: Option<f64>) -> Result<f64, Failure> {
    let computed = formula.molar_mass();
    match given {
        Some(mass) if (mass - computed).abs() > product::MOLAR_MASS_TOLERANCE => {
            Err(Failure::usage(format!(
                "--molar-mass {mass} and --formula {formula} ({computed:.3} g/mol) disagree; give one of them"
            )))
        }
        _ => Ok(computed),
    }
}

/// A stretch with its protons stands for an expected signal of its own, unless the journal line has it.
fn add_quantify(product: &mut Product, texts: &[String]) -> Result<(), Failure> {
    for text in texts {
        let (range, protons) =
            parse_with_protons(text).map_err(|fault| Failure::usage(format!("--quantify: {fault}")))?;
        let listed = product.signals.iter().any(|signal| range.contains(signal.range.centre()));
        match protons {
            Some(protons) if !listed => product.signals.push(ExpectedSignal {
                range,
                multiplicity: None,
                couplings: Vec::new(),
                protons,
                assignment: None,
            }),
            Some(_) => {
                return Err(Failure::usage(format!(
                    "--quantify {text}: the journal line already says how many protons stand there; leave out `=nH`"
                )));
            }
            None if !listed => {
                return Err(Failure::usage(format!(
                    "--quantify {text}: no signal of the product stands there; say how many protons do, as in {text}=2H"
                )));
            }
            None => {}
        }
        product.quantify.push(range);
    }
    Ok(())
}

fn add_limits(limits: &mut LimitSet, judge: &JudgeArgs) -> Result<(), Failure> {
    if let Some(text) = &judge.total_limit {
        limits.total = Some(fraction("--total-limit", text)?);
    }
    for text in &judge.limit {
        let (name, value) = text.rsplit_once('=').ok_or_else(|| {
            Failure::usage(format!("--limit {text}: write NAME=VALUE, such as \"toluene=890 ppm\""))
        })?;
        limits.each.insert(name.trim().to_owned(), fraction("--limit", value)?);
    }
    Ok(())
}

fn fraction(flag: &str, text: &str) -> Result<MassFraction, Failure> {
    text.parse().map_err(|fault| Failure::usage(format!("{flag}: {fault}")))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn flags(formula: &str, quantify: &[&str]) -> ProductArgs {
        ProductArgs {
            formula: Some(formula.to_owned()),
            quantify: quantify.iter().map(|text| (*text).to_owned()).collect(),
            ..Default::default()
        }
    }

    #[test]
    fn a_stretch_with_protons_is_enough() {
        let product = product(&flags("C9H6O2", &["6.3-6.5=1H"]), &JudgeArgs::default()).unwrap().unwrap();
        assert_eq!(product.signals.len(), 1);
        assert_eq!(product.quantify.len(), 1);
    }

    #[test]
    fn what_cannot_be_meant_is_said() {
        let fault = |args: &ProductArgs, judge: &JudgeArgs| product(args, judge).unwrap_err().to_string();
        let none = JudgeArgs::default();
        assert!(fault(&flags("C9H6O2", &[]), &none).contains("no signals"));
        assert!(fault(&flags("C9H6O2", &["6.3-6.5"]), &none).contains("=2H"));
        assert!(
            fault(&flags("C9H6O2", &["6.3-6.5=200H"]), &none).contains("200 H together where C9H6O2 has 6")
        );
        assert!(fault(&flags("C9Q", &["6.3-6.5=1H"]), &none).contains("character 3"));
        let wrong_unit = JudgeArgs { total_limit: Some("0.5 mol%".to_owned()), ..Default::default() };
        assert!(fault(&flags("C9H6O2", &["6.3-6.5=1H"]), &wrong_unit).contains("mol%"));
        let only_signals = ProductArgs { signals: Some("7.1 (s, 1H)".to_owned()), ..Default::default() };
        assert!(fault(&only_signals, &none).contains("--formula"));
    }
}
