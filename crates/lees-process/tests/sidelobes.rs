//! Side lobes are told from small signals also where the recording time is not known.

#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use lees_core::{LineKind, Measurement};
use lees_process::{Processed, Settings, Workspace, process};
use lees_spin::simulate::{Recipe, simulate};

/// A tube recorded for `fid_points`, with and without its recording time in the file.
fn processed(recipe: &Recipe) -> [Processed; 2] {
    let mut spectrum = simulate(recipe).unwrap().spectrum;
    let done = |spectrum: &_| {
        process(&Measurement::Spectrum(Clone::clone(spectrum)), &Settings::default(), &mut Workspace::new())
            .unwrap()
    };
    let known = done(&spectrum);
    spectrum.acquisition.acquisition_time = None;
    [known, done(&spectrum)]
}

fn lobes(done: &Processed) -> usize {
    done.lines.iter().filter(|line| line.kind == LineKind::Truncation).count()
}

#[test]
fn small_signals_beside_large_ones_are_none() {
    // 0.2 wt% 2-propanol: its doublet at 1.22 ppm stands within 15 line widths of the dye's triplet, forty times as high.
    let mut recipe = Recipe::wet_dye();
    recipe.instrument.fid_points = 32_768;
    recipe.processing.points = 65_536;
    for wt_percent in [0.15, 0.3, 0.8] {
        recipe.volatile[0].wt_percent = Some(wt_percent);
        let [known, unknown] = processed(&recipe);
        assert_eq!((lobes(&known), lobes(&unknown)), (0, 0), "{wt_percent} wt%");
    }
}

/// Without the recording time fewer are told: the reach is then counted in line widths. What is told is no signal: so many
/// are left at most.
#[test]
fn lobes_of_a_short_recording_are() {
    for (fid_points, least, most_signals) in
        [(2048, (60, 1), 160), (3072, (60, 25), 50), (4096, (45, 30), 38)]
    {
        let mut recipe = Recipe::wet_dye();
        recipe.instrument.fid_points = fid_points;
        recipe.processing = lees_spin::simulate::Processing { points: 32_768, lb_hz: 0.0 };
        let both = processed(&recipe);
        let signals = both[0].lines.iter().filter(|line| line.kind == LineKind::Signal).count();
        let [known, unknown] = both.map(|done| lobes(&done));
        assert!(
            known > least.0 && (least.1..=known).contains(&unknown),
            "{fid_points} points: {known}, {unknown}"
        );
        assert!(signals <= most_signals, "{fid_points} points: {signals}");
    }
}
