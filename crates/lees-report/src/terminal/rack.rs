//! Many spectra on a terminal: a row each, then what they tell together.

use lees_core::rack::{Brief, Motion, Pool, Trend};

use super::check::tone;
use super::style::{Style, Tone};
use super::table::{Cell, Column, render};
use crate::{clean, number, words};

/// Rows beyond this are left out of a ranking; the table above has them all.
const MOST_RANKED: usize = 20;

/// What became of one spectrum.
#[derive(Debug, Clone, Copy)]
pub enum RackRow<'a> {
    /// It was checked.
    Checked(&'a Brief),
    /// The path and why it could not be checked.
    Failed(&'a str, &'a str),
}

/// A row a spectrum: verdict, sum with its interval, the volatile that stands worst, unexplained share, warnings;
/// then a count of verdicts.
///
/// ```
/// use lees_report::terminal::{RackRow, Style, rack};
/// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/checked_dye.rs")); }
/// # use made::*;
/// let (wet, dry) = (fraction("1", 2.0, 0.3, 0.0), fraction("2", 0.2, 1.0, 0.0)); // ethyl acetate in wt%, grams, hours
/// let rows = [RackRow::Checked(&wet), RackRow::Checked(&dry), RackRow::Failed("3.jdx", "no data")];
/// let text = rack(&rows, &Style::default());
/// assert!(text.contains("NEEDS DRYING") && text.contains("DRY") && text.contains("no data"));
/// ```
#[must_use]
pub fn rack(rows: &[RackRow<'_>], style: &Style) -> String {
    let columns = [
        Column::left("spectrum", 14),
        Column::left("verdict", 12),
        Column::left("sum wt % (95 % interval)", 12),
        Column::left("worst volatile", 12),
        Column::right("unexplained", 11),
        Column::right("warnings", 8),
    ];
    let folder = common_folder(rows);
    let cells: Vec<_> = rows.iter().map(|row| cells(row, folder)).collect();
    let place =
        if folder.is_empty() { String::new() } else { format!("  in {}\n", style.plain(&clean(folder))) };
    format!("{place}{}{}", render(&columns, &cells, style), tally(rows, style))
}

impl<'a> RackRow<'a> {
    fn path(&self) -> &'a str {
        match self {
            Self::Checked(brief) => &brief.path,
            Self::Failed(path, _) => path,
        }
    }
}

/// The folder all paths share, with its separator; empty for one path or none in common.
fn common_folder<'a>(rows: &[RackRow<'a>]) -> &'a str {
    let Some(first) = rows.first().map(RackRow::path) else { return "" };
    let mut shared = first.rfind('/').map_or("", |at| &first[..=at]);
    for row in rows {
        while !row.path().starts_with(shared) {
            shared = shared.trim_end_matches('/').rfind('/').map_or("", |at| &shared[..=at]);
        }
    }
    if rows.len() > 1 { shared } else { "" }
}

fn cells(row: &RackRow<'_>, folder: &str) -> Vec<Cell> {
    let name = clean(row.path().strip_prefix(folder).unwrap_or(row.path()));
    match row {
        RackRow::Checked(brief) => checked(brief, name),
        RackRow::Failed(_, why) => {
            let why = message(why, row.path());
            let cells = [name.into(), Cell::toned("FAILED", Tone::Bad), why.into()];
            cells.into_iter().chain(std::iter::repeat_n("".into(), 3)).collect()
        }
    }
}

/// The message without the path it leads with.
fn message(why: &str, path: &str) -> String {
    clean(why.strip_prefix(path).unwrap_or(why).trim_start_matches([':', ',', ' ']))
}

fn checked(brief: &Brief, name: String) -> Vec<Cell> {
    let warnings = if brief.warnings.is_empty() { String::new() } else { brief.warnings.len().to_string() };
    vec![
        name.into(),
        Cell::toned(words::verdict(brief.verdict).to_uppercase(), tone(brief.verdict)),
        total(brief).into(),
        worst(brief).into(),
        unexplained(brief).into(),
        warnings.into(),
    ]
}

fn total(brief: &Brief) -> String {
    brief.total.as_ref().map_or_else(|| "n/a".to_owned(), number::interval)
}

/// `2-propanol 0.62 of 0.5`.
fn worst(brief: &Brief) -> String {
    let Some(worst) = brief.worst() else { return "none found".to_owned() };
    let mut text = clean(&worst.name);
    if let Some(wt) = &worst.wt_percent {
        text.push(' ');
        text.push_str(&number::value(wt));
    }
    if let Some(limit) = worst.limit_wt_percent {
        text.push_str(" of ");
        text.push_str(&number::limit(limit));
    }
    text
}

fn unexplained(brief: &Brief) -> String {
    match (brief.unexplained, brief.unexplained_percent) {
        (0, _) => "none".to_owned(),
        (_, Some(percent)) => format!("{} %", number::significant(percent, 2)),
        (signals, None) => format!("{signals} signals"),
    }
}

