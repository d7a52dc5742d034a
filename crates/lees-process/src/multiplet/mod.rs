//! From lines to signals: runs of neighbouring lines are cut into patterns so that the whole costs least.

pub mod pattern;
pub mod trial;

use std::ops::Range;

use lees_core::{Hertz, Line, LineKind, Megahertz, Multiplet, Multiplicity, Ppm, ShiftRange};
use serde::{Deserialize, Serialize};

use pattern::{Pattern, patterns};
use trial::{Mark, price_of_area, price_of_place, try_pattern};

/// Most lines of one pattern.
const MOST_LINES: usize = 14;
/// Chi-square per line beyond which a pattern does not explain its lines.
const WORST_CHI2_PER_LINE: f64 = 12.0;

/// Settings of grouping.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct MultipletSettings {
    /// Widest gap between neighbouring lines of one signal, hertz.
    pub widest_gap_hz: f64,
    /// Neighbouring lines without a pattern and nearer than this are one signal `m`, hertz.
    pub unresolved_gap_hz: f64,
    /// A line at least this many times as wide as the common line is called broad.
    pub broad_factor: f64,
}

impl Default for MultipletSettings {
    fn default() -> Self {
        Self { widest_gap_hz: 19.0, unresolved_gap_hz: 9.0, broad_factor: 3.0 }
    }
}

/// Groups the signal lines (sorted by falling shift) of a spectrum to multiplets.
///
/// Runs of lines closer than the widest coupling are cut into consecutive patterns by dynamic programming: each
/// pattern pays for its misfit and its parameters, each lone line for its place and area. What no pattern
/// explains and lies close together is `m`. Broad lines stand alone.
///
/// ```
/// use lees_core::{Hertz, Line, LineKind, Megahertz, Ppm, Profile};
/// use lees_process::multiplet::{MultipletSettings, group};
/// let line = |hertz: f64, area: f64| Line {
///     shift: Ppm(hertz / 400.0), shift_u: Ppm(1e-5), width: Hertz(1.0), height: area, area, area_u: 0.01,
///     profile: Profile::Common, kind: LineKind::Signal, parent: None,
/// };
/// let lines = [line(1607.1, 1.0), line(1600.0, 2.0), line(1592.9, 1.0)];
/// let found = group(&lines, Megahertz(400.0), Hertz(1.0), &MultipletSettings::default());
/// assert_eq!(found[0].multiplicity.to_string(), "t");
/// assert!((found[0].couplings[0].0.0 - 7.1).abs() < 1e-6);
/// ```
#[must_use]
pub fn group(
    lines: &[Line],
    field: Megahertz,
    common_width: Hertz,
    settings: &MultipletSettings,
) -> Vec<Multiplet> {
    let grouper = Grouper { lines, field, width: common_width.0, settings, patterns: patterns() };
    let signals: Vec<usize> = (0..lines.len()).filter(|k| lines[*k].kind == LineKind::Signal).collect();
    let (broad, sharp): (Vec<usize>, Vec<usize>) = signals.into_iter().partition(|k| grouper.is_broad(*k));
    let mut found: Vec<Multiplet> = broad.into_iter().map(|k| grouper.describe(&[k], Piece::Lone)).collect();
    for run in grouper.runs(&sharp) {
        found.extend(grouper.cut(&run));
    }
    found.sort_by(|a, b| b.shift.0.total_cmp(&a.shift.0));
    found
}

/// What a stretch of a run is.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Piece {
    Lone,
    Unresolved,
    Pattern(usize),
}

struct Grouper<'a> {
    lines: &'a [Line],
    field: Megahertz,
    width: f64,
    settings: &'a MultipletSettings,
    patterns: Vec<Pattern>,
}

