//! A drying series.

use lees_core::check::Estimate;

use super::style::{Style, Tone};
use super::table::{Cell, Column, render};
use super::wrap::wrap;
use crate::{clean, number};

/// What is known of a drying series.
#[derive(Debug, Clone, PartialEq)]
pub struct DryingStory {
    /// What dries, such as `all volatiles`.
    pub of: String,
    /// Hours, file and content in wt%, in order of time.
    pub rows: Vec<(f64, String, Estimate)>,
    /// The best law in words, and its weight among those tried.
    pub law: Option<(String, f64)>,
    /// What can be said of the time to the limit.
    pub sentence: String,
    /// Things a careful reader should know.
    pub warnings: Vec<String>,
}

/// What always has to be said beside a drying time.
const CAUTION: &str = "A drying time holds for the same oven, vacuum, temperature and layer. Before warming, make sure that \
                       the product stands it; local rules and safety data sheets come first.";

/// The series as text: what can be said first, then the contents, the law, warnings and cautions.
///
/// ```
/// use lees_core::check::Estimate;
/// use lees_report::terminal::{DryingStory, Style, drying};
/// let story = DryingStory {
///     of: "all volatiles".into(),
///     rows: vec![(2.0, "batch-2-h.jdx".into(), Estimate { value: 1.53, low: 1.44, high: 1.69, u: 0.05 })],
///     law: None,
///     sentence: "One spectrum is no series.".into(),
///     warnings: Vec::new(),
/// };
/// let text = drying(&story, &Style::default());
/// assert!(text.starts_with("One spectrum is no series.") && text.contains("batch-2-h.jdx"));
/// ```
#[must_use]
pub fn drying(story: &DryingStory, style: &Style) -> String {
    let mut text = paragraph(&story.sentence, style, Tone::Strong);
    text += &format!("\n{}\n", style.paint(&format!("Content of {}", clean(&story.of)), Tone::Strong));
    let columns =
        [Column::right("hours", 5), Column::right("wt %  (95 % interval)", 10), Column::left("spectrum", 12)];
    let rows: Vec<Vec<Cell>> = story
        .rows
        .iter()
        .map(|(hours, path, content)| {
            vec![hours.to_string().into(), number::interval(content).into(), clean(path).into()]
        })
        .collect();
    text += &render(&columns, &rows, style);
    if let Some((law, weight)) = &story.law {
        text += &format!("\nBest law: {law} (weight {weight:.2} among the laws tried)\n");
    }
    for warning in &story.warnings {
        text += &paragraph(warning, style, Tone::Plain);
    }
    text + "\n" + &paragraph(CAUTION, style, Tone::Quiet)
}

fn paragraph(text: &str, style: &Style, tone: Tone) -> String {
    wrap(&clean(text), style.columns()).iter().map(|line| style.paint(line, tone) + "\n").collect()
}
