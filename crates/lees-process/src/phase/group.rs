//! Lines that share a multiplet share a phase.

use lees_core::complex::{argument, modulus};
use num_complex::Complex64;

use super::cluster::fit_cluster;
use super::quiet::ComplexNoise;
use super::{FittedLine, Pole};

/// Lines closer than this many half widths count as one group: neighbours so close take part of each other's
/// dispersion, one gaining the phase the other loses, and only their sum is right.
const GAP_HALF_WIDTHS: f64 = 30.0;
/// Groups fitted jointly, strongest first: the others add little to the phase.
const MOST_JOINT: usize = 15;
/// Misfit of a joint fit, in deviations of noise, that tells of lines that are no Lorentzians.
pub(super) const ODD_SHAPE: f64 = 3.0;

/// Sums the complex amplitudes of neighbouring lines: one entry a group, at its centre of gravity, with the
/// phase of the sum. Errors by overlap, of opposite sign within a multiplet, cancel.
///
/// ```
/// use lees_process::phase::{FittedLine, Pole, group_lines};
/// use num_complex::Complex64;
/// let line = |position: f64, phase: f64| FittedLine {
///     pole: Pole { position, half_width: 2.0, amplitude: Complex64::from_polar(10.0, phase) },
///     phase, u: 0.01, u_shape: 0.0, snr: 100.0,
/// };
/// let groups = group_lines(&[line(100.0, 0.5), line(110.0, 0.3), line(900.0, 0.4)]);
/// assert_eq!(groups.len(), 2);
/// assert!(groups.iter().all(|g| (g.phase - 0.4).abs() < 1e-9));
/// ```
#[must_use]
pub fn group_lines(lines: &[FittedLine]) -> Vec<FittedLine> {
    let (sorted, gap) = sorted(lines);
    let groups = sorted.chunk_by(|a, b| b.pole.position - a.pole.position <= gap);
    let mut summed: Vec<FittedLine> = groups.filter_map(sum).collect();
    summed.sort_by(|a, b| b.snr.total_cmp(&a.snr));
    summed
}

/// The lines by position, and the largest gap within a group.
fn sorted(lines: &[FittedLine]) -> (Vec<FittedLine>, f64) {
    let mut sorted = lines.to_vec();
    sorted.sort_by(|a, b| a.pole.position.total_cmp(&b.pole.position));
    (sorted, GAP_HALF_WIDTHS * usual_width(lines))
}

/// Median half width.
fn usual_width(lines: &[FittedLine]) -> f64 {
    let mut widths: Vec<f64> = lines.iter().map(|line| line.pole.half_width).collect();
    widths.sort_by(f64::total_cmp);
    widths.get(widths.len() / 2).copied().unwrap_or(0.0)
}

/// Groups of lines that are fitted jointly, and the usual half width of a line.
pub(super) struct Clusters {
    groups: Vec<Group>,
    usual: f64,
}

struct Group {
    /// The sum of the lines fitted one by one.
    plain: FittedLine,
    /// What stands for all: the joint fit, or the sum where that says more.
    line: FittedLine,
    poles: Vec<Pole>,
}

impl Group {
    fn of(lines: &[FittedLine]) -> Option<Self> {
        let plain = sum(lines)?;
        Some(Self { plain, line: plain, poles: lines.iter().map(|line| line.pole).collect() })
    }

    /// Takes a joint fit, unless it leaves far more than noise and the lines one by one are surer: no Lorentzians then,
    /// and lines were invented to mend the shape.
    fn take(&mut self, joint: FittedLine, poles: Vec<Pole>) {
        let total = |line: &FittedLine| libm::hypot(line.u, line.u_shape);
        if joint.u_shape > ODD_SHAPE * joint.u && total(&self.plain) < total(&joint) {
            self.line = self.plain;
        } else {
            self.line = FittedLine { snr: self.line.snr, ..joint };
            self.poles = poles;
        }
    }
}

impl Clusters {
    pub(super) fn new(lines: &[FittedLine]) -> Self {
        let (sorted, gap) = sorted(lines);
        let chunks = sorted.chunk_by(|a, b| b.pole.position - a.pole.position <= gap);
        let mut groups: Vec<Group> = chunks.filter_map(Group::of).collect();
        groups.sort_by(|a, b| b.line.snr.total_cmp(&a.line.snr));
        Self { groups, usual: usual_width(lines) }
    }

    /// The line that stands for each group, strongest first.
    pub(super) fn lines(&self) -> Vec<FittedLine> {
        self.groups.iter().map(|group| group.line).collect()
    }

    /// Fits the strongest groups, the lines of each sharing a phase that changes by `slope` radians a point, the others' tails taken
    /// off as they are known by then.
    pub(super) fn refine(&mut self, parts: (&[f64], &[f64]), slope: f64, noise: ComplexNoise) {
        for own in 0..self.groups.len().min(MOST_JOINT) {
            let elsewhere = self.groups.iter().enumerate().filter(|(other, _)| *other != own);
            let others: Vec<Pole> = elsewhere.flat_map(|(_, group)| group.poles.iter().copied()).collect();
            let group = &mut self.groups[own];
            if let Some((line, poles)) = fit_cluster(parts, &group.poles, &others, slope, self.usual, noise) {
                group.take(line, poles);
            }
        }
    }
}

/// One line that stands for a group.
fn sum(group: &[FittedLine]) -> Option<FittedLine> {
    let strongest = group.iter().max_by(|a, b| a.snr.total_cmp(&b.snr))?;
    let total: Complex64 = group.iter().map(|line| line.pole.amplitude).sum();
    let size = modulus(total);
    let combined = |u: fn(&FittedLine) -> f64| {
        group.iter().map(|line| (u(line) * modulus(line.pole.amplitude)).powi(2)).sum::<f64>().sqrt() / size
    };
    let (u, u_shape) = (combined(|line| line.u), combined(|line| line.u_shape));
    let whole = group.iter().map(|line| modulus(line.pole.amplitude) * line.pole.position).sum::<f64>()
        / group.iter().map(|line| modulus(line.pole.amplitude)).sum::<f64>();
    let mut pole = strongest.pole;
    pole.position = whole;
    pole.amplitude = total;
    (size > 0.0).then_some(FittedLine { pole, phase: argument(total), u, u_shape, snr: strongest.snr })
}
