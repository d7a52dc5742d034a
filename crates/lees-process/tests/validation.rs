//! Processing against simulated spectra of known content. Each test prints its row of the table.

#![allow(clippy::expect_used, reason = "a test may stop here")]

mod support;

use lees_core::complex::polar;
use lees_core::{Hertz, LineKind, Multiplicity, Ppm};
use lees_process::reference::{ReferenceCandidate, ReferenceRole, ReferenceSettings, find};
use lees_process::{Processed, Settings, Workspace, process};
use num_complex::Complex64;
use support::{Bench, TrueLine, line, multiplet};

fn run(bench: &Bench, lines: &[TrueLine], seed: u64) -> Processed {
    process(&bench.measurement(lines, seed), &Settings::default(), &mut Workspace::default())
        .expect("sound data")
}

fn mean_sd(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    (mean, (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt())
}

/// The area of all signal lines within `reach` hertz of a position.
fn area_near(bench: &Bench, p: &Processed, position: f64, reach: f64) -> f64 {
    let near = |s: f64| (s - bench.shift(position)).abs() * bench.field < reach;
    p.lines.iter().filter(|l| near(l.shift.0)).map(|l| l.area).sum()
}

/// Cramer-Rao bound of the area with position and width unknown: the FID's samples of an exponential decay of
/// amplitude `area` and full width `natural` in white noise (Kay, Fundamentals of Statistical Signal Processing,
/// Estimation Theory, 1993, chapter 3).
fn cramer_rao(bench: &Bench, area: f64, natural: f64) -> f64 {
    let dwell = 1.0 / bench.width_hz;
    let pi = std::f64::consts::PI;
    let (mut aa, mut aw, mut ww, mut power) = (0.0, 0.0, 0.0, 0.0);
    for j in 0..bench.complex_points {
        let t = j as f64 * dwell;
        let e = libm::exp(-pi * natural * t);
        let d = -pi * t * area * e;
        aa += e * e;
        aw += e * d;
        ww += d * d;
        power += libm::exp(-2.0 * pi * bench.broadening * t);
    }
    let sample = bench.sigma / (2.0 * dwell * f64::sqrt(power));
    sample * (ww / (aa * ww - aw * aw)).sqrt()
}

#[test]
fn isolated_singlet_area() {
    let bench = Bench { roll: 30.0, phase_degrees: 3.0, ..Bench::default() };
    let natural = 0.7;
    let area = bench.area_for(200.0, natural + bench.broadening);
    let found: Vec<(f64, f64)> = (0..200)
        .map(|seed| {
            let p = run(&bench, &[line(3000.3 + 0.37 * seed as f64, area, natural)], seed);
            assert_eq!(p.lines.len(), 1, "seed {seed}: {:?}", p.lines);
            (p.lines[0].area / area, p.lines[0].area_u / area)
        })
        .collect();
    let (mean, sd) = mean_sd(&found.iter().map(|f| f.0).collect::<Vec<_>>());
    let stated = found.iter().map(|f| f.1).sum::<f64>() / found.len() as f64;
    let bound = cramer_rao(&bench, area, natural) / area;
    println!(
        "singlet S/N 200: bias {:+.3} %, scatter {:.3} %, Cramer-Rao {:.3} %, ratio {:.2}, stated u {:.3} %",
        (mean - 1.0) * 100.0,
        sd * 100.0,
        bound * 100.0,
        sd / bound,
        stated * 100.0
    );
    assert!((mean - 1.0).abs() < 0.003, "bias {mean}");
    assert!(sd < 1.3 * bound, "scatter {sd} against {bound}");
    assert!((stated / sd - 1.0).abs() < 0.25, "stated {stated}, found {sd}");
}

/// A tall line some four times as wide as the others, as exchange makes it, is a Lorentzian: it stays one line, its area
/// within 2 % (the magnet's Gaussian share is left out: 1 %).
#[test]
fn an_exchanging_line_stays_one() {
    let bench = Bench { broadening: 0.3, ..Bench::default() };
    let mut ratios = Vec::new();
    for seed in 0..20u64 {
        let sharp = |at: f64| TrueLine { gauss: 0.8, ..line(at, bench.area_for(3000.0, 1.2), 0.3) };
        let area = bench.area_for(20_000.0, 4.0);
        let at = 3600.0 + 3.7 * seed as f64;
        let exchanging = TrueLine { gauss: 0.8, ..line(at, area, 3.4) };
        let p = run(&bench, &[sharp(1500.0), sharp(2500.0), sharp(5000.0), exchanging], seed);
        assert_eq!(p.lines.len(), 4, "seed {seed}: {:?}", p.lines);
        ratios.push(area_near(&bench, &p, at, 30.0) / area);
    }
    let (mean, sd) = mean_sd(&ratios);
    println!("exchanging line: area {:+.2} % +- {:.2} %", (mean - 1.0) * 100.0, sd * 100.0);
    assert!((mean - 1.0).abs() < 0.02, "{mean}");
}

/// Spectra without imaginary part, turned by so many degrees: mended, and areas right either way. A spectrum that is right
/// is turned by a few tenths of a degree in three of ten, to no harm.
#[test]
fn phase_of_real_spectra() {
    for degrees in [0.0f64, 0.1, -1.0, 3.0, -8.0, 15.0] {
        let bench = Bench { phase_degrees: degrees, roll: 5.0, ..Bench::default() };
        let (mut mended, mut ratios) = (0, Vec::new());
        for seed in 0..10u64 {
            let area = bench.area_for(800.0, 1.0);
            let at = |k: f64| 1400.0 + 1300.0 * k + 7.3 * seed as f64;
            let mut lines = multiplet(at(0.0), area, 0.7, &[(7.1, 2)]);
            lines.extend(multiplet(at(1.0), 1.5 * area, 0.7, &[(7.1, 3)]));
            lines.extend([line(at(2.0), area, 0.7), line(at(3.0), 0.3 * area, 0.7)]);
            let p = run(&bench, &lines, seed);
            mended += usize::from(p.phase.applied);
            ratios.push(area_near(&bench, &p, at(2.0), 8.0) / area);
        }
        let (mean, sd) = mean_sd(&ratios);
        println!(
            "real part turned by {degrees} deg: mended {mended} of 10, area {:+.2} % +- {:.2} %",
            (mean - 1.0) * 100.0,
            sd * 100.0
        );
        assert!((mean - 1.0).abs() < 0.003, "{degrees}: {mean}");
        assert!(mended == 10 || degrees.abs() < 0.3, "{degrees}: {mended}");
    }
}

#[test]
fn broad_line_is_kept() {
    for width in [40.0, 100.0, 150.0] {
        let bench = Bench { roll: 30.0, ..Bench::default() };
        let area = bench.area_for(200.0, width);
        let found: Vec<f64> = (0..12)
            .map(|seed| {
                let sharp = line(2000.0, bench.area_for(3000.0, 1.0), 0.7);
                let p = run(&bench, &[line(4100.0 + 31.0 * seed as f64, area, width), sharp], seed);
                area_near(&bench, &p, 4100.0 + 31.0 * seed as f64, 300.0) / area
            })
            .collect();
        let (mean, sd) = mean_sd(&found);
        println!("{width} Hz wide line, S/N 200: kept {:.2} % +- {:.2} %", mean * 100.0, sd * 100.0);
        assert!((0.99..1.01).contains(&mean), "width {width}: kept {mean}");
    }
}

/// Cramer-Rao bound of the minor's area, as a share of it, of two decays `apart` hertz from each other, ten to one, at
/// a height over noise `snr` of the major: areas, places and widths unknown, the widths alike within 3 % as the fit
/// takes them (white noise of the FID; Kay as above).
fn pair_bound(bench: &Bench, snr: f64, natural: f64, apart: f64) -> f64 {
    let dwell = 1.0 / bench.width_hz;
    let pi = std::f64::consts::PI;
    let major = bench.area_for(snr, natural + bench.broadening);
    let times = || (0..bench.complex_points).map(|j| j as f64 * dwell);
    let power: f64 = times().map(|t| libm::exp(-2.0 * pi * bench.broadening * t)).sum();
    let sample = bench.sigma / (2.0 * dwell * power.sqrt());
    let mut normal = nalgebra::Matrix6::<f64>::zeros();
    for t in times() {
        let decay = libm::exp(-pi * natural * t);
        let turns = [Complex64::from(decay), polar(decay, 2.0 * pi * apart * t)];
        let columns: [Complex64; 6] = std::array::from_fn(|k| {
            let area = if k % 2 == 0 { major } else { major / 10.0 };
            let by = [
                Complex64::from(area),
                Complex64::new(0.0, 2.0 * pi * t * area),
                Complex64::from(-pi * t * area),
            ];
            by[k / 2] * turns[k % 2] / sample
        });
        normal += nalgebra::Matrix6::from_fn(|a, b| (columns[a].conj() * columns[b]).re);
    }
    let tie = (0.03 * (natural + bench.broadening)).powi(-2);
    for (a, b, sign) in [(4, 4, 1.0), (5, 5, 1.0), (4, 5, -1.0), (5, 4, -1.0)] {
        normal[(a, b)] += sign * tie;
    }
    normal.try_inverse().expect("regular")[(1, 1)].sqrt()
}

/// The areas found for a minor line half a width from a major ten times as tall, over the true one.
fn minors(bench: &Bench, snr: f64, seeds: std::ops::Range<u64>) -> Vec<f64> {
    let width = 1.0;
    let found = |seed| {
        let major = bench.area_for(snr, width);
        let lines = [
            line(1500.0, bench.area_for(2000.0, width), 0.7),
            line(5200.0, bench.area_for(1500.0, width), 0.7),
            line(3000.0, major, 0.7),
            line(3000.5, major / 10.0, 0.7),
        ];
        let p = run(bench, &lines, seed);
        let near = p.lines.iter().filter(|l| (l.shift.0 - bench.shift(3000.3)).abs() * 400.0 < 3.0);
        near.filter(|l| l.shift.0 < bench.shift(3000.25)).map(|l| l.area).sum::<f64>() / (major / 10.0)
    };
    seeds.map(found).collect()
}

/// Tall singlets spread by a Gaussian (Voigt lines), a small phase error left: no second line is invented, and the
/// areas are right to what noise allows.
#[test]
fn tall_singlets_stay_one() {
    let bench = Bench { phase_degrees: 0.25, broadening: 0.0, ..Bench::default() };
    for snr in [1000.0, 4000.0, 12_000.0] {
        let (mut lines, mut ratios) = (0, Vec::new());
        for seed in 0..20u64 {
            // A Voigt line of these widths is some 0.57 Hz wide.
            let area = bench.area_for(snr, 0.57);
            let at = |k: f64| 1500.0 + 1700.0 * k + 3.3 * seed as f64;
            let singlet = |k: f64, share: f64| TrueLine { gauss: 0.35, ..line(at(k), share * area, 0.35) };
            let truth = [singlet(0.0, 1.0), singlet(1.0, 0.7), singlet(2.0, 0.4)];
            let p = run(&bench, &truth, seed);
            lines += p.lines.len();
            ratios.extend(truth.iter().map(|t| area_near(&bench, &p, t.position, 5.0) / t.area));
        }
        let (mean, sd) = mean_sd(&ratios);
        println!(
            "Voigt singlets, S/N {snr}: {lines} lines of 60, area off by {:+.3} % +- {:.3} %",
            (mean - 1.0) * 100.0,
            sd * 100.0
        );
        assert_eq!(lines, 60, "S/N {snr}");
        assert!((mean - 1.0).abs() < 0.001, "S/N {snr}: {mean}");
    }
}

/// Measured on 40 spectra each, scatter of the minor (bound): S/N 3000 3.7 % (2.2 %), 2000 4.8 % (3.1 %), 1500 5.8 %
/// (4.0 %), 1000 7.0 % (5.3 %), 700 8.0 % (6.6 %); without bias. Nine in ten lie within 10 % down to S/N 1500, which is
/// asserted; noise alone would allow it down to 900. At S/N 500 most are not told from one line.
#[test]
fn half_a_width_apart() {
    let bench = Bench::default();
    for snr in [500.0, 700.0, 1000.0, 1500.0, 2000.0, 3000.0] {
        let found = minors(&bench, snr, 0..40);
        let (mean, sd) = mean_sd(&found);
        let good = found.iter().filter(|f| (**f - 1.0).abs() < 0.1).count();
        println!(
            "10:1 half a width apart, S/N {snr}: minor {mean:.3} +- {sd:.3} (bound {:.3}), within 10 %: {good} of 40",
            pair_bound(&bench, snr, 0.7, 0.5)
        );
        if snr >= 1500.0 {
            assert!((mean - 1.0).abs() < 0.1 && good >= 36, "S/N {snr}: {found:?}");
        }
    }
}

#[test]
fn noise_alone_shows_no_line() {
    let mut false_lines = 0;
    let mut means = Vec::new();
    let variants = [(0.3, 65_536, 0.0), (1.0, 65_536, 20.0), (0.0, 65_536, 0.0), (0.3, 131_072, 0.0)];
    for seed in 0..1000u64 {
        let (broadening, points, roll) = variants[(seed % 4) as usize];
        let bench = Bench { broadening, points, roll, ..Bench::default() };
        let p = run(&bench, &[], 10_000 + seed);
        false_lines += p.lines.len();
        let n = p.spectrum.real.len() as f64;
        means.push(p.spectrum.real.sum() / n);
    }
    let (mean, _) = mean_sd(&means);
    println!(
        "noise only: {false_lines} false lines in 1000 spectra; mean of a corrected spectrum {mean:+.4} sigma"
    );
    assert!(false_lines == 0, "{false_lines} false lines");
    assert!(mean.abs() < 0.02, "mean {mean}");
}

#[test]
fn noise_size_and_colour() {
    for (broadening, points) in [(0.0, 65_536), (0.3, 65_536), (1.0, 65_536), (0.3, 131_072), (1.0, 131_072)]
    {
        let bench = Bench { broadening, points, ..Bench::default() };
        let window = 1000;
        let (mut sums, mut stated, mut sigma, mut square) = (Vec::new(), 0.0, 0.0, 0.0);
        for seed in 0..8 {
            let values = bench.values(&[], seed);
            sums.extend(values.chunks_exact(window).map(|c| c.iter().sum::<f64>()));
            square += values.iter().map(|v| v * v).sum::<f64>() / values.len() as f64 / 8.0;
            let p = run(&bench, &[], seed);
            stated += p.noise.sum_u(window) / 8.0;
            sigma += p.noise.typical() / 8.0;
        }
        let true_sd = (sums.iter().map(|s| s * s).sum::<f64>() / sums.len() as f64).sqrt();
        println!(
            "noise at LB {broadening} Hz, {points} points: sigma {sigma:.3} (true {:.3}), sum of {window}: {stated:.1} (true {true_sd:.1})",
            square.sqrt()
        );
        assert!((sigma / square.sqrt() - 1.0).abs() < 0.02, "sigma {sigma}");
        assert!((stated / true_sd - 1.0).abs() < 0.10, "sum {stated} against {true_sd}");
    }
}

#[test]
fn couplings_and_multiplicities() {
    for (name, partners, j) in [("d", 1u32, 6.1), ("t", 2, 7.1), ("q", 3, 7.1), ("sept", 6, 6.1)] {
        for snr in [30.0, 100.0] {
            let bench = Bench::default();
            let tallest = if name == "sept" { 20.0 / 64.0 } else { [0.5, 0.5, 0.375][partners as usize - 1] };
            let area = bench.area_for(snr, 1.0) / tallest;
            let wanted: Multiplicity = name.parse().unwrap();
            let (mut right, mut worst, mut squares) = (0, 0.0f64, 0.0);
            for seed in 0..100 {
                let p =
                    run(&bench, &multiplet(3000.3 + seed as f64 * 1.7, area, 0.7, &[(j, partners)]), seed);
                let hit = p.multiplets.len() == 1 && p.multiplets[0].multiplicity == wanted;
                right += usize::from(hit);
                if hit {
                    let off = (p.multiplets[0].couplings[0].0.0 - j).abs();
                    worst = worst.max(off);
                    squares += off * off;
                }
            }
            let rms = (squares / right.max(1) as f64).sqrt();
            println!(
                "{name} at S/N {snr}: right {right} of 100, J off by {rms:.3} Hz rms, {worst:.3} Hz at worst"
            );
            assert!(right >= 99, "{name} at {snr}: {right}");
            assert!(worst < 0.1, "{name} at {snr}: {worst}");
        }
    }
}

#[test]
fn satellites_are_labelled() {
    let bench = Bench::default();
    let (mut impurities, mut labelled, mut expected, mut kept) = (0, 0, 0, 0);
    for seed in 0..20u64 {
        let share = 0.0107 / 2.0 / 0.9893;
        let mut lines = Vec::new();
        type Parent = (f64, f64, f64, &'static [(f64, u32)]);
        let parents: [Parent; 4] = [
            (1800.0, 6000.0, 160.0, &[]),
            (3000.0, 4000.0, 141.0, &[]),
            (4200.0, 8000.0, 126.0, &[(7.1, 2)]),
            (5200.0, 5000.0, 127.0, &[(6.6, 1)]),
        ];
        for (at, snr, carbon, couplings) in parents {
            let at = at + 3.7 * seed as f64;
            let area = bench.area_for(snr, 1.0);
            lines.extend(multiplet(at, area, 0.7, couplings));
            for side in [-1.0, 1.0] {
                lines.extend(multiplet(at + 0.7 + side * carbon / 2.0, area * share, 0.7, couplings));
            }
        }
        // An impurity at a satellite's distance but without a partner and of another size.
        lines.push(line(3000.0 + 3.7 * seed as f64 + 66.0, bench.area_for(45.0, 1.0), 0.7));
        let p = run(&bench, &lines, seed);
        for l in &p.lines {
            let x = (14.5 - l.shift.0) * bench.field;
            let truth = lines
                .iter()
                .min_by(|a, b| (a.position - x).abs().total_cmp(&(b.position - x).abs()))
                .unwrap();
            let is_impurity = (truth.area - bench.area_for(45.0, 1.0)).abs() < 1e-9;
            let is_satellite = truth.area < 0.01 * bench.area_for(4000.0, 1.0) && !is_impurity;
            if is_satellite {
                expected += 1;
                labelled += usize::from(l.kind == LineKind::CarbonSatellite);
                if l.kind == LineKind::Signal {
                    impurities += 1;
                    println!(
                        "seed {seed}: not labelled at {x:.2}, area {:.1} +- {:.1}, true {:.1}",
                        l.area, l.area_u, truth.area
                    );
                }
            }
            kept += usize::from(is_impurity && l.kind == LineKind::Signal);
        }
    }
    println!(
        "satellites: {labelled} of {expected} found ones labelled, {impurities} reported as signals; impurity kept {kept} of 20"
    );
    assert_eq!(impurities, 0);
    assert_eq!((labelled, expected), (280, 280), "all 14 of each spectrum found, and labelled");
    assert!(kept == 20, "impurity hidden: {kept}");
}

fn candidate(name: &str, at: f64, tolerance: f64, pattern: &str, role: ReferenceRole) -> ReferenceCandidate {
    ReferenceCandidate {
        name: name.to_owned(),
        expected: Ppm(at),
        tolerance: Ppm(tolerance),
        multiplicity: pattern.parse().ok(),
        coupling: (pattern == "quint").then_some(Hertz(1.9)),
        role,
    }
}

#[test]
fn reference_is_found_or_refused() {
    let bench = Bench::default();
    let candidates = [
        candidate("CHD2SOCD3", 2.50, 0.02, "quint", ReferenceRole::Residual),
        candidate("TMS", 0.0, 0.02, "s", ReferenceRole::Standard),
        candidate("water", 3.33, 0.15, "s", ReferenceRole::Companion),
    ];
    let (mut found, mut wrong, mut refused, mut worst, mut unmoved) = (0, 0, 0, 0.0f64, 0);
    for seed in 0..40u64 {
        let lock = if seed % 2 == 0 { 0.0 } else { [1.3, -2.2, 3.1, -4.7, 5.0][(seed as usize / 2) % 5] };
        let at = |ppm: f64| (14.5 - ppm - lock) * bench.field;
        let mut lines = vec![line(at(3.33), bench.area_for(900.0, 2.0), 1.7)];
        for (k, share) in [1.0, 2.0, 3.0, 2.0, 1.0].iter().enumerate() {
            let x = at(2.50) + (k as f64 - 2.0) * 1.9;
            lines.push(line(x, bench.area_for(200.0 * share / 3.0, 1.0), 0.7));
        }
        if seed % 4 < 2 {
            lines.push(line(at(0.0), bench.area_for(80.0, 1.0), 0.7));
        }
        lines.extend(multiplet(at(7.26), bench.area_for(800.0, 1.0), 0.7, &[(8.1, 1)]));
        lines.extend(multiplet(at(4.12), bench.area_for(1500.0, 1.0), 0.7, &[(7.1, 3)]));
        lines.extend(multiplet(at(1.22), bench.area_for(1500.0, 1.0), 0.7, &[(7.1, 2)]));
        lines.push(line(at(3.81), bench.area_for(1500.0, 1.0), 0.7));
        let p = run(&bench, &lines, seed);
        match find(&p, &candidates, &ReferenceSettings::default()) {
            Some(r) if (r.offset.0 + lock).abs() * bench.field < 0.1 => {
                found += 1;
                unmoved += usize::from(lock == 0.0);
                worst = worst.max((r.offset.0 + lock).abs() * bench.field);
            }
            Some(r) => {
                wrong += 1;
                println!("seed {seed}: wrong {r:?} true {}", -lock);
            }
            None => refused += 1,
        }
    }
    println!(
        "reference: found {found} of 40 (half with the axis off by 1.3 to 5 ppm), refused {refused}, wrong {wrong}, off by {worst:.4} Hz at worst"
    );
    assert_eq!(wrong, 0);
    assert!(unmoved == 20 && found >= 38, "{unmoved} of 20 on a right axis, {found} of 40");
}

#[test]
fn errors_are_true() {
    let bench = Bench { roll: 20.0, ..Bench::default() };
    let (mut pulls, mut places) = (Vec::new(), Vec::new());
    for seed in 0..20u64 {
        let mut lines = Vec::new();
        for k in 0..20 {
            let x = 1000.0 + 300.0 * k as f64 + 2.3 * seed as f64;
            let snr = [20.0, 60.0, 200.0, 1000.0][k % 4];
            lines.extend(multiplet(x, bench.area_for(snr * 2.0, 1.0), 0.7, &[(2.6, 1)]));
        }
        let p = run(&bench, &lines, seed);
        for l in &p.lines {
            let x = (14.5 - l.shift.0) * bench.field;
            let truth = lines
                .iter()
                .min_by(|a, b| (a.position - x).abs().total_cmp(&(b.position - x).abs()))
                .unwrap();
            pulls.push((l.area - truth.area) / l.area_u);
            places.push((x - truth.position) / (l.shift_u.0 * bench.field));
        }
    }
    let (mean, sd) = mean_sd(&pulls);
    let (place_mean, place_sd) = mean_sd(&places);
    println!(
        "pulls of {} lines: area {mean:+.2} +- {sd:.2}, position {place_mean:+.2} +- {place_sd:.2}",
        pulls.len()
    );
    assert!(pulls.len() == 800, "{} lines of 800", pulls.len());
    assert!(mean.abs() < 0.2 && (0.85..1.25).contains(&sd), "area pulls {mean} {sd}");
    assert!((0.85..1.25).contains(&place_sd), "position pulls {place_sd}");
}
