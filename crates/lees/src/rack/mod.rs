//! What many spectra tell together: which fraction is cleanest, which to pool, how a batch dries.

mod pool;
mod ranking;
mod trend;

pub use pool::pool;
pub use ranking::ranking;
pub use trend::trends;

#[cfg(test)]
mod fixture;
