//! What is in a file, before any chemistry.

use lees_core::BlockSummary;
use serde::Serialize;

/// A file and its blocks.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct InspectFile {
    /// The path as given.
    pub path: String,
    /// Its blocks, in file order.
    pub blocks: Vec<BlockSummary>,
    /// What a careful reader should know.
    pub warnings: Vec<String>,
}

/// The file as one JSON object on one line.
///
/// ```
/// let file = lees_report::json::InspectFile { path: "a.jdx".into(), ..Default::default() };
/// assert_eq!(lees_report::json::inspect(&file), r#"{"path":"a.jdx","blocks":[],"warnings":[]}"#);
/// ```
#[must_use]
pub fn inspect(file: &InspectFile) -> String {
    super::line(file)
}
