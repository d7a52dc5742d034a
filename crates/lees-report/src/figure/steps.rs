//! The steps of processing one under the other: what came in with its baseline, the fitted lines, what they leave.

use lees_core::check::Check;
use lees_core::{ShiftRange, Spectrum};
use plotters::style::RGBColor;
use plotters::style::text_anchor::HPos;

use super::axis::Axis;
use super::color::{BLUE, GREY, INK, VERMILION};
use super::font::Ruler;
use super::frame::Frame;
use super::sample::envelope;
use super::sheet::{Look, PT, Pen, Sheet, mm};
use super::{Svg, font};
use crate::{ReportError, clean};

/// Intermediate values, one per point of the checked spectrum.
#[derive(Debug, Clone, Copy)]
pub struct Steps<'a> {
    /// What was removed as baseline.
    pub baseline: &'a [f64],
    /// The sum of all fitted lines.
    pub model: &'a [f64],
    /// Standard deviation of each point's noise.
    pub noise: &'a [f64],
}

/// Width of the sheet in mm: a page.
const WIDTH_MM: f64 = 178.0;
/// Height of each panel in mm.
const PANEL_MM: f64 = 42.0;
/// Paper above each panel, for its heading, in mm.
const HEADING_MM: f64 = 6.0;
/// Paper at the sides in mm.
const SIDE_MM: f64 = 4.0;
/// Font size in points.
const TEXT_PT: f64 = 7.0;
/// The scale of the upper panels is this many times the noise, or ...
const LOW_SIGMAS: f64 = 60.0;
/// ... this many times the largest baseline, whichever is more.
const OVER_BASELINE: f64 = 1.5;
/// Half the scale of the residual panel in noise.
const RESIDUAL_SIGMAS: f64 = 8.0;
/// Lines of chance: a point outside is rare.
const CHANCE_SIGMAS: f64 = 3.0;
/// Width of a column of the drawn curve, in mm.
const COLUMN_MM: f64 = 0.07;

/// Draws raw spectrum and baseline, spectrum and fitted lines, and the residual in units of the noise, on one shift axis.
///
/// Tall lines are cut: the figure is for judging the foot of the spectrum.
///
/// # Errors
/// [`ReportError`] when a step has another length than the spectrum, or the drawing library refuses.
///
/// ```
/// use lees_report::figure::{Steps, steps};
/// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/checked_dye.rs")); }
/// # use made::*;
/// let check = checked_dye(); // a dye with 1.4 wt% 2-propanol
/// let points = check.spectrum.real.len();
/// let (nothing, noise) = (vec![0.0; points], vec![check.noise; points]);
/// let of = Steps { baseline: &nothing, model: &nothing, noise: &noise };
/// assert!(steps(&check, &of)?.as_str().starts_with("<svg"));
/// assert!(steps(&check, &Steps { noise: &noise[1..], ..of }).is_err(), "one value a point");
/// # Ok::<(), lees_report::ReportError>(())
/// ```
pub fn steps(check: &Check, steps: &Steps<'_>) -> Result<Svg, ReportError> {
    let values = check.spectrum.real.as_slice().unwrap_or_default();
    let fits = [steps.baseline, steps.model, steps.noise].iter().all(|step| step.len() == values.len());
    if values.is_empty() || !fits {
        return Err(ReportError::Empty);
    }
    let each = |f: &dyn Fn(usize) -> f64| (0..values.len()).map(f).collect::<Vec<f64>>();
    let raw = each(&|i| values[i] + steps.baseline[i]);
    let residual = each(&|i| (values[i] - steps.model[i]) / steps.noise[i].max(f64::MIN_POSITIVE));
    let roll = steps.baseline.iter().fold(0.0f64, |most, b| most.max(b.abs()));
    let low = (LOW_SIGMAS * check.noise).max(OVER_BASELINE * roll);
    let level = |sigmas: f64| vec![sigmas; values.len()];
    let (over, under) = (level(CHANCE_SIGMAS), level(-CHANCE_SIGMAS));
    let panels = [
        Panel {
            heading: "phased, before the baseline was removed (black); baseline (orange)".to_owned(),
            curves: vec![(&raw, INK), (steps.baseline, VERMILION)],
            ends: (-low / 2.0, low),
        },
        Panel {
            heading: "baseline removed (black), fitted lines (blue)".to_owned(),
            curves: vec![(values, INK), (steps.model, BLUE)],
            ends: (-low / 4.0, low),
        },
        Panel {
            heading: format!(
                "residual over local noise, -{RESIDUAL_SIGMAS} to {RESIDUAL_SIGMAS}; grey: {CHANCE_SIGMAS} times the noise"
            ),
            curves: vec![(&residual, INK), (&over, GREY), (&under, GREY)],
            ends: (-RESIDUAL_SIGMAS, RESIDUAL_SIGMAS),
        },
    ];
    draw(check, &panels)
}

/// Curves over one stretch of values.
struct Panel<'a> {
    heading: String,
    curves: Vec<(&'a [f64], RGBColor)>,
    /// Lowest and highest value shown.
    ends: (f64, f64),
}

fn draw(check: &Check, panels: &[Panel<'_>]) -> Result<Svg, ReportError> {
    let axis = check.spectrum.axis;
    let range = ShiftRange { high: axis.first(), low: axis.last() };
    let size = TEXT_PT * PT;
    let height = panels.len() as f64 * mm(PANEL_MM + HEADING_MM) + Axis::Full.height(size) + mm(2.0);
    let mut sheet = Sheet::new(mm(WIDTH_MM), height);
    let (left, right) = (mm(SIDE_MM), mm(WIDTH_MM - SIDE_MM));
    let mut top = 0.0;
    for panel in panels {
        let place = Place {
            frame: Frame::new(range, 1.0, left, right, top + mm(HEADING_MM), top + mm(HEADING_MM + PANEL_MM)),
            ends: panel.ends,
        };
        sheet.group("heading", &[], |pen| {
            let look = Look::new(size, INK).align(HPos::Left);
            pen.text(&panel.heading, (left, top + mm(4.0)), look)
        })?;
        for (values, color) in &panel.curves {
            sheet.group("step", &[], |pen| place.curve(pen, &check.spectrum, values, *color))?;
        }
        top += mm(HEADING_MM + PANEL_MM);
    }
    let frame = Frame::new(range, 1.0, left, right, 0.0, top);
    Axis::Full.draw(&mut sheet, &frame, top, size, &Ruler::new()?)?;
    Ok(sheet.finish(&format!("Steps of {}", clean(&check.input.path)), &font::css()))
}

/// A panel on the sheet.
struct Place {
    frame: Frame,
    ends: (f64, f64),
}

impl Place {
    fn y(&self, value: f64) -> f64 {
        let (low, high) = self.ends;
        let share = ((value - low) / (high - low)).clamp(0.0, 1.0);
        self.frame.base - share * (self.frame.base - self.frame.top)
    }

    fn curve(
        &self,
        pen: &Pen<'_, '_>,
        spectrum: &Spectrum,
        values: &[f64],
        color: RGBColor,
    ) -> Result<(), ReportError> {
        let columns = ((self.frame.right - self.frame.left) / mm(COLUMN_MM)).ceil() as usize;
        let mut drawn = spectrum.clone();
        drawn.real.iter_mut().zip(values).for_each(|(point, value)| *point = *value);
        let points = envelope(&drawn, self.frame.range, columns);
        let path: Vec<(f64, f64)> =
            points.iter().map(|&(shift, v)| (self.frame.x(shift), self.y(v))).collect();
        pen.path(&path, 14.0, color)
    }
}
