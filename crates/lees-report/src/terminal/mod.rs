//! What a chemist reads in five seconds: the verdict, what was found where, what is left unexplained.

mod check;
mod explain;
mod findings;
mod inspect;
mod rack;
mod style;
mod summary;
mod table;
mod wrap;

pub use check::check;
pub use explain::explain;
pub use inspect::inspect;
pub use rack::{RackRow, pool, rack, rack_line, ranking, trends};
pub use style::Style;
pub use summary::{Row, summary};
