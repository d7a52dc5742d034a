//! How well a pattern explains a run of lines.

use nalgebra::{DMatrix, DVector};

use super::pattern::{MOST_COUPLING_HZ, Pattern, Stick};

/// A line as the test sees it: place and area with standard uncertainties.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// Place, hertz, growing with the index.
    pub place: f64,
    /// Its standard uncertainty, hertz.
    pub place_u: f64,
    /// Area.
    pub area: f64,
    /// Its standard uncertainty.
    pub area_u: f64,
}

/// First order is an approximation: places are trusted to this many hertz ...
const PLACE_FLOOR_HZ: f64 = 0.04;
/// ... and areas to this share.
const AREA_FLOOR: f64 = 0.03;
/// Sticks nearer to one another than this many line widths are one line.
const MERGE_WIDTHS: f64 = 0.45;
/// Lines this many standard errors strong are seen for sure; weaker ones may be missing.
const SEEN: f64 = 6.5;
/// Price of every pair of lines a pattern has and the spectrum does not show.
const UNSEEN_COST: f64 = 1.5;
/// Smallest coupling told from a line width, hertz.
const LEAST_COUPLING_HZ: f64 = 0.8;
/// Strongest roof: outer to inner line of a doublet differ by this share at most.
const STRONGEST_ROOF: f64 = 0.75;
/// A priori spread of the roof slope.
const ROOF_SPREAD: f64 = 0.15;

/// A pattern fitted to lines.
#[derive(Debug, Clone, PartialEq)]
pub struct Trial {
    /// Couplings with standard uncertainties, hertz, in the pattern's order.
    pub couplings: Vec<(f64, f64)>,
    /// Chi-square of places and areas.
    pub chi2: f64,
    /// Half of chi-square plus the price of all parameters: the lowest wins.
    pub cost: f64,
}

/// Fits a pattern to marks sorted by place; `None` when it cannot be laid over them.
#[must_use]
pub(crate) fn try_pattern(pattern: &Pattern, marks: &[Mark], width: f64) -> Option<Trial> {
    let sticks = pattern.sticks();
    if marks.len() < 2 || marks.len() > sticks.len() {
        return None;
    }
    let missing_allowed = pattern.groups.len() == 1 && sticks.len() > 4;
    if marks.len() < sticks.len() && pattern.groups.len() == 1 && !missing_allowed {
        return None;
    }
    let places: Vec<f64> = marks.iter().map(|m| m.place).collect();
    let mut guesses = pattern.guesses(&places);
    if missing_allowed && marks.len() < sticks.len() {
        guesses = vec![vec![(places[places.len() - 1] - places[0]) / (places.len() as f64 - 1.0)]];
    }
    let fits =
        guesses.into_iter().filter_map(|guess| lay(&sticks, &guess, marks, width, pattern.most_coupling_hz));
    let best = fits.min_by(|a, b| a.chi2.total_cmp(&b.chi2))?;
    let unseen = if pattern.groups.len() == 1 { (sticks.len() - marks.len()) as f64 / 2.0 } else { 0.0 };
    let cost =
        best.chi2 / 2.0 + parameter_cost(marks, best.couplings.len()) + pattern.cost + UNSEEN_COST * unseen;
    Some(Trial { cost, ..best })
}

/// Price of the parameters: how much better than a flat guess the data fix them.
#[must_use]
pub(crate) fn parameter_cost(marks: &[Mark], couplings: usize) -> f64 {
    let strongest = marks.iter().copied().max_by(|a, b| a.area.total_cmp(&b.area));
    strongest.map_or(0.0, |m| price_of_place(&m) * (couplings as f64 + 1.0) + price_of_area(&m) + 1.0)
}

/// Price of a free line's place: a stretch of 20 Hz over its error.
#[must_use]
pub(crate) fn price_of_place(mark: &Mark) -> f64 {
    libm::log((MOST_COUPLING_HZ / place_error(mark)).max(2.0))
}

/// Price of a free line's area.
#[must_use]
pub(crate) fn price_of_area(mark: &Mark) -> f64 {
    libm::log((mark.area / area_error(mark)).max(2.0))
}

fn place_error(mark: &Mark) -> f64 {
    libm::hypot(mark.place_u, PLACE_FLOOR_HZ)
}

fn area_error(mark: &Mark) -> f64 {
    libm::hypot(mark.area_u, AREA_FLOOR * mark.area)
}

/// A line of the laid pattern: mean multiples and summed share of the sticks in it.
struct Laid {
    multiples: Vec<f64>,
    share: f64,
}

fn lay(sticks: &[Stick], couplings: &[f64], marks: &[Mark], width: f64, most: f64) -> Option<Trial> {
    let allowed = |j: &f64| *j >= LEAST_COUPLING_HZ.max(MERGE_WIDTHS * width) && *j <= most;
    if !couplings.iter().all(allowed) || couplings.windows(2).any(|w| w[0] < w[1] * 0.98) {
        return None;
    }
    let all = merge(sticks, couplings, width);
    let missing = all.len().checked_sub(marks.len())?;
    let fits = (missing / 2..=missing.div_ceil(2)).filter_map(|left| {
        let laid = visible(&all, left, missing - left, marks)?;
        let mut trial = solve(laid, couplings.len(), marks)?;
        trial.chi2 += areas(laid, &trial.couplings, marks);
        let sound = trial.couplings.iter().all(|(j, _)| allowed(j)) && trial.chi2.is_finite();
        sound.then_some(trial)
    });
    fits.min_by(|a, b| a.chi2.total_cmp(&b.chi2))
}