/// One line for a log: `checked a.jdx: NEEDS DRYING, sum 0.62 (0.55 to 0.69) wt %, worst 2-propanol 0.62 of 0.5`.
///
/// ```
/// use lees_report::terminal::rack_line;
/// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/checked_dye.rs")); }
/// # use made::*;
/// let line = rack_line(&fraction("2", 0.2, 1.0, 0.0));
/// assert!(line.starts_with("checked 2.jdx: DRY, sum 0.20"), "{line}");
/// ```
#[must_use]
pub fn rack_line(brief: &Brief) -> String {
    let verdict = words::verdict(brief.verdict).to_uppercase();
    let warnings = brief.warnings.len();
    let warned = if warnings == 0 { String::new() } else { format!(", warnings {warnings}") };
    format!(
        "checked {}: {verdict}, sum {} wt %, worst {}, unexplained {}{warned}\n",
        clean(&brief.path),
        total(brief),
        worst(brief),
        unexplained(brief),
    )
}

fn tally(rows: &[RackRow<'_>], style: &Style) -> String {
    let mut counts = std::collections::BTreeMap::new();
    for row in rows {
        let word = match row {
            RackRow::Checked(brief) => words::verdict(brief.verdict),
            RackRow::Failed(..) => "failed",
        };
        *counts.entry(word).or_insert(0_usize) += 1;
    }
    let parts: Vec<_> = counts.iter().map(|(word, n)| words::counted(*n, word)).collect();
    let rule = style.rule().to_string().repeat(4);
    let spectra = if rows.len() == 1 { "spectrum" } else { "spectra" };
    format!("  {rule}\n  {} {spectra}: {}\n", rows.len(), parts.join(", "))
}

/// The fractions, cleanest first, as `order` ranks them.
///
/// ```
/// use lees_report::terminal::{Style, ranking};
/// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/checked_dye.rs")); }
/// # use made::*;
/// let rack = [fraction("wet", 2.0, 0.3, 0.0), fraction("dried", 0.2, 1.0, 0.0)]; // ethyl acetate in wt%, grams, hours
/// let text = ranking(&rack, &lees::rack::ranking(&rack), &Style::default());
/// assert!(text.find("dried") < text.find("wet"), "cleanest first");
/// ```
#[must_use]
pub fn ranking(rack: &[Brief], order: &[usize], style: &Style) -> String {
    let columns = [
        Column::right("", 3),
        Column::left("fraction", 8),
        Column::left("verdict", 12),
        Column::left("sum wt % (95 % interval)", 12),
        Column::left("worst volatile", 12),
        Column::right("unexplained", 11),
        Column::right("g", 4),
    ];
    let shown = order.iter().filter_map(|i| rack.get(*i)).take(MOST_RANKED).enumerate();
    let cells: Vec<Vec<Cell>> = shown
        .map(|(place, brief)| {
            vec![
                format!("{}.", place + 1).into(),
                clean(brief.label()).into(),
                Cell::toned(words::verdict(brief.verdict).to_uppercase(), tone(brief.verdict)),
                total(brief).into(),
                worst(brief).into(),
                unexplained(brief).into(),
                brief.tags.mass_g.map_or_else(String::new, number::limit).into(),
            ]
        })
        .collect();
    let more = order.len().saturating_sub(MOST_RANKED);
    let tail = if more > 0 { format!("  and {more} more\n") } else { String::new() };
    format!("{}{}{tail}", heading("Cleanest first", style), render(&columns, &cells, style))
}

/// Which fractions to pool, what the pool would contain, and why the others stay out.
///
/// ```
/// use lees_report::terminal::{Style, pool};
/// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/checked_dye.rs")); }
/// # use made::*;
/// let rack = [fraction("1", 2.0, 0.3, 0.0), fraction("2", 0.2, 1.0, 0.0)]; // ethyl acetate in wt%, grams, hours
/// let chosen = lees::rack::pool(&rack).expect("a limit is set");
/// assert!(pool(&rack, &chosen, &Style::default()).contains("pool 2"));
/// ```
#[must_use]
pub fn pool(rack: &[Brief], pool: &Pool, style: &Style) -> String {
    let mut out = heading("Pool", style);
    if pool.members.is_empty() {
        out.push_str("  No fraction meets the limits, alone or together.\n");
    } else {
        let names: Vec<&str> = pool.members.iter().filter_map(|i| rack.get(*i)).map(Brief::label).collect();
        let line = format!("pool {}", clean(&runs(&names)));
        out.push_str(&format!(
            "  {}: {}\n",
            style.paint(&line, Tone::Good),
            style.plain(&predicted(rack, pool))
        ));
        for content in pool.contents.iter().filter(|c| c.wt_percent.is_some()) {
            let limit =
                content.limit_wt_percent.map(|l| format!(", limit {}", number::limit(l))).unwrap_or_default();
            let wt = content.wt_percent.as_ref().map(number::interval).unwrap_or_default();
            out.push_str(&style.plain(&format!("    {} {wt} wt %{limit}\n", clean(&content.name))));
        }
    }
    for left in &pool.left_out {
        let name = rack.get(left.index).map(Brief::label).unwrap_or_default();
        out.push_str(&style.plain(&format!("  not {}: {}\n", clean(name), clean(&left.why))));
    }
    out
}

fn predicted(rack: &[Brief], pool: &Pool) -> String {
    let total = pool.total.as_ref().map_or_else(|| "n/a".to_owned(), number::interval);
    let content = format!("predicted sum of volatiles {total} wt %");
    match (pool.mass_g, &pool.product_g) {
        (Some(mass), Some(product)) => {
            format!("{} g, of it {} g product; {content}", number::bare(mass), number::bare(product.value))
        }
        _ => {
            let members = pool.members.iter().filter_map(|i| rack.get(*i));
            let (_, bare): (Vec<&Brief>, Vec<&Brief>) =
                members.partition(|brief| brief.tags.mass_g.is_some());
            let names: Vec<&str> = bare.iter().map(|brief| brief.label()).collect();
            let missing = match names.len() {
                n if n == 0 || n == pool.members.len() => "no masses given".to_owned(),
                1 => format!("{} has no mass", clean(names[0])),
                _ => format!("{} have no masses", clean(&runs(&names))),
            };
            format!("{content}, if the fractions weigh the same ({missing})")
        }
    }
}

/// Consecutive numbers as runs: `4-6, 9`.
fn runs(names: &[&str]) -> String {
    let mut parts: Vec<(String, String)> = Vec::new();
    for name in names {
        match parts.last_mut() {
            Some((_, end)) if follows(end, name) => *end = (*name).to_owned(),
            _ => parts.push(((*name).to_owned(), (*name).to_owned())),
        }
    }
    let text = |(start, end): (String, String)| if start == end { start } else { format!("{start}-{end}") };
    parts.into_iter().map(text).collect::<Vec<_>>().join(", ")
}

fn follows(before: &str, after: &str) -> bool {
    matches!((before.parse::<u64>(), after.parse::<u64>()), (Ok(a), Ok(b)) if a.checked_add(1) == Some(b))
}

/// Each batch over its time under drying.
///
/// ```
/// use lees_report::terminal::{Style, trends};
/// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/checked_dye.rs")); }
/// # use made::*;
/// let rack = [fraction("wet", 2.0, 1.0, 0.0), fraction("dried", 0.4, 1.0, 6.0)]; // ethyl acetate in wt%, grams, hours
/// let text = trends(&lees::rack::trends(&rack), &Style::default());
/// assert!(text.contains("LD-7"), "the batch: {text}");
/// ```
#[must_use]
pub fn trends(trends: &[Trend], style: &Style) -> String {
    let mut out = String::new();
    for trend in trends {
        let title = if trend.batch.is_empty() {
            "Drying".to_owned()
        } else {
            format!("Drying of {}", clean(&trend.batch))
        };
        out.push_str(&heading(&title, style));
        let columns = [
            Column::right("hours", 5),
            Column::left("sum wt % (95 % interval)", 12),
            Column::left("verdict", 12),
        ];
        let cells: Vec<Vec<Cell>> = trend
            .points
            .iter()
            .map(|point| {
                vec![
                    number::limit(point.hours).into(),
                    point.total.as_ref().map_or_else(|| "n/a".to_owned(), number::interval).into(),
                    Cell::toned(words::verdict(point.verdict).to_uppercase(), tone(point.verdict)),
                ]
            })
            .collect();
        out.push_str(&render(&columns, &cells, style));
        out.push_str(&format!("  {}\n", motion(trend.last_step)));
    }
    out
}

const fn motion(motion: Motion) -> &'static str {
    match motion {
        Motion::Falling => "The last step still took something out.",
        Motion::Still => "The last step changed nothing beyond the uncertainty.",
        Motion::Rising => "The content rose in the last step: another sample, or something taken up again?",
        Motion::Unknown => "What the last step did is not known.",
    }
}

fn heading(title: &str, style: &Style) -> String {
    format!("\n{}\n", style.paint(title, Tone::Strong))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_folder_in_common_is_said_once() {
        let row = |path| RackRow::Failed(path, "x");
        assert_eq!(common_folder(&[row("a/b/1"), row("a/b/2")]), "a/b/");
        assert_eq!(common_folder(&[row("a/b/1"), row("a/bc/2")]), "a/");
        assert_eq!(common_folder(&[row("/a/1"), row("/b/1")]), "/");
        assert_eq!(common_folder(&[row("a/1"), row("b/1")]), "");
        assert_eq!(common_folder(&[row("a/1")]), "");
        let text = rack(&[row("rack/a.jdx"), row("rack/b.jdx")], &Style::default());
        assert!(text.starts_with("  in rack/\n"), "{text}");
        assert!(text.contains("2 spectra: 2 failed"), "{text}");
    }

    #[test]
    fn consecutive_fractions_are_a_run() {
        assert_eq!(runs(&["4", "5", "6"]), "4-6");
        assert_eq!(runs(&["1", "3", "4", "9a"]), "1, 3-4, 9a");
        assert_eq!(runs(&["18446744073709551615", "0"]), "18446744073709551615, 0");
    }
}
