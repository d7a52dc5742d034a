//! Spin systems to transitions to free induction decays.
//!
//! Two doors. [`SpinSystem::transitions`] gives the lines of a molecule at a field by quantum mechanics;
//! [`simulate::simulate`] makes a whole recording of known content out of a recipe: free induction decay,
//! spectrum and the truth behind them, with the faults a real probe, receiver and operator add.

mod basis;
mod component;
mod exact;
mod first_order;
mod manifold;
mod merge;
pub mod simulate;
mod system;

pub use system::{Method, Partner, PartnerSpin, Solved, SpinGroup, SpinSystem, Transition};
