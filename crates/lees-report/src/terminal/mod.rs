//! What a chemist reads in five seconds: the verdict, what was found where, what is left unexplained.

mod check;
mod drying;
mod explain;
mod findings;
mod inspect;
mod lookup;
mod rack;
mod style;
mod summary;
mod table;
mod wrap;

pub use check::check;
pub use drying::{DryingStory, drying};
pub use explain::explain;
pub use inspect::inspect;
pub use lookup::{LookupRow, lookup};
pub use rack::{RackRow, pool, rack, rack_line, ranking, trends};
pub use style::Style;
pub use summary::{Row, summary};
