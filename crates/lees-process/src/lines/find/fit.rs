//! One round of fits: clusters of lines, and which lines are kept as what.

use std::ops::Range;

use lees_core::Hertz;

use super::super::cluster::clusters;
use super::super::solve::{Window, fit_cluster};
use super::super::{FitLine, WidthKind, lorentzian_of};
use super::{Found, Search, sort};
use crate::lineshape::Row;

/// A plain line this many times as wide as the common one is broadened by exchange or relaxation, a Lorentzian: what the
/// magnet adds to it is small ...
const EXCHANGING: f64 = 2.5;
/// ... plain when its area is this many times its uncertainty.
const PLAIN_AREA: f64 = 200.0;
/// A line of its own width that is so many times as high as the noise is no part of any baseline, however broad: its flanks are
/// too steep for block means to follow. Lower ones are told better together with the baseline (chosen on simulated samples).
const TALL: f64 = 300.0;

impl Search<'_> {
    /// Fits clusters, tails of the others taken from the last model, and drops lines that do not pay. Without `all`
    /// only clusters with a line not yet fitted.
    ///
    /// Lines lower than what the tallest of their cluster may be wrong by are fitted after it, to what it leaves: together
    /// they would become wide and mend its shape.
    pub(super) fn fit(&mut self, all: bool) {
        self.sort();
        self.render();
        let (broad, sharp): (Vec<FitLine>, Vec<FitLine>) =
            self.found.lines.iter().partition(|l| l.width == WidthKind::Broad);
        let colour = self.line_colour();
        let reach = self.settings.lines.window_widths * self.found.shape.fwhm().0;
        let (mut lines, mut faint) = (Vec::with_capacity(sharp.len()), Vec::new());
        for cluster in clusters(&sharp, reach, self.step, self.values.len()) {
            let own = &sharp[cluster.lines];
            if !all && own.iter().all(|line| line.area_u.is_finite()) {
                lines.extend_from_slice(own);
                continue;
            }
            let heights = self.heights(own);
            let least = self.found.misfit * heights.iter().copied().fold(0.0, f64::max);
            let mut heights = heights.into_iter();
            let (mut tall, mut low): (Vec<FitLine>, Vec<FitLine>) =
                own.iter().partition(|_| heights.next().is_some_and(|height| height >= least));
            self.fit_one(&mut tall, cluster.window, 0.0, colour);
            lines.append(&mut tall);
            faint.append(&mut low);
        }
        if !faint.is_empty() {
            let mut all = [&lines[..], &faint, &broad].concat();
            sort(&mut all);
            self.show(&all);
            for cluster in clusters(&faint, reach, self.step, self.values.len()) {
                self.fit_one(&mut faint[cluster.lines], cluster.window, self.found.misfit, colour);
            }
        }
        lines.append(&mut faint);
        self.found.lines = lines;
        self.sort();
        self.judge();
        self.found.lines.extend(broad);
        self.sort();
        self.render();
    }

    fn heights(&self, lines: &[FitLine]) -> Vec<f64> {
        let shape = &self.found.shape;
        let lorentzian = lorentzian_of(shape);
        lines.iter().map(|line| line.area * line.shape(shape, &lorentzian).height(line.factor)).collect()
    }

    /// Fits lines to a window in which the others are wrong by a share of their model.
    fn fit_one(&self, lines: &mut [FitLine], range: Range<usize>, wrong: f64, colour: (f64, f64)) {
        let origin = range.start as f64 * self.step;
        let lorentzian = lorentzian_of(&self.found.shape);
        let mut data: Vec<f64> = range.clone().map(|i| self.flat[i] - self.found.model[i]).collect();
        for line in lines.iter() {
            let shape = line.shape(&self.found.shape, &lorentzian);
            shape.add_row(Row::about(line.position, origin, self.step), line.factor, line.area, &mut data);
        }
        let mut sigma = self.found.noise.sigmas(range.clone());
        if wrong > 0.0 {
            let others = self.flat[range].iter().zip(&data).map(|(flat, own)| wrong * (flat - own));
            sigma.iter_mut().zip(others).for_each(|(sigma, other)| *sigma = libm::hypot(*sigma, other));
        }
        let window = Window { values: &data, sigma: &sigma, origin, step: self.step };
        if fit_cluster(window, lines, &self.found.shape, &self.settings.lines, false).is_some() {
            for line in lines {
                line.area_u *= colour.0;
                line.position_u *= colour.1;
                line.factor_u *= colour.0;
            }
        }
    }

    /// Lines that do not pay are dropped, lines at the sharp bound set free.
    fn judge(&mut self) {
        let least = self.settings.lines.least_gain.sqrt();
        self.found.lines.retain(|l| l.area > 0.0 && (!l.area_u.is_finite() || l.area > least * l.area_u));
        let settings = &self.settings.lines;
        let fwhm = self.found.shape.fwhm().0;
        let tall = self.tall();
        for (k, line) in self.found.lines.iter_mut().enumerate() {
            let exchanging = line.factor >= EXCHANGING && line.area > PLAIN_AREA * line.area_u;
            let at_bound = line.factor >= 0.99 * settings.widest;
            let broad = line.factor * fwhm >= 1.4 * settings.broad_hz;
            if (exchanging || at_bound) && line.width == WidthKind::Common {
                line.width = WidthKind::Own;
            } else if broad && line.width == WidthKind::Own {
                line.width = if tall[k] { WidthKind::Tall } else { WidthKind::Broad };
            }
        }
    }

    /// Which lines tower over any baseline and over the sharp lines that stand on them.
    fn tall(&self) -> Vec<bool> {
        let Found { lines, noise, shape, .. } = &self.found;
        let fwhm = shape.fwhm().0;
        let last = self.flat.len().saturating_sub(1);
        let sigma = |line: &FitLine| noise.sigma(((line.position / self.step).max(0.0) as usize).min(last));
        let heights = self.heights(lines);
        let is_tall = |(k, line): (usize, &FitLine)| {
            let reach = 0.5 * fwhm * line.factor;
            let first = lines.partition_point(|other| other.position < line.position - reach);
            let near = lines[first..].iter().zip(&heights[first..]);
            let mut sharp = near
                .take_while(|(other, _)| other.position < line.position + reach)
                .filter(|(other, _)| other.width == WidthKind::Common);
            line.width == WidthKind::Own
                && heights[k] > TALL * sigma(line)
                && sharp.all(|(_, height)| *height < heights[k])
        };
        lines.iter().enumerate().map(is_tall).collect()
    }

    /// By how much coloured noise widens the errors of area and position of a common line.
    pub(super) fn line_colour(&self) -> (f64, f64) {
        let shape = &self.found.shape;
        let reach = (4.0 * shape.fwhm().0 / self.step).ceil().min(256.0) as i64;
        let (area, position): (Vec<f64>, Vec<f64>) = (-reach..=reach)
            .map(|i| shape.point(Hertz(i as f64 * self.step), 1.0))
            .map(|p| (p.value, p.by_offset))
            .unzip();
        let factor = |kernel: &[f64]| {
            let white: f64 = kernel.iter().map(|k| k * k).sum();
            (self.found.noise.kernel_variance(kernel) / white).max(0.0).sqrt()
        };
        (factor(&area), factor(&position))
    }
}
