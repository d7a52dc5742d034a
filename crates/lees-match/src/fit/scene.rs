//! The spectrum as the matcher sees it: points, noise, common line, fitted lines.

use lees_core::{Hertz, LineKind, Ppm, Profile, ShiftAxis};
use lees_process::lineshape::Row;
use lees_process::noise::Correlation;
use lees_process::{LineShape, Noise, Processed};

use super::template::{Pose, Stick, extent, trace};
use super::whole::{Usual, usual};

/// Within this many widths of a far stronger line, a line is that line's own lopsidedness.
const FOOT_WIDTHS: f64 = 12.0;
/// Such a line is at most this share of the stronger one.
const FOOT_SHARE: f64 = 0.02;

/// Half of a one-bond carbon-13 coupling, in hertz: 115 to 215 Hz in organic molecules (common practice, no source).
const SATELLITE_HALF_HZ: (f64, f64) = (57.0, 108.0);
/// One-bond couplings to carbon-13 by the parent's shift: up to that shift, from, to, in hertz (common practice, no source).
const COUPLING_BY_SHIFT: [(f64, f64, f64); 5] = [
    (2.9, 118.0, 142.0),
    (5.0, 130.0, 160.0),
    (6.0, 145.0, 185.0),
    (7.2, 150.0, 182.0),
    (12.0, 154.0, 215.0),
];
/// Area of one satellite over its parent's: 0.53 %, with room for noise and inner structure.
const SATELLITE_SHARE: (f64, f64) = (0.003, 0.0085);
/// The two satellites of a pair stand symmetrically about the parent within this, in hertz.
const MIRROR_HZ: f64 = 1.5;

/// Places looked at in a line's width.
const PLACES_PER_WIDTH: f64 = 3.0;
/// What is taken off is drawn this many widths beyond its outer lines.
const UNSEEN_WIDTHS: f64 = 6.0;

/// A fitted line, in hertz from the first point.
#[derive(Debug, Clone)]
pub(crate) struct SceneLine {
    /// Position.
    pub at: f64,
    /// Area, tails counted.
    pub area: f64,
    /// Standard uncertainty of the area.
    pub area_u: f64,
    /// Width over the common width.
    pub factor: f64,
    /// Its form.
    pub profile: Profile,
    /// What processing takes it for.
    pub kind: LineKind,
    /// Area that no named molecule has taken yet.
    pub left: f64,
    /// Area that named molecules have taken.
    pub taken: f64,
    /// Whether it is known from elsewhere, so that neither the product nor a molecule of the table may use it.
    pub set_aside: bool,
}

/// Area of lines and its variance.
pub(crate) fn total<'a>(lines: impl Iterator<Item = &'a SceneLine>) -> (f64, f64) {
    lines.fold((0.0, 0.0), |(a, v), line| (a + line.area, v + line.area_u * line.area_u))
}

impl SceneLine {
    /// Whether it is a signal that is still to be explained.
    pub(crate) fn is_signal(&self) -> bool {
        self.kind == LineKind::Signal && !self.set_aside
    }

    /// Nothing taken yet.
    const fn restore(&mut self) {
        self.left = self.area;
        self.taken = 0.0;
    }
}

/// What every step of the matching looks at.
#[derive(Clone)]
pub(crate) struct Scene<'a> {
    /// The real part: phased, baseline removed.
    pub y: &'a [f64],
    /// The imaginary part, for the effect of a phase error.
    pub quadrature: Option<&'a [f64]>,
    /// The referenced axis.
    pub axis: ShiftAxis,
    /// Hertz from point to point.
    pub hz: f64,
    /// Noise of one point, by index.
    pub sigma: Vec<f64>,
    /// What the fitted lines may be wrong by at one point, by index, beside noise.
    pub allowance: &'a [f64],
    /// Noise with its colour.
    pub noise: &'a Noise,
    /// Variance of a fitted line's area over that with white noise.
    pub colour: f64,
    /// The common line.
    pub shape: LineShape,
    /// A Lorentzian as wide.
    lorentzian: LineShape,
    /// Full width of the common line in hertz.
    pub width: f64,
    /// What fits leave of lines that stand alone.
    pub usual: Usual,
    /// Points from one place to the next where molecules are looked for.
    pub stride: usize,
    /// Noise of sums over so many points.
    strides: Correlation,
    /// Fitted lines by growing position.
    pub lines: Vec<SceneLine>,
    /// The spectrum without any fitted line.
    pub residual: Vec<f64>,
    /// The same without what named molecules have there: signals too small to be fitted as lines.
    pub open: Vec<f64>,
    /// Where so far something was taken off `open`, from, to and how much.
    pub unseen: Vec<(f64, f64, f64)>,
}

