//! Split patterns laid over the spectrum: where nothing covers them they must agree, for other signals only add.

use super::comb::{Comb, WIDTHS};
use super::peaks::Peak;
use super::trace::Trace;

/// A sample agrees within this share of the pattern's height there, and of its tallest.
pub(super) const AGREES: (f64, f64) = (0.12, 0.03);
/// And within so many standard deviations of the noise.
const AGREES_SIGMAS: f64 = 3.0;
/// A fitted line agrees within this share of the height it should have.
const LINE_AGREES: f64 = 0.2;
/// A fitted line is one of the pattern's within this share of the spacing.
const IN_PLACE: f64 = 0.12;
/// A pattern is told from a line, and a line from a pattern, by this much evidence (natural logarithm of odds).
const TELLING: f64 = 4.0;
/// Lower than this many standard deviations of the noise a pattern cannot be told.
const LEAST_SIGMAS: f64 = 8.0;
/// Lower than this many it may be displaced by a line.
const LOW_SIGMAS: f64 = 20.0;
/// A maximum lower than this many is not looked at.
const FAINT_SIGMAS: f64 = 5.5;
/// A pattern too weak to tell is at least this share of the maximum it lies on.
const OWN_SHARE: f64 = 0.5;
/// What it costs to say that something else stands at a place (natural logarithm).
const COVER: f64 = 4.0;
/// Of two patterns that share lines, one is left when it explains so much more (natural logarithm).
const CLEARLY: f64 = 3.0;
/// A spacing of so many line widths makes a maximum in the middle line's very place.
const WELL_APART: f64 = 1.5;
/// Centres tried about a maximum, in spacings, when the lines are not well apart.
const CENTRES: [f64; 5] = [0.0, -0.15, 0.15, -0.35, 0.35];

/// How well a pattern lies on the spectrum.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Fit {
    /// It contradicts.
    None,
    /// Too weak to tell.
    Weak,
    /// Where nothing covers it, it agrees.
    Partly,
    /// It agrees everywhere.
    Whole,
}

/// A pattern laid over one maximum.
#[derive(Debug, Clone, Copy)]
pub(super) struct Laid {
    pub fit: Fit,
    /// Where its centre is.
    pub shift: f64,
    pub shift_u: f64,
    /// Height of its middle line alone.
    pub scale: f64,
    /// Places where it agrees.
    agreeing: usize,
    /// A fitted line stands in its middle.
    centred: bool,
    /// Nothing else stands there.
    bare: bool,
    /// How much it explains, natural logarithm.
    gain: f64,
    comb: usize,
    width: usize,
}

/// The best of some patterns over every maximum they fit; of those that share lines the one that explains most.
pub(super) fn lay(combs: &[Comb], trace: &Trace<'_>, peaks: &[Peak]) -> Vec<(usize, Laid)> {
    let all: Vec<(usize, Laid)> =
        peaks.iter().filter_map(|peak| best(combs, trace, peak).map(|laid| (peak.id, laid))).collect();
    let shares = |a: &Laid, b: &Laid| {
        let comb = &combs[a.comb];
        (a.shift - b.shift).abs() * trace.field < (comb.sides as f64 + 0.5) * comb.spacing
    };
    let beaten = |id: usize, laid: &Laid| {
        all.iter()
            .any(|(other, rival)| *other != id && shares(laid, rival) && rival.gain > laid.gain + CLEARLY)
    };
    let kept = all.iter().filter(|(id, laid)| laid.fit < Fit::Partly || !beaten(*id, laid));
    kept.map(|(id, laid)| (*id, laid.settled(combs, trace, &peaks[*id]))).collect()
}

fn best(combs: &[Comb], trace: &Trace<'_>, peak: &Peak) -> Option<Laid> {
    let mut best: Option<Laid> = None;
    for (number, comb) in combs.iter().enumerate() {
        let sure = comb.spacing > WELL_APART * trace.fwhm;
        let centres = if sure { &CENTRES[..1] } else { &CENTRES[..] };
        for centre in centres {
            let place = peak.shift + centre * comb.spacing / trace.field;
            let Some(over) = Over::of(comb, trace, place) else { continue };
            for width in 0..WIDTHS.len() {
                let Some(laid) = over.compare(width).map(|laid| Laid { comb: number, ..laid }) else {
                    continue;
                };
                if best.is_none_or(|b| (laid.fit, laid.agreeing) > (b.fit, b.agreeing)) {
                    best = Some(laid);
                }
            }
            if peak.height < FAINT_SIGMAS * trace.sigma || best.is_some_and(|b| b.fit == Fit::Whole) {
                break;
            }
        }
    }
    let best = best.map(|b| {
        if b.fit >= Fit::Partly && displaced(combs, trace, &b) { Laid { fit: Fit::Weak, ..b } } else { b }
    });
    best.filter(|b| b.fit >= Fit::Partly || b.scale > OWN_SHARE * peak.height)
}

