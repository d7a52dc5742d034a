//! What there is to say about a block of a file at a glance.

use serde::Serialize;

/// What there is to say about a block at a glance; serialises to the object that an inspection prints.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct BlockSummary {
    /// Title.
    pub title: String,
    /// DATA TYPE as written.
    pub data_type: String,
    /// What it is.
    pub kind: String,
    /// Observed nucleus, such as `1H`.
    pub nucleus: Option<String>,
    /// Observe frequency in megahertz.
    pub field_mhz: Option<f64>,
    /// NMR solvent as labelled.
    pub solvent: Option<String>,
    /// Number of (complex) points.
    pub points: Option<usize>,
    /// Unit of the abscissa as written.
    pub x_unit: Option<String>,
    /// First abscissa, unit of the file; as its label states it, when it does.
    pub first_x: Option<f64>,
    /// Last abscissa, likewise.
    pub last_x: Option<f64>,
    /// First real ordinate.
    pub y_first: Option<f64>,
    /// Last real ordinate.
    pub y_last: Option<f64>,
    /// Smallest real ordinate.
    pub y_min: Option<f64>,
    /// Largest real ordinate.
    pub y_max: Option<f64>,
    /// Exactly rounded sum of the real ordinates.
    pub y_sum: Option<f64>,
    /// Whether there is an imaginary part.
    pub has_imaginary: bool,
}