impl<'a> Scene<'a> {
    /// The scene of a processed spectrum on its referenced axis.
    pub(crate) fn of(processed: &'a Processed, axis: ShiftAxis) -> Self {
        let y = processed.spectrum.real.as_slice().unwrap_or(&[]);
        let quadrature = processed.spectrum.imaginary.as_ref().and_then(|q| q.as_slice());
        let hz = axis.hertz_per_point().0;
        let width = processed.shape.fwhm().0;
        let stride = (width / PLACES_PER_WIDTH / hz).floor().max(1.0) as usize;
        let old = processed.spectrum.axis;
        let mut lines: Vec<SceneLine> = processed
            .lines
            .iter()
            .map(|line| {
                let factor = line.width.0 / width;
                let at = old.position(line.shift) * hz - processed.shape.peak_offset().0 * factor;
                SceneLine {
                    at,
                    area: line.area,
                    area_u: line.area_u,
                    factor,
                    profile: line.profile,
                    kind: line.kind,
                    left: line.area,
                    taken: 0.0,
                    set_aside: false,
                }
            })
            .collect();
        lines.sort_by(|a, b| a.at.total_cmp(&b.at));
        let mut scene = Self {
            y,
            quadrature,
            axis,
            hz,
            sigma: processed.noise.sigmas(0..y.len()),
            allowance: processed.allowance.as_slice().unwrap_or(&[]),
            noise: &processed.noise,
            colour: 1.0,
            shape: processed.shape.clone(),
            lorentzian: LineShape::voigt(processed.shape.fwhm(), 1.0),
            width,
            usual: Usual::NONE,
            stride,
            strides: processed.noise.of_sums(stride),
            lines,
            open: Vec::new(),
            unseen: Vec::new(),
            residual: processed.spectrum.real.iter().zip(&processed.model).map(|(y, m)| y - m).collect(),
        };
        scene.open.clone_from(&scene.residual);
        scene.colour = scene.line_colour();
        scene.mark_satellites();
        scene.usual = usual(&scene);
        scene
    }

    /// No molecule has taken anything yet.
    pub(crate) fn restore(&mut self) {
        self.lines.iter_mut().for_each(SceneLine::restore);
        if !self.unseen.is_empty() {
            self.open.clone_from(&self.residual);
            self.unseen.clear();
        }
    }

    /// Takes sticks off what no fitted line accounts for; their shares times `area` are their areas.
    pub(crate) fn take_unseen(&mut self, sticks: &[Stick], at: f64, area: f64) {
        let (low, high) = extent(sticks, 0.0);
        let margin = UNSEEN_WIDTHS * self.width;
        let range = self.range(at + low - margin, at + high + margin);
        let pose = Pose { at, stretch: 1.0, factor: 1.0 };
        let drawn = trace(&self.shape, sticks, pose, self.hz, range.clone());
        self.open[range].iter_mut().zip(drawn).for_each(|(y, v)| *y -= area * v);
        self.unseen.push((at + low - margin, at + high + margin, area));
    }

