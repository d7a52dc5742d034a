//! From FID to lines: processing. Knows no solvent table.
//!
//! [`process`] runs every step with one [`Settings`] value; the steps that are of use alone are public
//! functions over plain values. Frequencies inside the line fits are hertz to the right of the spectrum's first point, so that
//! they grow with the index; shifts in parts per million appear only at the rim.

pub mod area;
pub mod artefact;
pub mod baseline;
pub mod detect;
mod error;
mod factor;
pub mod fid;
mod inner;
pub mod lines;
pub mod lineshape;
pub mod multiplet;
pub mod noise;
pub mod phase;
mod process;
pub mod reference;
pub mod settings;
mod voigt;
mod workspace;

pub use error::ProcessError;
pub use inner::{correlate, dot};
pub use lineshape::LineShape;
pub use noise::Noise;
pub use process::{InputKind, Processed, process};
pub use settings::Settings;
pub use workspace::Workspace;