/// Sorts sticks by place and merges those that cannot be resolved.
fn merge(sticks: &[Stick], couplings: &[f64], width: f64) -> Vec<Laid> {
    let place = |s: &Stick| s.multiples.iter().zip(couplings).map(|(m, j)| m * j).sum::<f64>();
    let mut sorted: Vec<(f64, &Stick)> = sticks.iter().map(|s| (place(s), s)).collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut out: Vec<(f64, Laid)> = Vec::new();
    for (at, stick) in sorted {
        match out.last_mut() {
            Some((last, laid)) if at - *last < MERGE_WIDTHS * width => {
                let total = laid.share + stick.share;
                for (m, new) in laid.multiples.iter_mut().zip(&stick.multiples) {
                    *m = (*m * laid.share + new * stick.share) / total;
                }
                *last = (*last * laid.share + at * stick.share) / total;
                laid.share = total;
            }
            _ => out.push((at, Laid { multiples: stick.multiples.clone(), share: stick.share })),
        }
    }
    out.into_iter().map(|(_, laid)| laid).collect()
}

/// The lines one should see when `left` and `right` outer ones are missing; `None` when a missing one is too strong
/// to be missed.
fn visible<'a>(all: &'a [Laid], left: usize, right: usize, marks: &[Mark]) -> Option<&'a [Laid]> {
    let seen = all.get(left..all.len() - right)?;
    let share: f64 = seen.iter().map(|l| l.share).sum();
    let area: f64 = marks.iter().map(|m| m.area).sum();
    let weakest_u = marks.iter().map(|m| m.area_u).fold(f64::INFINITY, f64::min);
    let missed = all[..left].iter().chain(&all[all.len() - right..]).map(|l| l.share).fold(0.0, f64::max);
    (missed / share * area <= SEEN * weakest_u).then_some(seen)
}

/// Least squares of the places: centre and couplings.
fn solve(laid: &[Laid], couplings: usize, marks: &[Mark]) -> Option<Trial> {
    let n = marks.len();
    let q = couplings + 1;
    let row = |i: usize, k: usize| if k == 0 { 1.0 } else { laid[i].multiples[k - 1] };
    let weight = |i: usize| place_error(&marks[i]).recip();
    let matrix = DMatrix::from_fn(n, q, |i, k| row(i, k) * weight(i));
    let origin = marks[0].place;
    let vector = DVector::from_fn(n, |i, _| (marks[i].place - origin) * weight(i));
    let mut normal = matrix.transpose() * &matrix;
    for k in 0..q {
        normal[(k, k)] += 1e-9;
    }
    let inverse = normal.try_inverse()?;
    let answer = &inverse * matrix.transpose() * &vector;
    let left = vector - matrix * &answer;
    let exact_u = |k: usize| {
        // Reported errors come from the fit alone; the floor only guards the choice of pattern.
        let information: f64 = (0..n).map(|i| (row(i, k) / marks[i].place_u.max(1e-6)).powi(2)).sum();
        information.max(1e-12).sqrt().recip()
    };
    let found = (1..q).map(|k| (answer[k], exact_u(k))).collect();
    Some(Trial { couplings: found, chi2: left.norm_squared(), cost: 0.0 })
}

/// Chi-square of the areas with one total and one roof slope.
fn areas(laid: &[Laid], couplings: &[(f64, f64)], marks: &[Mark]) -> f64 {
    let place = |l: &Laid| l.multiples.iter().zip(couplings).map(|(m, j)| m * j.0).sum::<f64>();
    let reach = laid.iter().map(|l| place(l).abs()).fold(1e-9, f64::max);
    let (mut aa, mut ab, mut bb, mut ya, mut yb) = (0.0, 0.0, 0.0, 0.0, 0.0);
    let term = |i: usize| {
        let w = area_error(&marks[i]).recip();
        (w * laid[i].share, w * laid[i].share * place(&laid[i]) / reach, w * marks[i].area)
    };
    for i in 0..marks.len() {
        let (a, b, y) = term(i);
        aa += a * a;
        ab += a * b;
        bb += b * b;
        ya += y * a;
        yb += y * b;
    }
    // The roof slope is drawn to zero: total / spread is the error it would have a priori.
    let total = ya / aa.max(f64::MIN_POSITIVE);
    bb += (ROOF_SPREAD * total).powi(-2);
    let det = aa * bb - ab * ab;
    let (scale, slope) = ((ya * bb - yb * ab) / det, (yb * aa - ya * ab) / det);
    if slope.abs() > STRONGEST_ROOF * scale.abs() {
        return f64::INFINITY;
    }
    let misfit: f64 = (0..marks.len())
        .map(|i| {
            let (a, b, y) = term(i);
            (y - scale * a - slope * b).powi(2)
        })
        .sum();
    misfit + (slope / (ROOF_SPREAD * total)).powi(2)
}
