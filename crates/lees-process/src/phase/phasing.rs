//! The phase of a spectrum from the first look to the last line.

use lees_core::Spectrum;

use super::left::{Least, phase_left};
use super::real::{self, Real, SEEN, SIGNIFICANT};
use super::{PhaseReport, PhaseSettings, correct};
use crate::Workspace;
use crate::lines::Found;

/// A phase error of a spectrum without imaginary part from which it is taken off at once, in degrees: lines found one by one
/// take part of each other's dispersion, and what is left is seen better once they are fitted together.
const PLAIN_DEG: f64 = 2.0;
/// A phase left is taken off a spectrum with an imaginary part when it is more than noise and seen beside some line: finding
/// the lines again costs more than what does no harm.
const LATE: Least = Least { significance: SIGNIFICANT, seen: SEEN, degrees: 0.0 };
/// ... and once more when it is at least this much, in degrees.
const AGAIN_DEG: f64 = 0.5;

/// What is known of a spectrum's phase while its lines are found.
pub(crate) struct Phasing<'a> {
    report: PhaseReport,
    settings: &'a PhaseSettings,
    /// Of a spectrum that came without imaginary part.
    real: Option<Real>,
}

impl<'a> Phasing<'a> {
    /// A first estimate, taken off. A spectrum without imaginary part keeps the recovered one until
    /// [`Phasing::conclude`].
    pub(crate) fn start(
        spectrum: &mut Spectrum,
        settings: &'a PhaseSettings,
        workspace: &mut Workspace,
    ) -> Self {
        let (report, real) = if spectrum.imaginary.is_none() {
            let (report, real) = Real::start(spectrum, settings, workspace, PLAIN_DEG);
            (report, Some(real))
        } else {
            (super::automatic(spectrum, settings, workspace), None)
        };
        Self { report, settings, real }
    }

    /// While lines are still being found: turns a spectrum without imaginary part by the phase that they show to be left. The
    /// first estimate of other spectra is better than what can be seen this early.
    pub(crate) fn early(&mut self, spectrum: &mut Spectrum, found: &Found) -> bool {
        self.real.is_some() && self.turn(spectrum, found, real::EARLY)
    }

    /// Once the lines are found, or found `again`: takes off the phase left, where it is large enough. Tells whether the spectrum
    /// was turned.
    pub(crate) fn late(&mut self, spectrum: &mut Spectrum, found: &Found, again: bool) -> bool {
        let mut least = if self.real.is_some() { real::LATE } else { LATE };
        if again {
            least.degrees = least.degrees.max(AGAIN_DEG);
        }
        self.turn(spectrum, found, least)
    }

    fn turn(&mut self, spectrum: &mut Spectrum, found: &Found, least: Least) -> bool {
        let may = self.real.as_ref().map_or(self.report.applied, |real| real.may_turn);
        if !may {
            return false;
        }
        let Some(left) = phase_left(found, spectrum, self.settings) else { return false };
        if !left.reaches(least) {
            if let Some(real) = &mut self.real {
                real.left = Some(left.line);
            }
            return false;
        }
        let (line, points) = (&left.line, spectrum.real.len() as f64);
        correct(spectrum, line.at_pivot.to_degrees(), line.slope.to_degrees(), line.pivot * points);
        if self.report.applied {
            self.report.add(line, &spectrum.axis);
        } else {
            self.report.replace(line, &spectrum.axis);
            self.report.applied = true;
        }
        true
    }

    /// What was found and done.
    pub(crate) fn conclude(self, spectrum: &mut Spectrum) -> PhaseReport {
        match self.real {
            Some(real) => real.conclude(self.report, spectrum),
            None => self.report,
        }
    }
}
