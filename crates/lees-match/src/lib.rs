//! Which volatiles, how much, and the verdict. Opens no file.

pub mod advice;
pub mod amount;
mod assemble;
mod assign;
pub mod blank;
pub mod corrected_yield;
mod decide;
mod digits;
pub mod drying;
mod elsewhere;
mod error;
mod evidence;
mod finding;
mod fit;
mod hump;
mod identify;
pub mod interval;
pub mod limits;
pub mod lookup;
mod moved;
mod pattern;
mod product;
mod reference;
pub mod relaxation;
mod settings;
mod sharpness;
pub mod standard;
pub mod table;
pub mod uncertainty;
mod unexplained;
mod unseen;
pub mod verdict;

pub use error::MatchError;
pub use identify::{Beside, Explained, explain, explain_beside, identify};
pub use settings::Settings;
