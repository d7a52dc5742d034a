//! What is known of a cluster's lines before they are fitted: widths near the common one, neighbours alike, a local baseline near
//! zero.

use nalgebra::{DMatrix, DVector};

use super::solve::{Problem, State};
use super::{FitLine, WidthKind};

/// Widest line that is fitted beside sharp ones, over the width from which weak ones are broad: any, and one that towers over any
/// baseline (60 Hz by default; coalescing signals are seldom wider, common practice, no source).
const OWN_WIDEST: f64 = 1.5;
const TALL_WIDEST: f64 = 5.0;
/// Pull of the local straight line to zero: the common baseline is removed to this share of sigma ...
const LOCAL_LINE_SIGMA: f64 = 0.15;
/// ... and to this share of the window's tallest point.
const LOCAL_LINE_SHARE: f64 = 2e-4;
/// Lines nearer than this many widths cannot tell their widths apart ...
const TIE_WIDTHS: f64 = 1.3;
/// ... so the ratio of their widths is tied to 1 within 3 %.
pub(super) const TIE: f64 = 1.0 / (0.03 * 0.03);

/// Neighbours nearer than `TIE_WIDTHS` share their width.
pub(super) fn ties(lines: &[FitLine], fwhm: f64) -> Vec<(usize, usize)> {
    let common = |k: usize| lines[k].width == WidthKind::Common;
    (1..lines.len())
        .filter(|&k| common(k) && common(k - 1))
        .filter(|&k| (lines[k].position - lines[k - 1].position).abs() < TIE_WIDTHS * fwhm)
        .map(|k| (k - 1, k))
        .collect()
}

impl Problem<'_> {
    pub(super) fn local_line_pull(&self) -> f64 {
        let sigma = self.weights[self.weights.len() / 2].recip();
        libm::hypot(LOCAL_LINE_SIGMA * sigma, LOCAL_LINE_SHARE * self.tallest).powi(-2)
    }

    pub(super) fn add_priors(&self, state: &State, normal: &mut DMatrix<f64>, gradient: &mut DVector<f64>) {
        let p = self.count();
        let pull = self.local_line_pull();
        for k in [p, p + 1] {
            normal[(k, k)] += pull;
            gradient[k] -= pull * state.linear[k];
        }
        if !self.hold_widths {
            for (k, line) in state.lines.iter().enumerate() {
                let tightness = self.tightness(line);
                normal[(2 * p + 2 + k, 2 * p + 2 + k)] += tightness;
                gradient[2 * p + 2 + k] -= tightness * libm::log(line.factor);
            }
            for (a, b) in &self.ties {
                let pull = TIE * libm::log(state.lines[*a].factor / state.lines[*b].factor);
                let (a, b) = (2 * p + 2 + a, 2 * p + 2 + b);
                normal[(a, a)] += TIE;
                normal[(b, b)] += TIE;
                normal[(a, b)] -= TIE;
                normal[(b, a)] -= TIE;
                gradient[a] -= pull;
                gradient[b] += pull;
            }
        }
        // A line of area zero has no position or width: hold them.
        let floor = self.weights[0].powi(2) * f64::EPSILON;
        for k in p + 2..normal.nrows() {
            normal[(k, k)] +=
                floor.max(1e-12 * normal[(k, k)]) + if normal[(k, k)] == 0.0 { 1.0 } else { 0.0 };
        }
    }

    /// Weight of the prior on the logarithmic width.
    pub(super) fn tightness(&self, line: &FitLine) -> f64 {
        if line.width == WidthKind::Common { self.settings.width_spread.powi(-2) } else { 0.0 }
    }

    pub(super) fn width_bounds(&self, line: &FitLine) -> (f64, f64) {
        let own = |times: f64| {
            let widest = times * self.settings.broad_hz / self.shape.fwhm().0;
            (1.2f64.min(widest), widest.max(1.2))
        };
        match line.width {
            WidthKind::Own => own(OWN_WIDEST),
            WidthKind::Tall => own(TALL_WIDEST),
            WidthKind::Common | WidthKind::Broad => (self.settings.narrowest, self.settings.widest),
        }
    }
}
