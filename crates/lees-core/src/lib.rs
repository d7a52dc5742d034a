//! Values only: what a proton spectrum, a product and a verdict *are*.
//!
//! No file is opened and nothing is fitted here. Every other floor of the house speaks in these types, so
//! that units cannot be mixed: a [`Ppm`] is not a [`Hertz`], and a [`MassFraction`] not a mole ratio.

mod acquisition;
mod axis;
pub mod check;
pub mod complex;
pub mod elements;
mod fid;
mod formula;
mod fraction;
mod inspect;
mod line;
mod multiplicity;
mod product;
pub mod rack;
mod setting;
mod spectrum;
mod units;

pub use acquisition::{Acquisition, Nucleus};
pub use axis::ShiftAxis;
pub use fid::Fid;
pub use formula::{Formula, FormulaError, on_the_line};
pub use fraction::{FractionError, MassFraction};
pub use inspect::BlockSummary;
pub use line::{Line, LineKind, Multiplet, Profile};
pub use multiplicity::{Multiplicity, UnknownMultiplicity};
pub use product::{ExpectedSignal, LimitSet, Product, ShiftRange};
pub use setting::{SettingError, SettingMap, SettingValue, change_setting, setting_list};
pub use spectrum::{Measurement, Spectrum};
pub use units::{Degrees, Hertz, Megahertz, Ppm, Seconds};
