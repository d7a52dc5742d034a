//! Simulated recordings against what their recipes promise.

use approx::{assert_abs_diff_eq, assert_relative_eq};
use lees_core::Ppm;
use lees_core::complex::modulus;
use lees_spin::simulate::{Compound, Noise, Recipe, Signal, Simulated, simulate};

fn two_singlets() -> Recipe {
    let product = Compound::new("product")
        .mass(250.0)
        .signal(Signal::new(7.5, 1.0))
        .signal(Signal::new(3.0, 3.0).wide(1.5));
    Recipe { satellites: false, product: Some(product), ..Recipe::default() }
}

/// The real points between two shifts.
fn stretch(made: &Simulated, high: f64, low: f64) -> Vec<f64> {
    made.spectrum.axis.index_range(Ppm(high), Ppm(low)).map(|k| made.spectrum.real[k]).collect()
}

/// Area between two shifts in protons.
fn area(made: &Simulated, high: f64, low: f64) -> f64 {
    let sum: f64 = stretch(made, high, low).iter().sum();
    sum * made.spectrum.axis.hertz_per_point().0 / made.truth.planted.proton_area
}

/// A Lorentzian within +- k widths holds (2/pi) atan(2k) of its area.
#[test]
fn areas_are_protons() {
    let mut recipe = two_singlets();
    recipe.shape.gaussian_hz = 0.0;
    recipe.processing.lb_hz = 0.5;
    let made = simulate(&recipe).unwrap();
    for (at, protons, width) in [(7.5, 1.0, 0.85_f64), (3.0, 3.0, 2.0)] {
        let held = std::f64::consts::FRAC_2_PI * libm::atan(2.0 * 40.0 / width);
        let window = 40.0 / 400.13;
        assert_relative_eq!(area(&made, at + window, at - window), protons * held, max_relative = 2e-3);
    }
}

#[test]
fn height_over_noise_is_as_asked() {
    let mut recipe = two_singlets();
    recipe.noise = Noise { snr: Some(500.0) };
    let made = simulate(&recipe).unwrap();
    let empty = stretch(&made, 14.0, 9.0);
    let sigma = (empty.iter().map(|y| y * y).sum::<f64>() / empty.len() as f64).sqrt();
    assert_relative_eq!(sigma, made.truth.planted.noise_sigma, max_relative = 0.03);
    let peak = stretch(&made, 7.52, 7.48).into_iter().fold(0.0, f64::max);
    assert_relative_eq!(peak / sigma, 500.0, max_relative = 0.04);
}

/// Behind a digital filter of any delay the same spectrum comes out, but for aliased tails.
#[test]
fn the_filter_delays_and_changes_nothing_else() {
    let plain = simulate(&two_singlets()).unwrap();
    for delay in [60.0, 67.98, 76.25] {
        let mut recipe = two_singlets();
        recipe.instrument.group_delay = Some(delay);
        let made = simulate(&recipe).unwrap();
        assert_eq!(made.fid.group_delay, Some(delay));
        let top = plain.spectrum.real.fold(0.0, |a: f64, b| a.max(*b));
        let range = plain.spectrum.axis.index_range(Ppm(13.0), Ppm(-2.0));
        let worst =
            range.map(|k| (made.spectrum.real[k] - plain.spectrum.real[k]).abs() / top).fold(0.0, f64::max);
        assert!(worst < 2e-3, "delay {delay}: {worst:e} of the tallest line");
        // Before the pulse there is next to nothing, after the rise the decay itself.
        let rise = made.fid.points.iter().take(10).map(|z| modulus(*z)).fold(0.0, f64::max);
        assert!(rise < 1e-3 * 4.0, "{rise:e}");
        assert_abs_diff_eq!(
            modulus(made.fid.points[delay as usize + 3]),
            modulus(plain.fid.points[3]),
            epsilon = 0.8
        );
    }
}

#[test]
fn the_same_seed_gives_the_same_numbers() {
    let mut recipe = two_singlets();
    recipe.noise.snr = Some(100.0);
    let first = simulate(&recipe).unwrap();
    assert_eq!(first, simulate(&recipe).unwrap());
    recipe.seed = 1;
    assert_ne!(first.spectrum.real, simulate(&recipe).unwrap().spectrum.real);
}

/// 1 wt% of dichloromethane in a product of 250 g/mol, by hand: r = (1/84.927)/(99/250) = 0.029735.
#[test]
fn amounts_follow_their_definitions() {
    let mut recipe = two_singlets();
    recipe
        .volatile
        .push(Compound::new("dichloromethane").mass(84.927).wt(1.0).signal(Signal::new(5.30, 2.0)));
    let truth = simulate(&recipe).unwrap().truth;
    assert_abs_diff_eq!(truth.volatiles[0].mole_ratio, 0.029_735, epsilon = 1e-6);
    assert_abs_diff_eq!(truth.volatiles[0].mol_percent.unwrap(), 2.8876, epsilon = 1e-3);
    assert_abs_diff_eq!(truth.total_wt_percent.unwrap(), 1.0, epsilon = 1e-12);
    assert_abs_diff_eq!(truth.product.unwrap().wt_percent.unwrap(), 99.0, epsilon = 1e-12);
}

/// 90 degrees, TR = 5 s: T1 6 s leaves 0.56540, T1 1 s leaves 0.99326 (1 - exp(-TR/T1)).
#[test]
fn slow_relaxation_takes_area() {
    let mut recipe = two_singlets();
    recipe.instrument.pulse_angle_deg = Some(90.0);
    recipe.instrument.relaxation_delay_s = Some(5.0 - recipe.instrument.acquisition_time());
    assert_abs_diff_eq!(recipe.instrument.saturation(Some(6.0)), 0.56540, epsilon = 1e-5);
    assert_abs_diff_eq!(recipe.instrument.saturation(Some(1.0)), 0.99326, epsilon = 1e-5);
    assert_abs_diff_eq!(recipe.instrument.saturation(None), 1.0);
}