    /// Marks lines that a much stronger line's carbon-13 satellites account for, where processing could not pair them
    /// because the other one of the pair is hidden.
    fn mark_satellites(&mut self) {
        let (least, most) = SATELLITE_HALF_HZ;
        for k in 0..self.lines.len() {
            let line = &self.lines[k];
            let candidates = [(line.at - most, line.at - least), (line.at + least, line.at + most)];
            let is_satellite = candidates.into_iter().flat_map(|(a, b)| self.lines_within(a, b)).any(|p| {
                let parent = &self.lines[p];
                let mirrored = 2.0 * parent.at - line.at;
                let partner = self.lines_within(mirrored - MIRROR_HZ, mirrored + MIRROR_HZ);
                let shared = |area: f64| area / parent.area;
                self.is_satellite_distance(parent, (parent.at - line.at).abs())
                    && (SATELLITE_SHARE.0..SATELLITE_SHARE.1).contains(&shared(line.area))
                    && self.lines[partner].iter().any(|other| shared(other.area) > SATELLITE_SHARE.0)
            });
            if is_satellite && self.lines[k].kind == LineKind::Signal {
                self.lines[k].kind = LineKind::CarbonSatellite;
            }
        }
    }

    /// Variance of a fitted amplitude of the common line, over that with white noise of the same size.
    fn line_colour(&self) -> f64 {
        let half = (3.0 * self.width / self.hz).ceil() as usize;
        let mut kernel = vec![0.0; 2 * half + 1];
        self.shape.add_row(Row::about(half as f64 * self.hz, 0.0, self.hz), 1.0, 1.0, &mut kernel);
        let white: f64 = kernel.iter().map(|v| v * v).sum();
        (self.noise.kernel_variance(&kernel) / white).max(1.0)
    }
}

