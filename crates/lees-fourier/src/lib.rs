//! The discrete Fourier transform, for every floor that needs it, with the same digits on every machine.
//!
//! The planner of `rustfft` chooses its way by the processor at hand, and its factors come from the C library's sine:
//! both change the last digits from machine to machine. Here its butterflies, which have neither, are put together by
//! passes of our own, with factors by `libm`.

mod bluestein;
mod factors;
mod passes;
mod plan;

pub use plan::{Plan, Plans};
