//! What goes on paper, in order.

use lees_core::SettingMap;
use lees_core::check::{Check, Finding};

use crate::figure::{self, FigureOptions, Svg};
use crate::{ReportError, clean, formula, number, words};

/// Left edges of a table's columns, as shares of the width; the last ends at 1.
pub(super) type Columns = [f64; 7];

/// Columns of a spectrum's own tables.
const OWN: Columns = [0.0, 0.19, 0.43, 0.52, 0.73, 0.84, 1.0];
/// Columns of the table of all spectra.
const ALL: Columns = [0.0, 0.345, 0.465, 0.645, 0.83, 0.94, 1.0];

/// One thing on the page, as wide as the page.
pub(super) enum Block {
    /// A paragraph: text, font size in pt, bold.
    Text(String, f64, bool),
    /// A table row: a text in each column, bold, the columns.
    Row(Vec<String>, bool, &'static Columns),
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
/// Space over a heading, in mm.
const OVER_HEADING: f64 = 2.2;
/// Size of what few readers ask for, in pt.
const FINE: f64 = 7.0;
/// Size of the settings in pt: so many that at body size they need a page of their own.
const SMALL: f64 = 6.5;
const TITLE: f64 = 17.0;

/// Several checks at a glance: verdict, largest volatile and sum of each, the page on which it starts, where known, and the
/// settings that they share.
pub(super) fn opening(
    title: &str,
    checks: &[&Check],
    shared: Option<&SettingMap>,
    starts: &[usize],
) -> Vec<Block> {
    let tally: Vec<_> = words::tally(checks)
        .into_iter()
        .filter(|(_, count)| *count > 0)
        .map(|(verdict, count)| words::counted(count, words::verdict(verdict)))
        .collect();
    let mut out = vec![
        Block::Text(title.to_owned(), TITLE, true),
        Block::Text(tally.join(", "), HEADING, true),
        Block::Space(3.0),
        Block::Row(
            row([
                "Spectrum",
                "Verdict",
                "Largest volatile, wt %",
                "All counted / wt %",
                "Unexplained",
                "Page",
            ]),
            true,
            &ALL,
        ),
    ];
    for (index, check) in checks.iter().enumerate() {
        let name = super::name(check);
        let path = clean(&check.input.path);
        let name = if name == path { name } else { format!("{name}, {path}") };
        let total = check.total.wt_percent.as_ref().map_or_else(unknown, number::interval);
        let page = starts.get(index).map_or_else(String::new, usize::to_string);
        let cells = [
            name.as_str(),
            words::verdict(check.verdict),
            &largest(check),
            &total,
            &check.unexplained.len().to_string(),
            &page,
        ];
        out.push(Block::Row(cells.map(clean).to_vec(), false, &ALL));
    }
    if let Some(all) = shared {
        heading(&mut out, "Settings of every spectrum");
        out.push(settings(all));
    }
    out
}

fn largest(check: &Check) -> String {
    let Some(finding) = check.volatiles.first() else { return "none found".to_owned() };
    let name = words::either(finding);
    finding
        .wt_percent
        .as_ref()
        .map_or_else(|| name.clone(), |content| format!("{name} {}", number::value(content)))
}

/// A check as blocks: verdict, volatiles, curve, unexplained, product, warnings, cautions, origin; the settings where `own`.
pub(super) fn blocks(check: &Check, own: bool) -> Result<Vec<Block>, ReportError> {
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
    origin(&mut out, check, own);
    Ok(out)
}

fn body(text: &str) -> Block {
    Block::Text(formula::lowered(&clean(text)), BODY, false)
}

fn fine(text: &str) -> Block {
    Block::Text(formula::lowered(&clean(text)), FINE, false)
}

fn heading(out: &mut Vec<Block>, text: &str) {
    out.extend([Block::Space(OVER_HEADING), Block::Text(text.to_owned(), HEADING, true)]);
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
    cells.iter().map(|c| formula::lowered(&clean(c))).collect()
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
        &OWN,
    ));
    out.extend(check.volatiles.iter().map(|f| Block::Row(volatile(f), false, &OWN)));
    let total = &check.total;
    let sum = total.wt_percent.as_ref().map_or_else(unknown, number::interval);
    let limit = total.limit_wt_percent.map_or_else(unknown, number::limit);
    out.push(Block::Row(row(["All counted", "", "", &sum, &limit, words::status(total.status)]), true, &OWN));
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
        let protons = entry.relative_protons.as_ref().map_or_else(unknown, number::protons_interval);
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
    let formula = product.formula.as_ref().map_or_else(String::new, |formula| format!(", {formula}"));
    let mass = number::fixed(product.molar_mass, 2);
    let rest = formula::lowered(&format!("{formula}, {mass} g/mol; {tally}"));
    out.push(Block::Text(format!("{}{rest}", clean(&product.name)), BODY, false));
    out.push(Block::Row(row(["Expected", "", "Found H", "State", "Used", "Note"]), true, &OWN));
    for signal in &product.signals {
        let found = signal.found_protons.as_ref().map_or_else(unknown, number::protons);
        let used = if signal.used { "yes" } else { "no" };
        let note = signal.note.as_deref().unwrap_or_default();
        out.push(Block::Row(
            row([&signal.text, "", &found, words::state(signal.state), used, note]),
            false,
            &OWN,
        ));
    }
}

fn budgets(out: &mut Vec<Block>, check: &Check) {
    for finding in check.volatiles.iter().filter(|f| !f.budget.is_empty()) {
        heading(out, &format!("Where the uncertainty of {} comes from", clean(&finding.name)));
        out.extend(finding.budget.iter().map(|entry| {
            let share = words::share(entry.percent);
            fine(&format!("{share} % (1 sigma)  {}; shrunk by: {}", entry.source, entry.remedy))
        }));
    }
}

fn origin(out: &mut Vec<Block>, check: &Check, own: bool) {
    let input = &check.input;
    heading(out, "Where this comes from");
    let solvent = input.solvent.as_deref().unwrap_or("NMR solvent unknown");
    let field = number::fixed(input.field.0, 2);
    let taken = format!(
        "{}, {field} MHz, {solvent}, {} points, {}",
        words::kind(input.kind),
        input.points,
        words::referenced(check)
    );
    let taken = formula::lowered(&clean(&taken));
    out.push(Block::Text(format!("{}: {taken}", clean(&input.path)), FINE, false));
    let made = &check.provenance;
    let made = format!("lees {}, tables {}, settings {}", made.version, made.tables, made.settings);
    out.push(Block::Text(clean(&format!("SHA-256 {}; {made}", input.sha256)), FINE, false));
    if own {
        out.push(settings(&check.settings));
    }
}

fn settings(all: &SettingMap) -> Block {
    let each: Vec<_> = all.iter().map(|(name, value)| format!("{name} = {value}")).collect();
    Block::Text(clean(&each.join("; ")), SMALL, false)
}