#[test]
fn satellites_share_the_area() {
    let mut recipe = two_singlets();
    recipe.product = Some(
        Compound::new("chloroform").mass(119.4).signal(Signal { ch: Some(209.0), ..Signal::new(7.26, 1.0) }),
    );
    recipe.satellites = true;
    let made = simulate(&recipe).unwrap();
    let bare = simulate(&Recipe { satellites: false, ..recipe }).unwrap();
    // Two lines of 0.535 % at 7.26 +- 104.5 Hz = 6.999 and 7.521 ppm; the difference takes the parent's tail out.
    for centre in [7.521, 6.999] {
        let extra = area(&made, centre + 0.02, centre - 0.02) - area(&bare, centre + 0.02, centre - 0.02);
        assert_relative_eq!(extra, 0.00535, max_relative = 0.06);
    }
}

#[test]
fn planted_phase_is_as_told() {
    let mut recipe = two_singlets();
    recipe.output.imaginary = true;
    let clean = simulate(&recipe).unwrap();
    recipe.faults.phase.ph0_deg = 5.0;
    recipe.faults.phase.ph1_deg = 20.0;
    recipe.faults.phase.pivot_ppm = Some(7.5);
    let turned = simulate(&recipe).unwrap();
    for (ppm, sign) in [(7.5, 1.0), (3.0, 1.0)] {
        let k = clean.spectrum.axis.nearest(Ppm(ppm));
        let angle = |made: &Simulated| {
            libm::atan2(made.spectrum.imaginary.as_ref().unwrap()[k], made.spectrum.real[k])
        };
        let expected = 5.0 + 20.0 * (k as f64 - turned.truth.planted.pivot_index) / 65_536.0;
        assert_abs_diff_eq!((angle(&turned) - angle(&clean)).to_degrees() * sign, expected, epsilon = 1e-9);
    }
}

#[test]
fn side_bands_keep_the_area() {
    let mut recipe = two_singlets();
    recipe.shape.spinning = Some(lees_spin::simulate::Spinning { rate_hz: 20.0, shares: vec![0.01] });
    let made = simulate(&recipe).unwrap();
    let offset = 20.0 / 400.13;
    let band = area(&made, 7.5 + offset + 0.01, 7.5 + offset - 0.01);
    let tail = area(&simulate(&two_singlets()).unwrap(), 7.5 + offset + 0.01, 7.5 + offset - 0.01);
    assert_relative_eq!(band - tail, 0.01, max_relative = 0.1);
}

#[test]
fn unsound_recipes_are_refused() {
    let refuse = |text: &str, part: &str| {
        let fault = Recipe::from_toml(text).and_then(|recipe| simulate(&recipe).map(|_| ())).unwrap_err();
        assert!(fault.to_string().contains(part), "{fault}");
    };
    refuse("title = 3", "line 1");
    refuse("[product]\nname = \"p\"\nsignals = [\n  { at = 1.0, h = 1, split = \"dd 7\" },\n]", "line 4");
    refuse("[product]\nname = \"p\"\nsignals = [{ at = 1.0, h = 1, with = { Z = 7.0 } }]", "`Z`");
    refuse("[[volatile]]\nname = \"v\"\nsignals = []", "mole_ratio or wt_percent");
    refuse(
        "[[volatile]]\nname = \"v\"\nwt_percent = 1\nformula = \"C3H8O\"\nsignals = []",
        "needs a product",
    );
    refuse("[instrument]\nfield_mhz = -400", "more than 0");
    refuse("[processing]\npoints = 1000", "fid_points");
    refuse("[product]\nname = \"p\"\nsignals = [{ at = 1.0, h = 0 }]", "0 protons");
}

#[test]
fn a_recipe_survives_its_own_text() {
    let mut recipe = two_singlets();
    recipe.water =
        Some(Compound::new("water").ratio(0.1).signal(Signal::new(1.56, 2.0).exchanging().wide(3.0)));
    recipe.product.as_mut().unwrap().signals[0] =
        Signal::new(7.5, 1.0).split_by(1, 8.7).split_by(2, 2.2).named("H-5");
    let text = recipe.to_toml().unwrap();
    assert_eq!(Recipe::from_toml(&text).unwrap(), recipe, "{text}");
}

/// Two ethyl groups are two triplets in one place, 1:2:1, not a quintet.
#[test]
fn equal_parts_do_not_split_one_another() {
    let mut recipe = two_singlets();
    let ethyls = Compound::new("diethylamino")
        .mass(300.0)
        .signal(Signal::new(3.46, 4.0).in_parts(2).named("CH2"))
        .signal(Signal::new(1.25, 6.0).in_parts(2).coupled("CH2", 7.1));
    recipe.product = Some(ethyls);
    let truth = simulate(&recipe).unwrap().truth;
    let far = |line: &&lees_spin::simulate::TruthLine| (line.ppm - 1.25).abs() * 400.13 > 8.0;
    let outside: f64 =
        truth.lines.iter().filter(|line| line.ppm < 2.0).filter(far).map(|line| line.protons).sum();
    assert!(outside < 0.01, "a quintet's outer lines would hold 0.75 protons; found {outside}");
    assert_abs_diff_eq!(truth.lines.iter().map(|line| line.protons).sum::<f64>(), 10.0, epsilon = 1e-9);
    recipe.product.as_mut().unwrap().signals[0].parts = 1;
    assert!(simulate(&recipe).is_err());
}
