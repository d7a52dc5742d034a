//! The spectrum's maxima as the reference sees them: how each looks and how many others look like it.

use lees_core::{Line, LineKind};

use super::trace::Trace;
use crate::Processed;

/// Maxima looked at: the tallest.
const MOST: usize = 800;
/// A maximum lower than this many standard deviations of the noise is none.
const LEAST_SIGMAS: f64 = 4.5;
/// It stands out of the valleys beside it by so many standard deviations and this share of its height.
const STANDS_OUT: (f64, f64) = (4.0, 0.04);
/// Half the stretch over which like lines are counted, ppm.
const AROUND_PPM: f64 = 1.0;
/// Widening of a line's logarithmic height when like lines are counted.
const LIKE_HEIGHT: f64 = 1.0;
/// A line counts itself among the unrelated ones: density per unit of logarithmic height that one line adds at least.
const ITSELF: f64 = 0.2;
/// Share of lines with a partner whose partner is not recognised, for overlap.
const MISTAKEN: f64 = 0.15;
/// A fitted line this near a maximum, in line widths, is that maximum.
const THE_SAME: f64 = 0.35;
/// Partners in a multiplet lie this far apart, Hz (coupling constants of protons).
const COUPLINGS_HZ: (f64, f64) = (2.0, 20.0);
/// Partners are equally tall within this (logarithm) and three times the noise.
const ALIKE: f64 = 0.03;
/// The same when each has an equal partner elsewhere.
const FAIRLY_ALIKE: f64 = 0.1;
/// Partners may differ by this where roofing or overlap comes in (logarithm).
const ROUGHLY_ALIKE: f64 = 0.25;
/// A line as wide as this many common widths is blurred: more than one line may be in it.
const BLURRED: f64 = 1.2;
/// A second fitted line in a maximum blurs it from this share of the tallest on.
const SECOND: f64 = 0.15;
/// A line is lonely when no line over this share of its height stands within so many Hz.
const LONELY: (f64, f64) = (0.2, 25.0);

/// Whether a line has partners of a multiplet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Company {
    /// None.
    Alone,
    /// One that is only roughly as tall and has an equal one itself.
    Perhaps,
    /// An equal one, a roughly equal one without a better, or a pair of equal ones about it.
    Partner,
}

/// One maximum.
#[derive(Debug, Clone, Copy)]
pub(super) struct Peak {
    /// Its place in [`Peaks::all`].
    pub id: usize,
    pub shift: f64,
    pub shift_u: f64,
    /// The maximum's own place and its standard uncertainty, whatever was fitted.
    top: (f64, f64),
    /// Full width at half height as it stands in the spectrum, Hz.
    pub width: f64,
    pub height: f64,
    /// Logarithm of the height over the tallest's.
    pub ln_height: f64,
    /// Whether partners of a multiplet stand beside it.
    pub company: Company,
    /// A fitted line within another's maximum.
    pub hidden: bool,
    /// Called a satellite, a side band or a lobe by the line fit.
    pub artefact: bool,
    /// More than one line may be in it.
    pub blurred: bool,
    /// No other line of comparable height stands near.
    pub lonely: bool,
    /// Unrelated lines that look like it, per ppm and unit of logarithmic height.
    pub density: f64,
}

/// The maxima, by rising shift.
pub(super) struct Peaks<'a> {
    pub all: Vec<Peak>,
    pub trace: Trace<'a>,
    pub span: f64,
}

