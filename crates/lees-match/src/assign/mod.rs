//! Which molecules are there: probing each against the spectrum, accepting the best, peeling it off, and again.

pub(crate) mod bound;
pub(crate) mod context;
pub(crate) mod memory;
pub(crate) mod molecule;
mod partner;
pub(crate) mod probe;
pub(crate) mod quantify;
pub(crate) mod search;
pub(crate) mod water;
pub(crate) mod wide;
