//! What goes on paper, in order.

use lees_core::check::{Check, Finding};

use crate::figure::{self, FigureOptions, Svg};
use crate::{ReportError, clean, number, words};

/// One thing on the page, as wide as the page.
pub(super) enum Block {
    /// A paragraph: text, font size in pt, bold.
    Text(String, f64, bool),
    /// A table row: a text in each column, bold.
    Row(Vec<String>, bool),
    /// Empty space in mm.
    Space(f64),
    /// A picture.
    Figure(Svg),
    /// The rest starts on a new page.
    Break,
}

/// Body, heading and title sizes in pt.
pub(super) const BODY: f64 = 8.5;
const HEADING: f64 = 10.5;
/// Size of the settings in pt: so many that at body size they need a page of their own.
const SMALL: f64 = 6.5;
const TITLE: f64 = 17.0;

/// A check as blocks: verdict, volatiles, curve, unexplained, product, warnings, cautions, origin.
pub(super) fn blocks(check: &Check) -> Result<Vec<Block>, ReportError> {
    let mut out = vec![
        Block::Text(words::verdict(check.verdict).to_uppercase(), TITLE, true),
        Block::Text(super::name(check), HEADING, true),
        body(words::meaning(check.verdict)),
    ];
    bullets(&mut out, &check.reasons);
    section(&mut out, "What next", &check.advice);
    volatiles(&mut out, check);
    section(&mut out, "Purity", &words::purity(check));
    let options = FigureOptions { embed_fonts: false, ..FigureOptions::default() };
    out.extend([Block::Space(3.0), Block::Figure(figure::draw(&[check], &options)?)]);
    others(&mut out, check);
    not_found(&mut out, check);
    product(&mut out, check);
    section(&mut out, "Warnings", &check.warnings);
    section(&mut out, "Cautions", &check.cautions);
    budgets(&mut out, check);
    origin(&mut out, check);
    Ok(out)
}

fn body(text: &str) -> Block {
    Block::Text(clean(text), BODY, false)
}

fn heading(out: &mut Vec<Block>, text: &str) {
    out.extend([Block::Space(3.0), Block::Text(text.to_owned(), HEADING, true)]);
}

fn bullets(out: &mut Vec<Block>, lines: &[String]) {
    out.extend(lines.iter().map(|line| body(&format!("\u{2022} {line}"))));
}

fn section(out: &mut Vec<Block>, title: &str, lines: &[String]) {
    if !lines.is_empty() {
        heading(out, title);
        bullets(out, lines);
    }
}

fn row<const N: usize>(cells: [&str; N]) -> Vec<String> {
    cells.iter().map(|c| clean(c)).collect()
}

fn unknown() -> String {
    "n/a".to_owned()
}

fn volatiles(out: &mut Vec<Block>, check: &Check) {
    heading(out, "Volatiles found");
    if check.volatiles.is_empty() {
        out.push(body("No volatile found."));
        return;
    }
    out.push(Block::Row(
        row(["Name", "Signals / ppm", "mol %", "wt % (95 % interval)", "Limit / wt %", "Status"]),
        true,
    ));
    out.extend(check.volatiles.iter().map(|f| Block::Row(volatile(f), false)));
    let total = &check.total;
    let sum = total.wt_percent.as_ref().map_or_else(unknown, number::interval);
    let limit = total.limit_wt_percent.map_or_else(unknown, number::limit);
    out.push(Block::Row(row(["All counted", "", "", &sum, &limit, words::status(total.status)]), true));
}

fn volatile(f: &Finding) -> Vec<String> {
    let share = f.mol_percent.as_ref().map_or_else(unknown, number::value);
    let limit = f.limit_wt_percent.map_or_else(unknown, number::limit);
    row([&words::names(f), &words::signals(f), &share, &words::content(f), &limit, words::status(f.status)])
}

fn others(out: &mut Vec<Block>, check: &Check) {
    heading(out, "Unexplained signals");
    if check.unexplained.is_empty() {
        out.push(body("None: every signal is accounted for."));
    }
    for entry in &check.unexplained {
        let protons = entry.relative_protons.as_ref().map_or_else(unknown, number::interval);
        let hint = entry.note.as_deref().map(|n| format!("; {n}")).unwrap_or_default();
        let shift = number::shift(entry.shift.0);
        out.push(body(&format!("{shift} ppm ({}), {protons} H per product{hint}", entry.multiplicity)));
    }
    if !check.not_counted.is_empty() {
        heading(out, "Seen but not counted");
    }
    for entry in &check.not_counted {
        let content = entry.finding.wt_percent.as_ref();
        let content = content.map_or_else(String::new, |c| format!(", {} wt %", number::value(c)));
        let signals = words::signals(&entry.finding);
        out.push(body(&format!("{} ({signals}){content}: {}", entry.finding.name, entry.why)));
    }
}

fn not_found(out: &mut Vec<Block>, check: &Check) {
    if let Some(absent) = words::not_found(check) {
        heading(out, "Looked for, not found");
        out.push(body(&absent));
    }
}

fn product(out: &mut Vec<Block>, check: &Check) {
    let Some(product) = &check.product else { return };
    heading(out, "Product: expected and found");
    let tally = words::product_tally(check).unwrap_or_default();
    out.push(body(&format!("{}, {} g/mol; {tally}", product.name, number::fixed(product.molar_mass, 2))));
    out.push(Block::Row(row(["Expected", "", "Found H", "State", "Used", "Note"]), true));
    for signal in &product.signals {
        let found = signal.found_protons.as_ref().map_or_else(unknown, number::value);
        let used = if signal.used { "yes" } else { "no" };
        let note = signal.note.as_deref().unwrap_or_default();
        out.push(Block::Row(row([&signal.text, "", &found, words::state(signal.state), used, note]), false));
    }
}

fn budgets(out: &mut Vec<Block>, check: &Check) {
    for finding in check.volatiles.iter().filter(|f| !f.budget.is_empty()) {
        heading(out, &format!("Where the uncertainty of {} comes from", clean(&finding.name)));
        out.extend(finding.budget.iter().map(|entry| {
            let share = words::share(entry.percent);
            body(&format!("{share} % (1 sigma)  {}; shrunk by: {}", entry.source, entry.remedy))
        }));
    }
}

fn origin(out: &mut Vec<Block>, check: &Check) {
    let input = &check.input;
    heading(out, "Where this comes from");
    let solvent = input.solvent.as_deref().unwrap_or("NMR solvent unknown");
    let field = number::fixed(input.field.0, 2);
    out.push(body(&format!(
        "{}: {}, {field} MHz, {solvent}, {} points, {}",
        input.path,
        words::kind(input.kind),
        input.points,
        words::referenced(check)
    )));
    out.push(body(&format!("SHA-256 {}", input.sha256)));
    let made = &check.provenance;
    out.push(body(&format!("lees {}, tables {}, settings {}", made.version, made.tables, made.settings)));
    let settings: Vec<_> = check.settings.iter().map(|(name, value)| format!("{name} = {value}")).collect();
    out.push(Block::Text(clean(&settings.join("; ")), SMALL, false));
}