impl Scene<'_> {
    /// The position of a shift.
    pub(crate) fn position(&self, shift: Ppm) -> f64 {
        self.axis.position(shift) * self.hz
    }

    /// The form of a fitted line, as processing drew it.
    pub(crate) fn shape_of(&self, line: &SceneLine) -> &LineShape {
        match line.profile {
            Profile::Common => &self.shape,
            Profile::Lorentzian => &self.lorentzian,
        }
    }

    /// What a fitted line gives at a position, in intensity units.
    pub(crate) fn value(&self, line: &SceneLine, position: f64) -> f64 {
        line.area * self.shape_of(line).value(Hertz(position - line.at), line.factor)
    }

    /// The shift at a position.
    pub(crate) fn shift(&self, position: f64) -> Ppm {
        self.axis.shift_at(position / self.hz)
    }

    /// The proton frequency in megahertz: hertz per part per million.
    pub(crate) fn field(&self) -> f64 {
        self.axis.field().0
    }

    /// Number of points.
    pub(crate) fn points(&self) -> usize {
        self.y.len()
    }

    /// The points between two positions, clipped to the spectrum.
    pub(crate) fn range(&self, from: f64, to: f64) -> std::ops::Range<usize> {
        let last = self.points() as f64;
        let start = (from / self.hz).ceil().clamp(0.0, last) as usize;
        let end = ((to / self.hz).floor() + 1.0).clamp(0.0, last) as usize;
        start..end.max(start)
    }

    /// Adds a line to points of which the first has this index.
    pub(crate) fn add_line(&self, line: &SceneLine, first: usize, points: &mut [f64]) {
        let row = Row::about(line.at, first as f64 * self.hz, self.hz);
        self.shape_of(line).add_row(row, line.factor, line.area, points);
    }

    /// Standard deviation of the inner product of unit noise, summed over strides, with a kernel.
    pub(crate) fn strides_sd(&self, kernel: &[f64]) -> f64 {
        self.strides.variance(kernel).max(0.0).sqrt()
    }

    /// The largest area, on either side, of a line whose carbon-13 satellites may stand at a position.
    pub(crate) fn satellite_parents(&self, position: f64) -> f64 {
        let (least, most) = SATELLITE_HALF_HZ;
        [(position - most, position - least), (position + least, position + most)]
            .into_iter()
            .flat_map(|(a, b)| &self.lines[self.lines_within(a, b)])
            .fold(0.0, |most, line| {
                let counts = line.area > most && self.is_satellite_distance(line, (line.at - position).abs());
                if counts { line.area } else { most }
            })
    }

    /// Whether a line's carbon-13 satellites may stand this far from it, in hertz.
    fn is_satellite_distance(&self, parent: &SceneLine, distance: f64) -> bool {
        let shift = self.shift(parent.at).0;
        COUPLING_BY_SHIFT
            .iter()
            .find(|row| shift < row.0)
            .is_some_and(|row| (row.1 / 2.0..row.2 / 2.0).contains(&distance))
    }

    /// The signals between two positions.
    pub(crate) fn signals_within(&self, from: f64, to: f64) -> impl Iterator<Item = &SceneLine> {
        self.lines[self.lines_within(from, to)].iter().filter(|line| line.is_signal())
    }

    /// Whether a line is the lopsided foot of a much stronger neighbour.
    pub(crate) fn is_foot(&self, line: &SceneLine) -> bool {
        let reach = FOOT_WIDTHS * self.width;
        let near = &self.lines[self.lines_within(line.at - reach, line.at + reach)];
        near.iter().any(|other| line.area < FOOT_SHARE * other.area)
    }

    /// The lines between two positions, as a stretch of `lines`.
    pub(crate) fn lines_within(&self, from: f64, to: f64) -> std::ops::Range<usize> {
        let start = self.lines.partition_point(|line| line.at < from);
        let end = self.lines.partition_point(|line| line.at <= to);
        start..end.max(start)
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use lees_core::Measurement;
    use lees_process::{Settings, Workspace, process};
    use lees_spin::simulate::{Recipe, simulate};

    /// A clear line as wide as the common one, nothing taken of it.
    pub(crate) fn line(at: f64, area: f64) -> SceneLine {
        SceneLine {
            at,
            area,
            area_u: 0.001 * area,
            factor: 1.0,
            profile: Profile::Common,
            kind: LineKind::Signal,
            left: area,
            taken: 0.0,
            set_aside: false,
        }
    }

    pub(crate) fn wet_dye() -> Processed {
        let made = simulate(&Recipe::wet_dye()).expect("a sound recipe");
        process(&Measurement::Spectrum(made.spectrum), &Settings::default(), &mut Workspace::default())
            .expect("a sound spectrum")
    }

    #[test]
    fn lines_stand_where_processing_found_them() {
        let mut processed = wet_dye();
        let shoulder = lees_process::lineshape::ShapeParameters {
            shoulder: 0.3,
            shoulder_offset: 0.4,
            ..processed.shape.parameters()
        };
        processed.shape = LineShape::new(shoulder);
        assert!(processed.shape.peak_offset().0 > 0.0, "the maximum is not where the line is fitted");
        let scene = Scene::of(&processed, processed.spectrum.axis);
        assert_eq!(scene.lines.len(), processed.lines.len());
        for line in &processed.lines {
            let peak = |l: &SceneLine| scene.shift(l.at + processed.shape.peak_offset().0 * l.factor);
            let off =
                scene.lines.iter().map(|l| (peak(l) - line.shift).0.abs()).fold(f64::INFINITY, f64::min);
            assert!(off < 1e-9, "{:?} is off by {off} ppm", line.shift);
        }
    }

    /// Up to 2.9 ppm carbon-13 splits by 118 to 142 Hz: satellites stand 59 to 71 Hz off, on either side.
    #[test]
    fn parents_of_satellites_are_found_on_both_sides_and_no_nearer_or_further() {
        let processed = wet_dye();
        let mut scene = Scene::of(&processed, processed.spectrum.axis);
        let parent = SceneLine { at: scene.position(Ppm(2.0)), area: 7.0, ..scene.lines[0].clone() };
        scene.lines = vec![parent.clone()];
        for (off, area) in [(58.0, 0.0), (60.0, 7.0), (70.0, 7.0), (72.0, 0.0), (0.0, 0.0)] {
            assert_eq!(scene.satellite_parents(parent.at + off), area, "{off} Hz");
            assert_eq!(scene.satellite_parents(parent.at - off), area, "-{off} Hz");
        }
        let larger = SceneLine { at: parent.at + 2.0 * 65.0, area: 9.0, ..parent.clone() };
        scene.lines.push(larger);
        assert_eq!(scene.satellite_parents(parent.at + 65.0), 9.0, "the larger of two");
    }
}
