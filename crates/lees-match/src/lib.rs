//! Which volatiles, how much, and the verdict. Opens no file.

pub mod amount;
mod assign;
mod error;
mod evidence;
mod finding;
mod fit;
mod identify;
pub mod interval;
mod pattern;
mod product;
mod reference;
pub mod relaxation;
mod settings;
pub mod table;
pub mod uncertainty;
mod unexplained;

pub use error::MatchError;
pub use identify::identify;
pub use settings::Settings;
