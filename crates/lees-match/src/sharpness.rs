//! Whether the lines are sharp enough, and drawn finely enough, to tell volatiles apart.

use lees_core::LineKind;
use lees_process::Processed;

/// Fewest points to a line width. The sum over the points of a Lorentzian of width w is off by up to 2 exp(-pi w / step)
/// (sum formula of Poisson): 0.4 % of its area at two points to a width, 2 % at one and a half, 9 % at one. Below, neither widths
/// nor areas are to be had, and patterns are guesses.
const FEWEST_POINTS: f64 = 2.0;
/// Shortest recording of a decay, in seconds: cut off after T, no line is narrower than 0.6 / T hertz (half height of a
/// sinc), and lines of 0.7 Hz have a tenth of their height left, which becomes lobes beside them.
const SHORTEST_S: f64 = 1.0;
/// Half height of the line that a decay cut off after one second gives, in hertz.
const CUT_HZ: f64 = 0.6;
/// Widest lines, in hertz. Ethyl and isopropyl groups couple with 6 to 7 Hz: lines about as wide run together. Ordinary
/// spectra have 0.5 to 3 Hz (common practice, no source).
const WIDEST_HZ: f64 = 5.0;
/// Narrower lines hold this share of the area: broad signals are no sign of a bad spectrum while others are sharp.
const SHARP_SHARE: f64 = 0.25;

/// Wider lines than this many common widths are exchanging protons or what is left of the baseline.
const HUMP_WIDTHS: f64 = 12.0;

/// What is wrong with the resolution, and what to do; nothing when it will do.
pub(crate) fn doubt(processed: &Processed) -> Option<String> {
    let (what, remedy) = too_few_points(processed)
        .or_else(|| cut_off(processed))
        .or_else(|| too_wide(processed).map(|what| (what, "shim again")))?;
    Some(format!(
        "{what}; patterns that tell volatiles apart blur, so names and contents may be wrong and something may stand there unrecognised: {remedy}."
    ))
}

fn too_few_points(processed: &Processed) -> Option<(String, &'static str)> {
    let step = processed.spectrum.axis.hertz_per_point().0;
    let points = processed.shape.fwhm().0 / step;
    (!processed.lines.is_empty() && points < FEWEST_POINTS).then(|| {
        (
            format!("The spectrum has a point every {step:.2} Hz, only {points:.1} to the width of a line"),
            "give the FID, or a spectrum with more points",
        )
    })
}

fn cut_off(processed: &Processed) -> Option<(String, &'static str)> {
    let time = processed.spectrum.acquisition.acquisition_time?.0;
    (time > 0.0 && time < SHORTEST_S).then(|| {
        (
            format!(
                "The decay was recorded for {time:.2} s only, so that no line is narrower than {:.1} Hz and each has lobes beside it",
                CUT_HZ / time
            ),
            "record 2 s or more",
        )
    })
}

fn too_wide(processed: &Processed) -> Option<String> {
    let width = sharp_width(processed)?;
    (width > WIDEST_HZ)
        .then(|| format!("The lines are {width:.0} Hz wide, as wide as the couplings between them"))
}

/// The width in hertz below which the narrowest lines hold [`SHARP_SHARE`] of the area.
fn sharp_width(processed: &Processed) -> Option<f64> {
    let hump = HUMP_WIDTHS * processed.shape.fwhm().0;
    let signals = processed.lines.iter().filter(|l| l.kind == LineKind::Signal && l.width.0 < hump);
    let mut widths: Vec<(f64, f64)> = signals.map(|line| (line.width.0, line.area)).collect();
    widths.sort_by(|a, b| a.0.total_cmp(&b.0));
    let wanted = SHARP_SHARE * widths.iter().map(|(_, area)| area).sum::<f64>();
    let mut so_far = 0.0;
    widths.into_iter().find_map(|(width, area)| {
        so_far += area;
        (so_far >= wanted).then_some(width)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use lees_core::{Measurement, Seconds};
    use lees_process::{Settings, Workspace, process};
    use lees_spin::simulate::{Recipe, simulate};

    fn processed(change: impl FnOnce(&mut Recipe)) -> Processed {
        let mut recipe = Recipe::wet_dye();
        change(&mut recipe);
        let made = Measurement::Spectrum(simulate(&recipe).expect("a sound recipe").spectrum);
        process(&made, &Settings::default(), &mut Workspace::new()).expect("a spectrum")
    }

    #[test]
    fn an_ordinary_spectrum_and_one_of_three_hertz_will_do() {
        assert_eq!(doubt(&processed(|_| ())), None);
        assert_eq!(doubt(&processed(|recipe| recipe.shape.natural_hz = 3.0)), None);
    }

    #[test]
    fn lines_as_wide_as_couplings_are_told_though_one_is_narrow() {
        let said = doubt(&processed(|recipe| recipe.shape.natural_hz = 8.0)).expect("8 Hz is too wide");
        assert!(said.starts_with("The lines are 8 Hz wide"), "{said}");
        assert!(said.contains("shim again"), "{said}");
    }

    #[test]
    fn too_few_points_to_a_line_are_told() {
        let coarse = processed(|recipe| {
            recipe.instrument.fid_points = 8192;
            recipe.processing.points = 16_384;
        });
        let said = doubt(&coarse).expect("a point every half hertz is too coarse for 0.7 Hz");
        assert!(said.starts_with("The spectrum has a point every 0.49 Hz"), "{said}");
    }

    #[test]
    fn a_short_recording_is_told_however_many_zeros_were_added() {
        let mut short = processed(|_| ());
        assert_eq!(doubt(&short), None);
        short.spectrum.acquisition.acquisition_time = Some(Seconds(0.5));
        let said = doubt(&short).expect("half a second is too short");
        assert!(said.contains("recorded for 0.50 s only, so that no line is narrower than 1.2 Hz"), "{said}");
    }
}
