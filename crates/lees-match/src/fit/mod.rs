//! Numbers out of the spectrum: line templates, local amplitudes, joint least squares in windows.
//!
//! Positions are hertz to the right of the spectrum's first point, so that they grow with the index, as in
//! `lees-process`.

pub(crate) mod scene;
pub(crate) mod solve;
mod sum;
pub(crate) mod template;
pub(crate) mod whole;
pub(crate) mod window;
