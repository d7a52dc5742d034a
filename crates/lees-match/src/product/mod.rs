//! The product: its expected signals, what is found there, and how much of it there is.

pub(crate) mod amount;
pub(crate) mod region;
