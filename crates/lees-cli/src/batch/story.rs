//! What many spectra tell together, printed at the end.

use lees::rack::{pool, ranking, trends};
use lees_core::rack::Brief;
use lees_report::terminal::{self, RackRow, Style};

/// Spectra summed up on a terminal; of more, only this many rows are kept in memory and shown.
const MOST_ROWS: usize = 5_000;

/// One row to be.
pub(super) enum Line {
    Checked(Box<Brief>),
    Failed(String, String),
}

/// The rows of a run.
pub(super) struct Story {
    style: Style,
    lines: Vec<Line>,
    untold: usize,
}

impl Story {
    pub(super) const fn new(style: Style) -> Self {
        Self { style, lines: Vec::new(), untold: 0 }
    }

    pub(super) fn push(&mut self, line: Line) {
        if self.lines.len() < MOST_ROWS { self.lines.push(line) } else { self.untold += 1 }
    }

    /// The summary; with fractions also their ranking and the pool, with drying times the trend.
    pub(super) fn told(&self) -> String {
        let rows: Vec<RackRow<'_>> = self.lines.iter().map(row).collect();
        let mut text = terminal::rack(&rows, &self.style);
        if self.untold > 0 {
            text.push_str(&format!("  and {} more, not shown here\n", self.untold));
        }
        let briefs: Vec<Brief> = self.lines.iter().filter_map(checked).cloned().collect();
        text + &self.fractions(&briefs) + &terminal::trends(&trends(&briefs), &self.style)
    }

    fn fractions(&self, briefs: &[Brief]) -> String {
        let fractions: Vec<Brief> = briefs.iter().filter(|b| b.tags.fraction.is_some()).cloned().collect();
        if fractions.len() < 2 {
            return String::new();
        }
        let mut text = terminal::ranking(&fractions, &ranking(&fractions), &self.style);
        if let Some(pool) = pool(&fractions) {
            text.push_str(&terminal::pool(&fractions, &pool, &self.style));
        }
        text
    }
}

fn row(line: &Line) -> RackRow<'_> {
    match line {
        Line::Checked(brief) => RackRow::Checked(brief),
        Line::Failed(path, why) => RackRow::Failed(path, why),
    }
}

const fn checked(line: &Line) -> Option<&Brief> {
    match line {
        Line::Checked(brief) => Some(brief),
        Line::Failed(..) => None,
    }
}
