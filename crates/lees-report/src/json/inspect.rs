//! What is in a file, before any chemistry.

use serde::Serialize;

/// One block of a file, as plain values.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct InspectBlock {
    /// The block's title.
    pub title: String,
    /// The data type as the file names it.
    pub data_type: String,
    /// `fid`, `spectrum` or another word for what the block holds.
    pub kind: String,
    /// The nucleus, such as `1H`.
    pub nucleus: Option<String>,
    /// Observe frequency in MHz.
    pub field_mhz: Option<f64>,
    /// The NMR solvent's label.
    pub solvent: Option<String>,
    /// Number of points.
    pub points: Option<usize>,
    /// Unit of the x axis.
    pub x_unit: Option<String>,
    /// First x, in that unit.
    pub first_x: Option<f64>,
    /// Last x, in that unit.
    pub last_x: Option<f64>,
    /// First ordinate of the real part, file scaling applied.
    pub y_first: Option<f64>,
    /// Last ordinate.
    pub y_last: Option<f64>,
    /// Smallest ordinate.
    pub y_min: Option<f64>,
    /// Largest ordinate.
    pub y_max: Option<f64>,
    /// Sum of all ordinates.
    pub y_sum: Option<f64>,
    /// Whether an imaginary part is there.
    pub has_imaginary: bool,
}

/// A file and its blocks.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct InspectFile {
    /// The path as given.
    pub path: String,
    /// Its blocks, in file order.
    pub blocks: Vec<InspectBlock>,
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
