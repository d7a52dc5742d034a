//! Protons of the product that its journal line leaves out.

use lees_core::Product;

/// Decimals in integrals, and protons lost to rotamers and deuterium exchange beside hetero atoms.
const TOLERANCE: f64 = 0.5;

/// A warning when more protons are missing than may exchange: one on each O and S, two on each N (as OH, SH, NH2).
pub(crate) fn warning(product: &Product) -> Option<String> {
    let formula = product.formula.as_ref()?;
    let all = f64::from(formula.count("H"));
    let exchanging = formula.count("O") + formula.count("S") + 2 * formula.count("N");
    let listed: f64 = product.signals.iter().map(|signal| signal.protons).sum();
    let missing = all - listed;
    (missing > f64::from(exchanging) + TOLERANCE).then(|| {
        format!(
            "the product's signals hold {listed} of the {all} protons of {formula}; signals that are not listed are looked for among the volatiles or stay unexplained"
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn product(formula: &str, signals: &str) -> Product {
        let text = format!("formula = \"{formula}\"\nsignals = \"{signals}\"");
        lees_format::product::parse(&text, "p.toml").unwrap()
    }

    #[test]
    fn a_forgotten_methyl_group_is_missed_an_alcohol_is_not() {
        assert_eq!(
            warning(&product("C8H10O", "7.30 (m, 5H), 4.88 (q, 1H), 1.48 (d, 3H)")),
            None,
            "OH left out"
        );
        let said = warning(&product("C8H10O", "7.30 (m, 5H), 4.88 (q, 1H)")).unwrap();
        assert!(said.starts_with("the product's signals hold 6 of the 10 protons of C8H10O"), "{said}");
    }

    #[test]
    fn nothing_is_said_without_a_formula() {
        let text = "molar_mass = 122.16\nsignals = \"7.30 (m, 5H)\"";
        assert_eq!(warning(&lees_format::product::parse(text, "p.toml").unwrap()), None);
    }
}
