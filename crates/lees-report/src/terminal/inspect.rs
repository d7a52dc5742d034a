//! What is in a file, as text.

use super::style::{Style, Tone};
use super::wrap::hanging;
use lees_core::BlockSummary;

use crate::json::InspectFile;
use crate::{clean, number};

/// The file's blocks, a short paragraph each, then the warnings. Ends in a line break.
///
/// ```
/// use lees_report::{json::InspectFile, terminal::{Style, inspect}};
/// let document = lees_format::read(b"9.0\t1\n8.5\t3\n8.0\t5\n7.5\t4\n7.0\t2\n", "a.txt", &Default::default())?;
/// let blocks = document.blocks.iter().map(|block| block.summary()).collect();
/// let file = InspectFile { path: "a.txt".into(), blocks, warnings: document.warnings };
/// assert!(inspect(&file, &Style::default()).contains("field not stated"));
/// # Ok::<(), lees_format::FormatError>(())
/// ```
#[must_use]
pub fn inspect(file: &InspectFile, style: &Style) -> String {
    let mut out = format!("{}\n", style.paint(&clean(&file.path), Tone::Strong));
    for (index, block) in file.blocks.iter().enumerate() {
        let prefix = format!("  {}. ", index + 1);
        out.push_str(&hanging(&prefix, &style.plain(&describe(block)), style.columns()));
    }
    for warning in &file.warnings {
        out.push_str(&hanging("  warning: ", &style.plain(&clean(warning)), style.columns()));
    }
    out
}

fn describe(block: &BlockSummary) -> String {
    let mut parts = Vec::new();
    if !block.title.is_empty() {
        parts.push(format!("\"{}\"", clean(&block.title)));
    }
    parts.push(format!("{} ({})", clean(&block.kind), clean(&block.data_type)));
    parts.push(block.nucleus.as_deref().map_or_else(|| "nucleus not stated".to_owned(), clean));
    parts.push(block.field_mhz.map_or_else(|| "field not stated".to_owned(), |f| format!("{f} MHz")));
    parts.push(block.solvent.as_deref().map_or_else(|| "solvent not stated".to_owned(), clean));
    parts.extend(block.points.map(|n| format!("{n} points")));
    parts.extend(axis(block));
    parts.extend(ordinates(block));
    parts.push(if block.has_imaginary { "real and imaginary part" } else { "real part only" }.to_owned());
    parts.join(", ")
}

fn axis(block: &BlockSummary) -> Option<String> {
    let (first, last) = (block.first_x?, block.last_x?);
    let unit = block.x_unit.as_deref().map(clean).unwrap_or_default();
    Some(format!("x {} to {} {unit}", number::significant(first, 6), number::significant(last, 6)))
}

fn ordinates(block: &BlockSummary) -> Option<String> {
    let (min, max) = (block.y_min?, block.y_max?);
    Some(format!("y {min:.4e} to {max:.4e}"))
}
