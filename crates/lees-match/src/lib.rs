//! Which volatiles, how much, and the verdict. Opens no file.

mod error;
pub mod table;

pub use error::MatchError;
