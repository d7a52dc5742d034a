//! `lees lookup`.

use lees_core::Ppm;
use lees_match::lookup::{Candidate, at_shift, of_compound};
use lees_match::table::{Compound, Tables};
use lees_report::terminal::{LookupRow, Style, lookup as table};

use crate::args::{LookupArgs, decimal_comma};
use crate::failure::{Ending, Failure};
use crate::{out, request, screen};

/// Says what could stand at a shift, or where a compound shows.
pub(crate) fn lookup(args: &LookupArgs) -> Result<Ending, Failure> {
    let tables = request::job::tables(&args.table)?;
    let style = screen::style(args.color);
    let bare = args.what.trim().trim_end_matches("ppm").trim();
    let shift = bare.parse::<f64>().ok().filter(|x| x.is_finite());
    if let Some(hint) = decimal_comma(bare) {
        return Err(Failure::usage(format!("{}: {hint}", args.what)));
    }
    let text = match shift {
        Some(shift) => near(&tables, Ppm(shift), args, &style)?,
        None => compound(&tables, args, &style)?,
    };
    out::print(&text)?;
    Ok(Ending::Well)
}

fn near(tables: &Tables, shift: Ppm, args: &LookupArgs, style: &Style) -> Result<String, Failure> {
    if !(args.within.is_finite() && args.within >= 0.0) {
        return Err(Failure::usage(format!("--within {}: must be 0 ppm or more", args.within)));
    }
    let solvent = tables.require_nmr_solvent(&args.solvent).map_err(Failure::usage)?;
    let rows: Vec<LookupRow> = at_shift(tables, shift, solvent, Ppm(args.within)).iter().map(row).collect();
    let heading = format!("Within {} ppm of {:.2} ppm in {}", args.within, shift.0, solvent.name);
    Ok(table(&heading, &[], &rows, style) + &sources(&rows))
}

fn compound(tables: &Tables, args: &LookupArgs, style: &Style) -> Result<String, Failure> {
    let solvent = tables.require_nmr_solvent(&args.solvent).map_err(Failure::usage)?;
    let compound = tables.require_compound(&args.what).map_err(Failure::usage)?;
    let rows: Vec<LookupRow> = of_compound(compound, solvent).iter().map(row).collect();
    let heading = format!("{} in {}", compound.name, solvent.name);
    Ok(table(&heading, &facts(compound), &rows, style) + &sources(&rows))
}

/// Sources that the remarks name by a letter and the year.
const SOURCES: [(&str, &str); 3] = [
    ("G97", "H. E. Gottlieb, V. Kotlyar, A. Nudelman, J. Org. Chem. 1997, 62, 7512"),
    ("F10", "G. R. Fulmer et al., Organometallics 2010, 29, 2176"),
    ("B16", "N. R. Babij et al., Org. Process Res. Dev. 2016, 20, 661"),
];

/// What the short names in the remarks stand for.
fn sources(rows: &[LookupRow]) -> String {
    let named = |short: &str| rows.iter().any(|row| row.note.contains(short));
    let each = SOURCES.iter().filter(|(short, _)| named(short));
    each.map(|(short, source)| format!("  {short}: {source}\n")).collect()
}

fn facts(compound: &Compound) -> Vec<String> {
    let mut facts = Vec::new();
    let properties = compound.properties.as_ref();
    let parts = [
        compound.formula.as_ref().map(ToString::to_string),
        compound.molar_mass.map(|mass| format!("{mass:.3} g/mol")),
        compound.cas.clone().map(|cas| format!("CAS {cas}")),
        properties.and_then(|p| p.boiling_point_c).map(|bp| format!("boils at {bp} °C")),
    ];
    facts.push(parts.into_iter().flatten().collect::<Vec<_>>().join(", "));
    if !compound.aliases.is_empty() {
        facts.push(format!("also: {}", compound.aliases.join("; ")));
    }
    facts.extend(properties.and_then(|p| p.habit.clone()));
    facts.extend(properties.and_then(|p| p.hazard.clone()));
    facts.retain(|fact| !fact.is_empty());
    facts
}

fn row(signal: &Candidate) -> LookupRow {
    let place = if signal.low == signal.high {
        format!("{:.2}", signal.low.0)
    } else {
        format!("{:.2}-{:.2}", signal.high.0, signal.low.0)
    };
    let couplings: Vec<String> = signal.couplings.iter().map(|j| format!("{:.1}", j.0)).collect();
    let pattern = match couplings.is_empty() {
        true => signal.multiplicity.to_string(),
        false => format!("{} J {} Hz", signal.multiplicity, couplings.join(", ")),
    };
    LookupRow {
        name: signal.name.clone(),
        group: signal.group.clone(),
        place,
        protons: signal.protons.map_or_else(String::new, |n| n.to_string()),
        pattern,
        trust: signal.trust.clone(),
        note: signal.note.clone(),
    }
}
