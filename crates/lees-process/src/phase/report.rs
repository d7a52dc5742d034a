//! What phase correction found and did.

use lees_core::{Ppm, ShiftAxis};
use serde::{Deserialize, Serialize};

use super::Straight;

/// How the phase was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PhaseMethod {
    /// Complex line fits and a robust straight line of their phases.
    Lines,
    /// Least entropy of the first derivative, for want of strong lines.
    Entropy,
    /// Shapes of the real part only.
    RealShapes,
    /// Neither gave an answer; nothing was changed.
    None,
}

/// The phase of one fitted line.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LinePhase {
    /// Where the line lies.
    pub shift: Ppm,
    /// Its phase before correction, degrees, positive when the imaginary part leads.
    pub phase_deg: f64,
    /// Standard uncertainty of that phase, degrees.
    pub u_deg: f64,
    /// What is left after correction by the common straight line, degrees.
    pub residual_deg: f64,
    /// Height over noise.
    pub snr: f64,
    /// Whether it counted (false: an outlier).
    pub used: bool,
}

/// The phase found: at index `k` of `n` points it is `ph0 + ph1 (k - pivot) / n` degrees, and was taken off.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PhaseReport {
    /// Phase at the pivot, degrees.
    pub ph0_deg: f64,
    /// First-order phase, degrees over the whole spectrum (growing with the index).
    pub ph1_deg: f64,
    /// Index of the pivot: the lines' centre of gravity, where `ph0` and `ph1` are uncorrelated.
    pub pivot: f64,
    /// Standard uncertainty of `ph0`, degrees.
    pub u_ph0_deg: f64,
    /// Standard uncertainty of `ph1`, degrees.
    pub u_ph1_deg: f64,
    /// How it was found.
    pub method: PhaseMethod,
    /// Whether the spectrum was changed.
    pub applied: bool,
    /// The lines looked at, strongest first.
    pub lines: Vec<LinePhase>,
    /// What a reader should know.
    pub warnings: Vec<String>,
}

impl PhaseReport {
    /// A report of nothing found, nothing changed: zero phase of unknown uncertainty (infinite).
    #[must_use]
    pub(crate) fn nothing(warning: impl Into<String>) -> Self {
        Self {
            ph0_deg: 0.0,
            ph1_deg: 0.0,
            pivot: 0.0,
            u_ph0_deg: f64::INFINITY,
            u_ph1_deg: f64::INFINITY,
            method: PhaseMethod::None,
            applied: false,
            lines: Vec::new(),
            warnings: vec![warning.into()],
        }
    }

    /// Puts a phase found later in the place of one that was not taken off.
    pub(super) fn replace(&mut self, later: &Straight, axis: &ShiftAxis) {
        (self.ph0_deg, self.ph1_deg) = (0.0, 0.0);
        self.lines.iter_mut().for_each(|line| line.residual_deg = line.phase_deg);
        self.add(later, axis);
    }

    /// Adds a phase found and taken off later, which is the surer one: its pivot and uncertainties stand from now on.
    pub(super) fn add(&mut self, later: &Straight, axis: &ShiftAxis) {
        let points = axis.points();
        let pivot = later.pivot * points as f64;
        let turn = later.slope.to_degrees();
        for line in &mut self.lines {
            line.residual_deg -=
                later.at_pivot.to_degrees() + turn * (axis.position(line.shift) - pivot) / points as f64;
        }
        self.ph0_deg += self.ph1_deg * (pivot - self.pivot) / points as f64 + later.at_pivot.to_degrees();
        self.ph1_deg += turn;
        self.pivot = pivot;
        self.u_ph0_deg = later.u_at_pivot.to_degrees();
        if later.u_slope > 0.0 {
            self.u_ph1_deg = later.u_slope.to_degrees();
        }
    }

    /// Standard uncertainty of the phase at an index of a spectrum of `points` points, degrees.
    ///
    /// ```
    /// use lees_process::{Settings, Workspace, phase::automatic};
    /// use lees_spin::simulate::{Recipe, simulate};
    /// let mut spectrum = simulate(&Recipe::wet_dye()).expect("a sound recipe").spectrum;
    /// let report = automatic(&mut spectrum, &Settings::default().phase, &mut Workspace::new());
    /// let points = spectrum.axis.points();
    /// let (middle, end) = (report.u_at(report.pivot, points), report.u_at(0.0, points));
    /// assert!(middle == report.u_ph0_deg && end > middle, "least sure far from the lines");
    /// ```
    #[must_use]
    pub fn u_at(&self, index: f64, points: usize) -> f64 {
        let distance = (index - self.pivot) / points as f64;
        libm::hypot(self.u_ph0_deg, self.u_ph1_deg * distance)
    }
}