/// Whether a low pattern lies about as well one or two lines further along: noise can lift an outer line.
fn displaced(combs: &[Comb], trace: &Trace<'_>, laid: &Laid) -> bool {
    let comb = &combs[laid.comb];
    laid.scale < LOW_SIGMAS * trace.sigma
        && [-2.0, -1.0, 1.0, 2.0].iter().any(|lines| {
            let place = laid.shift + lines * comb.spacing / trace.field;
            Over::of(comb, trace, place).is_some_and(|over| {
                over.gain(laid.width, over.least_squares(laid.width)) > laid.gain - CLEARLY
            })
        })
}

impl Laid {
    /// The same with its position: the fitted line's when others cover parts, else by least squares.
    fn settled(self, combs: &[Comb], trace: &Trace<'_>, peak: &Peak) -> Self {
        let (shift, shift_u) = match self.fit {
            Fit::None | Fit::Weak => (peak.shift, peak.shift_u),
            Fit::Partly | Fit::Whole if self.centred && !self.bare => (peak.shift, peak.shift_u),
            Fit::Partly | Fit::Whole => combs[self.comb].settle(trace, self.shift, self.width, self.scale),
        };
        Self { shift, shift_u, ..self }
    }
}

/// A pattern over one place with what the spectrum shows there.
struct Over<'a, 't> {
    comb: &'a Comb,
    trace: &'a Trace<'t>,
    place: f64,
    /// Values at every half spacing, from the highest shift to the lowest.
    samples: Vec<f64>,
    /// The sample at the line that shows least of its share: where a pattern that is too high contradicts first.
    least: usize,
    /// Of each line of the pattern, the height of the fitted line in its place.
    lines: Vec<Option<f64>>,
}

impl<'a, 't> Over<'a, 't> {
    fn of(comb: &'a Comb, trace: &'a Trace<'t>, place: f64) -> Option<Self> {
        let unit = comb.spacing / trace.field;
        let reach = 2 * (comb.sides as isize + 1);
        let samples: Option<Vec<f64>> =
            (-reach..=reach).map(|m| trace.at(place - 0.5 * m as f64 * unit)).collect();
        let sides = comb.sides as isize;
        let fitted = |k: isize| {
            trace.lines_near(place - k as f64 * unit, IN_PLACE * unit).map(|l| l.height).reduce(f64::max)
        };
        let lines = (-sides..=sides).map(|k| if comb.apart { fitted(k) } else { None }).collect();
        let mut over = Self { comb, trace, place, samples: samples?, least: 0, lines };
        let shown = |k: &usize| over.samples[over.at_line(*k)] / comb.shares[k.abs_diff(comb.sides)];
        let least = (0..=2 * comb.sides).min_by(|a, b| shown(a).total_cmp(&shown(b)));
        over.least = over.at_line(least.unwrap_or(comb.sides));
        Some(over)
    }

    /// Index of the middle sample.
    fn middle(&self) -> usize {
        self.samples.len() / 2
    }

    /// Index of the sample at a line.
    fn at_line(&self, k: usize) -> usize {
        2 * k + self.middle() - 2 * self.comb.sides
    }

    /// The best agreement at one width. The height is that of one of the lines: which one nothing covers is not known.
    fn compare(&self, width: usize) -> Option<Laid> {
        let heights = &self.comb.heights[width];
        let flank = self.samples[0].min(self.samples[2 * self.middle()]).max(0.0);
        let low = heights[self.middle()];
        (0..=2 * self.comb.sides)
            .filter_map(|k| {
                let m = self.at_line(k);
                let at = heights[m.abs_diff(self.middle())];
                let scale = (self.samples[m] - flank) / (at - low);
                let ground = flank - scale * low;
                // Another signal at a flank is no ground.
                let usual = scale > 0.0 && ground > 0.0;
                self.agree(width, if usual { (ground, scale) } else { (0.0, self.samples[m] / at) })
            })
            .reduce(|a, b| if (a.fit, a.agreeing) < (b.fit, b.agreeing) { b } else { a })
    }

