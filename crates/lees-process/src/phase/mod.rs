//! Phase correction: automatic from line fits, by entropy for want of lines, and a check of spectra without
//! imaginary part.

mod automatic;
mod cluster;
mod correct;
mod entropy;
mod gram;
mod group;
mod hilbert;
mod joint;
mod left;
mod lines;
mod peaks;
mod phasing;
mod pole;
mod quiet;
mod real;
mod report;
mod settings;
mod straight;

pub use automatic::{automatic, delay_left};
pub use correct::{correct, turn};
pub use entropy::{EntropyPhase, entropy_phase};
pub use group::group_lines;
pub use hilbert::{Recovered, recover_imaginary};
pub use lines::{FittedLine, fit_lines};
pub use peaks::{Candidate, candidates};
pub(crate) use phasing::Phasing;
pub use pole::{LocalBase, Pole, PoleFit, Stretch, fit_pole};
pub use quiet::{ComplexNoise, complex_noise};
pub use real::check_real;
pub use report::{LinePhase, PhaseMethod, PhaseReport};
pub use settings::PhaseSettings;
pub use straight::{Angle, Straight, straight};
