//! Every stage of processing on a 64k spectrum: the demo batch after two hours in the oven, and the decay of an earlier one.
//!
//! `cargo bench -p lees-process --bench stages`

use std::path::Path;

use divan::{Bencher, black_box};
use lees_core::{Fid, Measurement, Spectrum};
use lees_process::baseline::{self, grid::Grid};
use lees_process::{LineShape, Noise, Settings, Workspace, artefact, detect, fid, lines, multiplet, phase};

fn main() {
    divan::main();
}

fn measurement(name: &str) -> Measurement {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-spectra").join(name);
    let bytes = std::fs::read(&path).unwrap_or_else(|fault| unreachable!("{}: {fault}", path.display()));
    let document = lees_format::read(&bytes, name, &lees_format::ReadOptions::default());
    let document = document.unwrap_or_else(|fault| unreachable!("{fault}"));
    let chosen = document.measurements(lees_format::Prefer::default());
    chosen.unwrap_or_else(|fault| unreachable!("{fault}")).swap_remove(0).measurement
}

fn spectrum() -> Spectrum {
    match measurement("batch-2-h.jdx") {
        Measurement::Spectrum(spectrum) => spectrum,
        Measurement::Fid(_) => unreachable!("a spectrum"),
    }
}

fn decay() -> Fid {
    match measurement("batch-before-drying-fid.jdx") {
        Measurement::Fid(decay) => decay,
        Measurement::Spectrum(_) => unreachable!("a decay"),
    }
}

fn step(spectrum: &Spectrum) -> f64 {
    spectrum.axis.hertz_per_point().0
}

fn processed() -> lees_process::Processed {
    let measured = Measurement::Spectrum(spectrum());
    lees_process::process(&measured, &Settings::default(), &mut Workspace::new())
        .unwrap_or_else(|fault| unreachable!("{fault}"))
}

#[divan::bench]
fn whole(bencher: Bencher<'_, '_>) {
    let (measured, settings, mut workspace) =
        (Measurement::Spectrum(spectrum()), Settings::default(), Workspace::new());
    bencher.bench_local(|| lees_process::process(black_box(&measured), &settings, &mut workspace));
}

#[divan::bench]
fn whole_of_a_decay(bencher: Bencher<'_, '_>) {
    let (measured, settings, mut workspace) =
        (Measurement::Fid(decay()), Settings::default(), Workspace::new());
    bencher.bench_local(|| lees_process::process(black_box(&measured), &settings, &mut workspace));
}

#[divan::bench]
fn decay_to_spectrum(bencher: Bencher<'_, '_>) {
    let (decay, settings, mut workspace) = (decay(), Settings::default(), Workspace::new());
    bencher.bench_local(|| fid::transform(black_box(&decay), &settings.fid, &mut workspace));
}

#[divan::bench]
fn phase_of_a_real_part(bencher: Bencher<'_, '_>) {
    let (spectrum, settings, mut workspace) = (spectrum(), Settings::default(), Workspace::new());
    bencher
        .with_inputs(|| spectrum.clone())
        .bench_local_refs(|spectrum| phase::automatic(spectrum, &settings.phase, &mut workspace));
}

#[divan::bench]
fn lines_noise_and_baseline(bencher: Bencher<'_, '_>) {
    let (spectrum, settings) = (spectrum(), Settings::default());
    let values = spectrum.real.to_vec();
    bencher.bench_local(|| lines::find(black_box(&values), step(&spectrum), &settings));
}

#[divan::bench]
fn one_baseline(bencher: Bencher<'_, '_>) {
    let (spectrum, settings) = (spectrum(), Settings::default());
    let (values, nothing) = (spectrum.real.to_vec(), vec![0.0; spectrum.real.len()]);
    let sigma = lees_process::noise::first_guess(&values);
    bencher.bench_local(|| {
        let grid = Grid::new(&values, &nothing, &nothing, &|_| sigma, step(&spectrum), &settings.baseline);
        baseline::fit(&grid, &[], values.len(), &settings.baseline).values()
    });
}

#[divan::bench]
fn one_noise(bencher: Bencher<'_, '_>) {
    let done = processed();
    let left: Vec<f64> = done.spectrum.real.iter().zip(&done.model).map(|(y, m)| y - m).collect();
    let free = vec![true; left.len()];
    bencher.bench_local(|| Noise::measure(black_box(&left), &free));
}

#[divan::bench]
fn one_search_of_the_residual(bencher: Bencher<'_, '_>) {
    let done = processed();
    let left: Vec<f64> = done.spectrum.real.iter().zip(&done.model).map(|(y, m)| y - m).collect();
    let width = done.shape.fwhm().0 / step(&done.spectrum);
    bencher.bench_local(|| detect::matched(black_box(&left), &done.noise, width, &[], 5.4));
}

#[divan::bench]
fn one_drawing_of_all_lines(bencher: Bencher<'_, '_>) {
    let done = processed();
    let hz = step(&done.spectrum);
    let fit_line = |line: &lees_core::Line| {
        let position = done.spectrum.axis.position(line.shift) * hz;
        lines::FitLine::new(position, line.area, line.width.0 / done.shape.fwhm().0)
    };
    let all: Vec<lines::FitLine> = done.lines.iter().map(fit_line).collect();
    let (mut far, mut out) = (lines::FarField::default(), vec![0.0; done.model.len()]);
    bencher.bench_local(|| lines::render(black_box(&all), &done.shape, hz, &mut far, &mut out));
}

#[divan::bench]
fn artefacts(bencher: Bencher<'_, '_>) {
    let done = processed();
    let model = done.model.to_vec();
    let scene = artefact::Scene {
        axis: done.spectrum.axis,
        shape: done.shape,
        noise: &done.noise,
        residual: done.spectrum.real.iter().zip(&model).map(|(y, m)| y - m).collect(),
        model: &model,
        acquisition_time: done.spectrum.acquisition.acquisition_time.map(|t| t.0),
    };
    bencher
        .with_inputs(|| done.lines.clone())
        .bench_local_refs(|lines| artefact::label(lines, &scene, &Settings::default().artefact));
}

#[divan::bench]
fn multiplets(bencher: Bencher<'_, '_>) {
    let done = processed();
    let settings = Settings::default();
    let (field, width) = (done.spectrum.axis.field(), done.shape.fwhm());
    bencher.bench_local(|| multiplet::group(black_box(&done.lines), field, width, &settings.multiplet));
}

#[divan::bench]
fn a_thousand_points_of_the_line(bencher: Bencher<'_, '_>) {
    let shape = LineShape::voigt(lees_core::Hertz(1.0), 0.9);
    let point = |i: i32| shape.point(lees_core::Hertz(f64::from(i) * 0.01), 1.1).value;
    bencher.bench_local(|| (-500..500).map(|i| point(black_box(i))).sum::<f64>());
}
