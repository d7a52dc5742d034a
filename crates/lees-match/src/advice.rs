//! What to do about a volatile, and what to mind while doing it.

use lees_core::check::{Check, Finding, LimitStatus, Verdict};

use crate::table::{Compound, Properties, Tables};

/// Boiling points in degC that part what a rotary evaporator takes, what an oven takes and what holds on
/// (common practice, no source).
const EASY_UNDER: f64 = 70.0;
const OVEN_UNDER: f64 = 120.0;

/// Shown with every result.
pub const SCOPE: [&str; 3] = [
    "Proton NMR does not show salts, metals, silica, carbon tetrachloride or anything without protons, nor what stayed undissolved; exchange-broadened or paramagnetic samples hide more.",
    "A guideline limit is not a release decision: that needs a validated method and a qualified person.",
    "Local rules, safety data sheets and licensed practice come before anything said here.",
];

/// One piece of advice for each volatile over its limit or undecided, then for what drying cannot mend.
#[must_use]
pub(crate) fn advice(check: &Check, tables: &Tables) -> Vec<String> {
    let mut out: Vec<String> = check
        .volatiles
        .iter()
        .filter(|finding| matters(check, finding))
        .filter_map(|finding| tables.compound(&finding.name))
        .map(drying_sentence)
        .collect();
    if !check.unexplained.is_empty() {
        out.push(
            "Unexplained signals do not dry off: find out what they are, or purify and measure again."
                .to_owned(),
        );
    }
    let wet = check.not_counted.iter().any(|entry| entry.finding.name == "water");
    if wet && check.product.is_some() {
        out.push(
            "Water is seen but not counted: a spectrum of the NMR solvent alone, given as blank, tells the batch's share."
                .to_owned(),
        );
    }
    out
}

/// Whether a finding stands between the batch and a clean verdict.
fn matters(check: &Check, finding: &Finding) -> bool {
    match finding.status {
        LimitStatus::Above | LimitStatus::Undecided => true,
        LimitStatus::NoLimit => check.verdict != Verdict::Dry,
        LimitStatus::Below => matches!(check.total.status, LimitStatus::Above | LimitStatus::Undecided),
    }
}

/// How to remove one compound, by boiling point and habit.
fn drying_sentence(compound: &Compound) -> String {
    let Some(properties) = &compound.properties else {
        return format!(
            "{}: boiling point not tabulated; try warmth and vacuum and measure again.",
            compound.name
        );
    };
    let mut text = format!("{}{}: {}", compound.name, numbers(properties), by_boiling_point(properties));
    if let Some(habit) = &properties.habit {
        text.push(' ');
        text.push_str(habit);
    }
    text
}

fn numbers(properties: &Properties) -> String {
    let boiling = properties.boiling_point_c.map(|bp| format!("boils at {bp:.0} °C"));
    let pressure = properties.vapour_pressure_20c_kpa.map(|vp| format!("{vp} kPa at 20 °C"));
    match (boiling, pressure) {
        (Some(boiling), Some(pressure)) => format!(" ({boiling}, {pressure})"),
        (Some(one), None) | (None, Some(one)) => format!(" ({one})"),
        (None, None) => String::new(),
    }
}

fn by_boiling_point(properties: &Properties) -> &'static str {
    match properties.boiling_point_c {
        Some(bp) if bp < EASY_UNDER => "leaves at room temperature under vacuum, if the solid lets it out.",
        Some(bp) if bp < OVEN_UNDER => "needs vacuum with gentle warmth, spread thin.",
        Some(_) => "needs high vacuum with warmth for long, or another way.",
        None => "try warmth and vacuum and measure again.",
    }
}

/// Scope, and the hazards of drying what was found.
#[must_use]
pub(crate) fn cautions(check: &Check, tables: &Tables) -> Vec<String> {
    let mut out: Vec<String> = SCOPE.iter().map(|text| (*text).to_owned()).collect();
    if check.volatiles.is_empty() {
        return out;
    }
    out.push(
        "Before warming, make sure that the product stands the temperature; use a cold trap with vacuum, no open flame, and ventilation."
            .to_owned(),
    );
    for finding in &check.volatiles {
        let Some(properties) = tables.compound(&finding.name).and_then(|c| c.properties.as_ref()) else {
            continue;
        };
        out.extend(hazards(&finding.name, properties));
    }
    out
}

fn hazards(name: &str, properties: &Properties) -> Vec<String> {
    let mut out = Vec::new();
    if let Some(hazard) = &properties.hazard {
        out.push(format!("{name}: {}", lower_first(hazard)));
    }
    if properties.peroxide_former {
        let note = properties.peroxide_note.as_ref().map_or_else(String::new, |note| format!(" ({note})"));
        out.push(format!(
            "{name} forms peroxides{note}: test before warming or concentrating, never distil to dryness."
        ));
    }
    if let Some(flash) = properties.flash_point_c.filter(|flash| *flash < 23.0) {
        out.push(format!("{name} is highly flammable (flash point {flash:.0} °C)."));
    }
    out
}

fn lower_first(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| first.to_lowercase().chain(chars).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sentence(name: &str) -> String {
        drying_sentence(Tables::bundled().compound(name).unwrap())
    }

    #[test]
    fn advice_follows_from_boiling_point_and_habit() {
        assert!(sentence("dichloromethane").contains("boils at 40 °C, 46.8 kPa"));
        assert!(sentence("dichloromethane").contains("room temperature"));
        assert!(sentence("toluene").contains("gentle warmth"));
        assert!(sentence("N,N-dimethylformamide").contains("wash an organic solution with water"));
    }

    #[test]
    fn peroxide_formers_and_poisons_are_named() {
        let of = |name: &str| {
            hazards(name, Tables::bundled().compound(name).unwrap().properties.as_ref().unwrap()).join(" ")
        };
        assert!(of("2-propanol").contains("forms peroxides"));
        assert!(of("diethyl ether").contains("peroxides") && of("diethyl ether").contains("-45 °C"));
        assert!(of("benzene").contains("carcinogen"));
        assert!(!of("ethyl acetate").contains("peroxides"));
    }

    /// Every volatile that is met every week has a boiling point to advise by.
    #[test]
    fn common_volatiles_have_boiling_points() {
        use crate::table::{Class, Usage};
        for compound in Tables::bundled().compounds() {
            if compound.class == Class::Volatile && compound.usage != Usage::Rare {
                let known = compound.properties.as_ref().and_then(|p| p.boiling_point_c);
                assert!(known.is_some(), "{}", compound.name);
            }
        }
    }
}