impl<'a> Peaks<'a> {
    pub(super) fn of(processed: &'a Processed) -> Self {
        let trace = Trace::of(processed);
        let mut all = maxima(processed, &trace);
        let hidden = hidden(&trace, &all);
        all.extend(hidden);
        all.sort_by(|a, b| b.height.total_cmp(&a.height));
        all.truncate(MOST);
        let tallest = all.first().map_or(1.0, |p| p.height);
        all.sort_by(|a, b| a.shift.total_cmp(&b.shift));
        for (id, peak) in all.iter_mut().enumerate() {
            peak.id = id;
            peak.ln_height = libm::log(peak.height / tallest);
        }
        let axis = &processed.spectrum.axis;
        let span = (axis.first() - axis.last()).0.abs().clamp(1.0, 12.0);
        let mut peaks = Self { all, trace, span };
        let looks: Vec<(Company, bool)> =
            peaks.all.iter().map(|p| (peaks.company(p), peaks.lonely(p))).collect();
        for (peak, look) in peaks.all.iter_mut().zip(looks) {
            (peak.company, peak.lonely) = look;
            // Several lines fitted into one lopsided maximum have no better position than it has itself.
            if peak.lonely && peak.blurred {
                (peak.shift, peak.shift_u) = peak.top;
            }
        }
        let densities: Vec<f64> = peaks.all.iter().map(|p| peaks.density(p)).collect();
        for (peak, density) in peaks.all.iter_mut().zip(densities) {
            peak.density = density;
        }
        peaks
    }

    /// Maxima within a stretch.
    pub(super) fn between(&self, low: f64, high: f64) -> &[Peak] {
        let from = self.all.partition_point(|p| p.shift < low);
        let to = self.all.partition_point(|p| p.shift <= high);
        self.all.get(from..to).unwrap_or_default()
    }

    /// Maxima within so many Hz of one, itself left out.
    fn beside(&self, peak: &Peak, hertz: f64) -> impl Iterator<Item = &Peak> {
        let reach = hertz / self.trace.field;
        let id = peak.id;
        self.between(peak.shift - reach, peak.shift + reach)
            .iter()
            .filter(move |other| other.id != id && !other.hidden)
    }

    fn density(&self, peak: &Peak) -> f64 {
        let norm = 1.0 / (LIKE_HEIGHT * std::f64::consts::TAU.sqrt());
        let like: f64 = self
            .between(peak.shift - AROUND_PPM, peak.shift + AROUND_PPM)
            .iter()
            .filter(|other| other.id != peak.id)
            .map(|other| {
                let share = match (peak.company, other.company) {
                    (a, b) if a == b => 1.0,
                    (Company::Perhaps, Company::Partner) => MISTAKEN,
                    _ => 0.0,
                };
                share * norm * libm::exp(-0.5 * ((other.ln_height - peak.ln_height) / LIKE_HEIGHT).powi(2))
            })
            .sum();
        (like + ITSELF) / (2.0 * AROUND_PPM)
    }

    fn company(&self, peak: &Peak) -> Company {
        if peak.hidden {
            return Company::Partner;
        }
        let around = self.partners(peak);
        let rough: Vec<&&Peak> =
            around.iter().filter(|other| self.alike(other, peak, ROUGHLY_ALIKE)).collect();
        let taken = |other: &Peak| self.partners(other).iter().any(|third| self.alike(other, third, ALIKE));
        let hertz = |other: &Peak| (other.shift - peak.shift) * self.trace.field;
        let lower = |other: &Peak| other.height < peak.height && other.height > 0.2 * peak.height;
        let flanked = around.iter().enumerate().filter(|(_, a)| lower(a)).any(|(k, a)| {
            around
                .iter()
                .skip(k + 1)
                .any(|b| (hertz(a) + hertz(b)).abs() < 0.4 * self.trace.fwhm && self.alike(a, b, 4.0 * ALIKE))
        });
        let near = rough.iter().any(|other| self.alike(other, peak, FAIRLY_ALIKE));
        if flanked || rough.iter().any(|other| self.alike(other, peak, ALIKE) || !taken(other)) {
            Company::Partner
        } else if !near {
            Company::Alone
        } else {
            Company::Perhaps
        }
    }

    /// The maxima within reach of a coupling.
    fn partners(&self, peak: &Peak) -> Vec<&Peak> {
        let near = COUPLINGS_HZ.0.max(1.2 * self.trace.fwhm) / self.trace.field;
        self.beside(peak, COUPLINGS_HZ.1).filter(|other| (other.shift - peak.shift).abs() >= near).collect()
    }

    fn alike(&self, a: &Peak, b: &Peak, within: f64) -> bool {
        libm::log(a.height / b.height).abs() < within + 3.0 * self.trace.sigma / a.height.min(b.height)
    }

