//! From lines to signals.

use lees_core::{Hertz, Line, LineKind, Megahertz, Multiplet, Multiplicity, Ppm, ShiftRange};
use serde::{Deserialize, Serialize};

/// Settings of grouping.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct MultipletSettings {
    /// Widest gap between neighbouring lines of one signal, hertz.
    pub widest_gap_hz: f64,
    /// A line at least this many times as wide as the common line is called broad.
    pub broad_factor: f64,
}

impl Default for MultipletSettings {
    fn default() -> Self {
        Self { widest_gap_hz: 18.0, broad_factor: 3.0 }
    }
}

/// Groups the signal lines (sorted by falling shift) of a spectrum.
#[must_use]
pub fn group(lines: &[Line], field: Megahertz, common_width: Hertz, settings: &MultipletSettings) -> Vec<Multiplet> {
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for k in (0..lines.len()).filter(|k| lines[*k].kind == LineKind::Signal) {
        let near = groups.last().and_then(|g| g.last()).is_some_and(|last| {
            (lines[*last].shift - lines[k].shift).to_hertz(field).0 < settings.widest_gap_hz
        });
        match groups.last_mut() {
            Some(group) if near => group.push(k),
            _ => groups.push(vec![k]),
        }
    }
    groups.into_iter().map(|group| describe(lines, group, field, common_width, settings)).collect()
}

fn describe(
    lines: &[Line],
    group: Vec<usize>,
    field: Megahertz,
    common_width: Hertz,
    settings: &MultipletSettings,
) -> Multiplet {
    let area: f64 = group.iter().map(|k| lines[*k].area).sum();
    let shift = Ppm(group.iter().map(|k| lines[*k].shift.0 * lines[*k].area).sum::<f64>() / area);
    let margin = common_width.to_ppm(field);
    let range = ShiftRange::new(lines[group[0]].shift, lines[group[group.len() - 1]].shift).widened(margin);
    let area_u = group.iter().map(|k| lines[*k].area_u.powi(2)).sum::<f64>().sqrt();
    let (multiplicity, couplings) = pattern(lines, &group, field, common_width, settings);
    Multiplet { shift, range, multiplicity, couplings, area, area_u, lines: group }
}

/// First-order pattern with equal spacing and binomial areas, else `m`.
fn pattern(
    lines: &[Line],
    group: &[usize],
    field: Megahertz,
    common_width: Hertz,
    settings: &MultipletSettings,
) -> (Multiplicity, Vec<(Hertz, Hertz)>) {
    let n = group.len();
    if n == 1 {
        let broad = lines[group[0]].width.0 > settings.broad_factor * common_width.0;
        let singlet = Multiplicity::singlet();
        return (if broad { singlet.broadened() } else { singlet }, Vec::new());
    }
    let position: Vec<f64> = group.iter().map(|k| lines[*k].shift.to_hertz_of(field)).collect();
    let spacing = (position[0] - position[n - 1]) / (n - 1) as f64;
    let even = (1..n).all(|i| (position[i - 1] - position[i] - spacing).abs() < 0.3f64.max(0.05 * spacing));
    let total: f64 = group.iter().map(|k| lines[*k].area).sum();
    let binomial = (0..n).all(|i| {
        let share = choose(n - 1, i) / 2f64.powi(n as i32 - 1);
        (lines[group[i]].area / total - share).abs() < 0.35 * share + 0.03
    });
    if n <= 9 && even && binomial {
        let ends = |k: usize| lines[group[k]].shift_u.to_hertz(field).0;
        let u = ends(0).hypot(ends(n - 1)) / (n - 1) as f64;
        return (Multiplicity::from_partners(vec![(n - 1) as u8]), vec![(Hertz(spacing), Hertz(u))]);
    }
    (Multiplicity::multiplet(), Vec::new())
}

trait HertzOf {
    fn to_hertz_of(self, field: Megahertz) -> f64;
}

impl HertzOf for Ppm {
    fn to_hertz_of(self, field: Megahertz) -> f64 {
        self.to_hertz(field).0
    }
}

fn choose(n: usize, k: usize) -> f64 {
    (0..k).map(|i| (n - i) as f64 / (i + 1) as f64).product()
}