    fn agree(&self, width: usize, (ground, scale): (f64, f64)) -> Option<Laid> {
        let (comb, sigma) = (self.comb, self.trace.sigma);
        let heights = &comb.heights[width];
        let height = |m: usize| scale * heights[m.abs_diff(self.middle())];
        let room = |m: usize| AGREES_SIGMAS * sigma + AGREES.0 * height(m) + AGREES.1 * scale * heights[0];
        let over = |m: usize| self.samples[m] - ground - height(m);
        let (floors, slack) = (&comb.floors[width], AGREES_SIGMAS * sigma - ground);
        let contradicts = |m: usize| self.samples[m] + slack < scale * floors[m.abs_diff(self.middle())];
        if scale <= 0.0 || contradicts(self.least) || (0..self.samples.len()).any(contradicts) {
            return None;
        }
        let agrees = |m: usize| over(m) <= room(m);
        let agreeing = (0..self.samples.len()).filter(|m| agrees(*m)).count();
        let of_fit = |k: usize| {
            let share = scale * comb.shares[k.abs_diff(comb.sides)];
            let near = |h: f64| (h - share).abs() < AGREES_SIGMAS * sigma + LINE_AGREES * share;
            self.lines[k].is_some_and(near)
        };
        // The tail of a strong line may agree by chance, but has no tops.
        let top = |m: usize| !comb.apart || self.samples[m] > self.samples[m - 1].max(self.samples[m + 1]);
        let seen = |k: &usize| of_fit(*k) || (agrees(self.at_line(*k)) && top(self.at_line(*k)));
        let inner = seen(&comb.sides) && (seen(&(comb.sides - 1)) || seen(&(comb.sides + 1)));
        let count = (0..=2 * comb.sides).filter(seen).count();
        let told = self.told(width, ground, scale);
        let there = scale > LEAST_SIGMAS * sigma;
        let fit = if told < -TELLING {
            Fit::None
        } else if told < TELLING {
            Fit::Weak
        } else if there && (agreeing == self.samples.len() || self.nearly(agreeing, count)) {
            Fit::Whole
        } else if there && (count >= 2 * comb.sides || (inner && count > comb.sides)) {
            Fit::Partly
        } else {
            Fit::None
        };
        (fit != Fit::None).then(|| Laid {
            fit,
            shift: self.place,
            shift_u: f64::INFINITY,
            scale,
            agreeing,
            centred: of_fit(comb.sides),
            bare: agreeing == self.samples.len(),
            gain: self.gain(width, scale),
            comb: 0,
            width,
        })
    }

    /// Whether all lines are seen and little else stands between them.
    fn nearly(&self, agreeing: usize, lines: usize) -> bool {
        self.comb.apart && lines == 2 * self.comb.sides + 1 && 4 * agreeing > 3 * self.samples.len()
    }

    /// Evidence for the pattern against its middle line alone, where nothing covers it.
    fn told(&self, width: usize, ground: f64, scale: f64) -> f64 {
        let sigma = self.trace.sigma;
        let top = self.samples[self.middle()] - ground;
        let one = |m: usize| {
            let from = m.abs_diff(self.middle());
            let pattern = scale * self.comb.heights[width][from];
            let line = top * self.comb.alone[width][from];
            let y = self.samples[m] - ground;
            if y > pattern.max(line) + AGREES_SIGMAS * sigma + 0.3 * pattern {
                return 0.0;
            }
            let variance = sigma.powi(2) + (AGREES.0 * pattern.max(line)).powi(2);
            0.5 * ((y - line).powi(2) - (y - pattern).powi(2)) / variance
        };
        (0..self.samples.len()).map(one).sum()
    }

    /// Height of the pattern's middle line alone that fits the samples best.
    fn least_squares(&self, width: usize) -> f64 {
        let at = |m: usize| self.comb.heights[width][m.abs_diff(self.middle())];
        let all = 0..self.samples.len();
        let product: f64 = all.clone().map(|m| at(m) * self.samples[m]).sum();
        (product / all.map(|m| at(m).powi(2)).sum::<f64>()).max(0.0)
    }

    /// How much of the spectrum the pattern explains: others only add, at a cost that levels off.
    fn gain(&self, width: usize, scale: f64) -> f64 {
        let cost = |rest: f64, model: f64| {
            let half = 0.5 * rest * rest / (self.trace.sigma.powi(2) + (AGREES.0 * model).powi(2));
            if rest > 0.0 { half.min(COVER) } else { half }
        };
        let one = |m: usize| {
            let model = scale * self.comb.heights[width][m.abs_diff(self.middle())];
            cost(self.samples[m], 0.0) - cost(self.samples[m] - model, model)
        };
        (0..self.samples.len()).map(one).sum()
    }
}
