//! Columns that share a width.

use unicode_width::UnicodeWidthStr;

use super::style::{Style, Tone};
use super::wrap::wrap;

/// Blanks between columns.
const GAP: usize = 2;
/// Blanks before the first column.
const MARGIN: usize = 2;

#[derive(Clone, Copy)]
pub(super) struct Column {
    pub(super) title: &'static str,
    pub(super) right: bool,
    /// Narrowest useful width; columns are squeezed down to it, widest first.
    pub(super) least: usize,
}

impl Column {
    pub(super) const fn left(title: &'static str, least: usize) -> Self {
        Self { title, right: false, least }
    }

    pub(super) const fn right(title: &'static str, least: usize) -> Self {
        Self { title, right: true, least }
    }
}

#[derive(Clone, Default)]
pub(super) struct Cell {
    text: String,
    tone: Tone,
}

impl Cell {
    pub(super) fn toned(text: impl Into<String>, tone: Tone) -> Self {
        Self { text: text.into(), tone }
    }
}

impl<T: Into<String>> From<T> for Cell {
    fn from(text: T) -> Self {
        Self { text: text.into(), tone: Tone::Plain }
    }
}

/// The table as text, header first, no line wider than the style's width unless every column is at its least.
pub(super) fn render(columns: &[Column], rows: &[Vec<Cell>], style: &Style) -> String {
    let widths = widths(columns, rows, style.columns().saturating_sub(MARGIN));
    let header: Vec<Cell> = columns.iter().map(|c| Cell::toned(c.title, Tone::Quiet)).collect();
    let mut out = row(columns, &header, &widths, style);
    for cells in rows {
        out.push_str(&row(columns, cells, &widths, style));
    }
    out
}

fn widths(columns: &[Column], rows: &[Vec<Cell>], available: usize) -> Vec<usize> {
    let natural = |i: usize| rows.iter().filter_map(|r| r.get(i)).map(|c| c.text.width()).max().unwrap_or(0);
    let mut widths: Vec<usize> =
        columns.iter().enumerate().map(|(i, c)| natural(i).max(c.title.width())).collect();
    let gaps = GAP * columns.len().saturating_sub(1);
    while widths.iter().sum::<usize>() + gaps > available {
        let slack = |i: &usize| widths[*i].saturating_sub(columns[*i].least.max(1));
        let Some(widest) = (0..widths.len()).filter(|i| slack(i) > 0).max_by_key(slack) else { break };
        widths[widest] -= 1;
    }
    widths
}

fn row(columns: &[Column], cells: &[Cell], widths: &[usize], style: &Style) -> String {
    let wrapped: Vec<Vec<String>> =
        cells.iter().zip(widths).map(|(cell, &width)| wrap(&cell.text, width)).collect();
    let height = wrapped.iter().map(Vec::len).max().unwrap_or(0);
    (0..height).map(|k| line(columns, cells, &wrapped, widths, style, k)).collect()
}

fn line(
    columns: &[Column],
    cells: &[Cell],
    wrapped: &[Vec<String>],
    widths: &[usize],
    style: &Style,
    k: usize,
) -> String {
    let mut out = " ".repeat(MARGIN);
    for (i, cell) in cells.iter().enumerate() {
        let text = wrapped[i].get(k).map_or("", String::as_str);
        let padding = " ".repeat(widths[i].saturating_sub(text.width()));
        let painted = style.paint(text, cell.tone);
        let (before, after) = if columns[i].right { (padding.as_str(), "") } else { ("", padding.as_str()) };
        out.push_str(before);
        out.push_str(&painted);
        out.push_str(after);
        out.push_str(&" ".repeat(GAP));
    }
    format!("{}\n", out.trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    const COLUMNS: [Column; 3] = [Column::left("name", 8), Column::right("wt %", 4), Column::left("note", 8)];

    #[test]
    fn narrow_tables_wrap_the_widest_column() {
        let rows = [vec!["2-propanol".into(), "0.62".into(), "what remains after crystallisation".into()]];
        let style = Style { width: 40, ..Style::default() };
        let text = render(&COLUMNS, &rows, &style);
        assert!(text.lines().all(|l| l.width() <= 40), "{text}");
        assert!(text.lines().count() > 2);
        assert!(text.contains("2-propanol  0.62"), "{text}");
    }

    #[test]
    fn colour_changes_no_letter_and_no_place() {
        let rows = [vec!["a".into(), "1".into(), Cell::toned("above limit", Tone::Bad)]];
        let plain = render(&COLUMNS, &rows, &Style::default());
        let painted = render(&COLUMNS, &rows, &Style { color: true, ..Style::default() });
        assert!(painted.contains("\u{1b}[1;31mabove limit\u{1b}[0m"));
        let stripped = ["0", "1;31", "2"]
            .iter()
            .fold(painted, |text, code| text.replace(&format!("\u{1b}[{code}m"), ""));
        assert_eq!(stripped, plain);
    }
}