impl Grouper<'_> {
    fn is_broad(&self, k: usize) -> bool {
        self.lines[k].width.0 > self.settings.broad_factor * self.width
    }

    fn mark(&self, k: usize) -> Mark {
        let line = &self.lines[k];
        Mark {
            place: -line.shift.to_hertz(self.field).0,
            place_u: line.shift_u.to_hertz(self.field).0,
            area: line.area,
            area_u: line.area_u,
        }
    }

    fn runs(&self, signals: &[usize]) -> Vec<Vec<usize>> {
        let mut runs: Vec<Vec<usize>> = Vec::new();
        for &k in signals {
            let gap = |last: usize| (self.lines[last].shift - self.lines[k].shift).to_hertz(self.field).0;
            match runs.last_mut() {
                Some(run) if run.last().is_some_and(|last| gap(*last) < self.settings.widest_gap_hz) => {
                    run.push(k)
                }
                _ => runs.push(vec![k]),
            }
        }
        runs
    }

    /// The cheapest way to cut a run into pieces.
    fn cut(&self, run: &[usize]) -> Vec<Multiplet> {
        let marks: Vec<Mark> = run.iter().map(|k| self.mark(*k)).collect();
        let n = run.len();
        let mut best: Vec<(f64, usize, Piece)> = vec![(0.0, 0, Piece::Lone)];
        for end in 1..=n {
            let mut least = (f64::INFINITY, end - 1, Piece::Lone);
            for start in end.saturating_sub(MOST_LINES)..end {
                let (cost, piece) = self.price(&marks[start..end]);
                if best[start].0 + cost < least.0 {
                    least = (best[start].0 + cost, start, piece);
                }
            }
            best.push(least);
        }
        let mut pieces: Vec<(Range<usize>, Piece)> = Vec::new();
        let mut end = n;
        while end > 0 {
            let (_, start, piece) = best[end];
            pieces.push((start..end, piece));
            end = start;
        }
        pieces.reverse();
        self.join(run, pieces)
    }

    /// Cost of one piece and what it is.
    fn price(&self, marks: &[Mark]) -> (f64, Piece) {
        let lone: f64 = marks.iter().map(|m| price_of_place(m) + price_of_area(m) + 2.0).sum();
        if marks.len() == 1 {
            return (lone, Piece::Lone);
        }
        let trials = self.patterns.iter().enumerate().filter_map(|(p, pattern)| {
            let trial = try_pattern(pattern, marks, self.width)?;
            (trial.chi2 < WORST_CHI2_PER_LINE * marks.len() as f64).then_some((trial.cost, Piece::Pattern(p)))
        });
        let unresolved = (if self.close(marks) { lone - 0.5 } else { f64::INFINITY }, Piece::Unresolved);
        trials
            .chain([unresolved])
            .fold((f64::INFINITY, Piece::Unresolved), |a, b| if b.0 < a.0 { b } else { a })
    }

    fn close(&self, marks: &[Mark]) -> bool {
        marks.windows(2).all(|w| w[1].place - w[0].place < self.settings.unresolved_gap_hz)
    }

    /// Joins neighbouring unresolved pieces and turns all into multiplets.
    fn join(&self, run: &[usize], pieces: Vec<(Range<usize>, Piece)>) -> Vec<Multiplet> {
        let mut joined: Vec<(Range<usize>, Piece)> = Vec::new();
        for (range, piece) in pieces {
            let near = |last: &Range<usize>| {
                self.close(&[self.mark(run[last.end - 1]), self.mark(run[range.start])])
            };
            match joined.last_mut() {
                Some((last, Piece::Unresolved)) if piece == Piece::Unresolved && near(last) => {
                    last.end = range.end
                }
                _ => joined.push((range, piece)),
            }
        }
        joined.into_iter().map(|(range, piece)| self.describe(&run[range], piece)).collect()
    }

    fn describe(&self, group: &[usize], piece: Piece) -> Multiplet {
        let lines: Vec<&Line> = group.iter().map(|k| &self.lines[*k]).collect();
        let area: f64 = lines.iter().map(|l| l.area).sum();
        let shift = Ppm(lines.iter().map(|l| l.shift.0 * l.area).sum::<f64>() / area.max(f64::MIN_POSITIVE));
        let margin = Hertz(lines.iter().map(|l| l.width.0).fold(self.width, f64::max)).to_ppm(self.field);
        let range = ShiftRange::new(lines[0].shift, lines[lines.len() - 1].shift).widened(margin);
        let area_u = lines.iter().map(|l| l.area_u.powi(2)).sum::<f64>().sqrt();
        let (multiplicity, couplings) = self.name(group, piece);
        Multiplet { shift, range, multiplicity, couplings, area, area_u, lines: group.to_vec() }
    }

    fn name(&self, group: &[usize], piece: Piece) -> (Multiplicity, Vec<(Hertz, Hertz)>) {
        match piece {
            Piece::Lone if self.is_broad(group[0]) => (Multiplicity::singlet().broadened(), Vec::new()),
            Piece::Lone => (Multiplicity::singlet(), Vec::new()),
            Piece::Unresolved => (Multiplicity::multiplet(), Vec::new()),
            Piece::Pattern(p) => {
                let marks: Vec<Mark> = group.iter().map(|k| self.mark(*k)).collect();
                let pattern = &self.patterns[p];
                let couplings =
                    try_pattern(pattern, &marks, self.width).map(|t| t.couplings).unwrap_or_default();
                let couplings = couplings.into_iter().map(|(j, u)| (Hertz(j), Hertz(u))).collect();
                (pattern.multiplicity.clone(), couplings)
            }
        }
    }
}
