//! Many spectra side by side: what is kept of each, and what they tell together.

mod brief;
mod pool;
mod tags;
mod trend;
mod worst;

pub use brief::{Brief, Content};
pub use pool::{LeftOut, Pool};
pub use tags::Tags;
pub use trend::{Motion, Point, Trend};
pub use worst::{unexplained_percent, worst};