    fn lonely(&self, peak: &Peak) -> bool {
        !self.beside(peak, LONELY.1).any(|other| other.height > LONELY.0 * peak.height)
    }
}

fn maxima(processed: &Processed, trace: &Trace<'_>) -> Vec<Peak> {
    let y = trace.values;
    let floor = LEAST_SIGMAS * trace.sigma;
    (1..y.len().saturating_sub(1))
        .filter(|i| y[*i] > floor && y[*i] > y[*i - 1] && y[*i] >= y[*i + 1])
        .filter_map(|i| peak(processed, trace, i))
        .collect()
}

/// Fitted lines that make no maximum of their own: they may be the middle of a pattern, no more.
fn hidden(trace: &Trace<'_>, maxima: &[Peak]) -> Vec<Peak> {
    let unit = trace.fwhm / trace.field;
    let mut places: Vec<f64> = maxima.iter().map(|p| p.shift).collect();
    places.sort_by(f64::total_cmp);
    let known = |shift: f64| {
        let next = places.partition_point(|p| *p < shift - 0.5 * THE_SAME * unit);
        places.get(next).is_some_and(|p| *p <= shift + 0.5 * THE_SAME * unit)
    };
    trace
        .lines
        .iter()
        .filter(|l| l.height > LEAST_SIGMAS * trace.sigma && l.shift.0.is_finite() && !known(l.shift.0))
        .map(|l| Peak {
            id: 0,
            shift: l.shift.0,
            shift_u: l.shift_u.0,
            top: (l.shift.0, l.shift_u.0),
            width: l.width.0,
            height: l.height,
            ln_height: 0.0,
            company: Company::Partner,
            hidden: true,
            artefact: true,
            blurred: true,
            lonely: false,
            density: 0.0,
        })
        .collect()
}

fn peak(processed: &Processed, trace: &Trace<'_>, at: usize) -> Option<Peak> {
    let height = trace.values[at];
    let valleys = trace.valley(at, -1).max(trace.valley(at, 1));
    if height - valleys < STANDS_OUT.0 * trace.sigma + STANDS_OUT.1 * height {
        return None;
    }
    let top = trace.top(at);
    let axis = &processed.spectrum.axis;
    let shift = axis.shift_at(top).0;
    let width = trace.width(at);
    let unit = trace.fwhm / trace.field;
    let (mut lines, main) = fitted(trace, shift, unit);
    let own_u = 0.5 * width / trace.field * trace.sigma / height;
    lines.retain(|l| l.height > SECOND * main.map_or(height, |m| m.height));
    let blurred = lines.len() > 1 || width > BLURRED * trace.fwhm;
    let near = |l: &&Line| (l.shift.0 - shift).abs() < THE_SAME * unit && l.height > 0.5 * height;
    let same = main.filter(near);
    let (place, u, height) = same.map_or((shift, own_u, height), |l| (l.shift.0, l.shift_u.0, l.height));
    let artefact = main.is_some_and(|l| {
        !matches!(l.kind, LineKind::Signal | LineKind::Spike) && (l.shift.0 - shift).abs() < unit
    });
    Some(Peak {
        id: 0,
        shift: place,
        shift_u: u,
        top: (shift, own_u),
        width,
        height,
        ln_height: 0.0,
        company: Company::Alone,
        hidden: false,
        artefact,
        blurred,
        lonely: true,
        density: 0.0,
    })
}

/// The fitted lines in a maximum, and the nearest tall one.
fn fitted<'a>(trace: &Trace<'a>, shift: f64, unit: f64) -> (Vec<&'a Line>, Option<&'a Line>) {
    let inside: Vec<&Line> = trace.lines_near(shift, 1.2 * unit).collect();
    let main = inside.iter().copied().max_by(|a, b| {
        let worth = |l: &Line| l.height / (1.0 + ((l.shift.0 - shift) / (0.5 * unit)).powi(2));
        worth(a).total_cmp(&worth(b))
    });
    (inside, main)
}
