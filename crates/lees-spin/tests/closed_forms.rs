//! Lines of small spin systems against closed forms.

use approx::assert_abs_diff_eq;
use lees_core::{Hertz, Megahertz, Ppm};
use lees_spin::{Method, PartnerSpin, SpinSystem, Transition};

const FIELD: Megahertz = Megahertz(400.0);

/// Position in Hz and intensity, by falling frequency.
fn hertz(lines: &[Transition]) -> Vec<(f64, f64)> {
    lines.iter().map(|line| (line.shift.to_hertz(FIELD).0, line.intensity)).collect()
}

fn pair(protons: (u32, u32), hz: (f64, f64), j: f64) -> SpinSystem {
    let mut system = SpinSystem::default();
    let a = system.add("A", Hertz(hz.0).to_ppm(FIELD), protons.0);
    let b = system.add("B", Hertz(hz.1).to_ppm(FIELD), protons.1);
    system.couple(a, b, Hertz(j));
    system
}

fn assert_lines(got: &[(f64, f64)], expected: &[(f64, f64)], hz: f64, share: f64) {
    assert_eq!(got.len(), expected.len(), "{got:?} against {expected:?}");
    for (g, e) in got.iter().zip(expected) {
        assert_abs_diff_eq!(g.0, e.0, epsilon = hz);
        assert_abs_diff_eq!(g.1, e.1, epsilon = share);
    }
}

/// AB: lines at centre +- C +- J/2 with 2C = sqrt(d^2 + J^2), intensities 1 -+ J/2C
/// (Pople, Schneider, Bernstein, High-resolution Nuclear Magnetic Resonance, 1959, section 6.3; from memory).
#[test]
fn ab_quartet() {
    for (difference, j) in [(10.0, 7.0), (4.0, 12.0), (30.0, -8.0), (200.0, 7.1)] {
        let half = libm::hypot(difference, j) / 2.0;
        let (outer, inner) = (half + j.abs() / 2.0, half - j.abs() / 2.0);
        let roof = j.abs() / (2.0 * half);
        let expected = [
            (1000.0 + outer, (1.0 - roof) / 2.0),
            (1000.0 + inner, (1.0 + roof) / 2.0),
            (1000.0 - inner, (1.0 + roof) / 2.0),
            (1000.0 - outer, (1.0 - roof) / 2.0),
        ];
        let system = pair((1, 1), (1000.0 + difference / 2.0, 1000.0 - difference / 2.0), j);
        let lines = system.transitions(FIELD);
        assert_lines(&hertz(&lines), &expected, 1e-9, 1e-12);
        assert_eq!(lines.iter().map(|l| l.group).collect::<Vec<_>>(), [0, 0, 1, 1]);
    }
}

/// AB2: with the lines numbered from A's side, vA = f3, vB = (f5 + f7)/2 and J = (f1 - f4 + f6 - f8)/3 hold for any
/// coupling; a ninth, combination line is faint. (Günther, NMR Spectroscopy, section on AB2; from memory.)
#[test]
fn ab2_rules() {
    for (a, b, j) in [(1020.0, 1000.0, 8.0), (1012.0, 1000.0, 9.5), (1060.0, 1000.0, 7.0)] {
        let lines = hertz(&pair((1, 2), (a, b), j).transitions(FIELD));
        let f: Vec<f64> = lines.iter().map(|line| line.0).collect();
        assert!((8..=9).contains(&f.len()), "{lines:?}");
        assert_abs_diff_eq!(f[2], a, epsilon = 1e-9);
        assert_abs_diff_eq!((f[4] + f[6]) / 2.0, b, epsilon = 1e-9);
        assert_abs_diff_eq!((f[0] - f[3] + f[5] - f[7]) / 3.0, j, epsilon = 1e-9);
        assert_abs_diff_eq!(lines[2].1, 0.25, epsilon = 1e-4);
        assert!(f.len() == 8 || lines[8].1 < 0.01);
    }
}

/// ABX: with D+- = sqrt((dAB +- (JAX - JBX)/2)^2 + JAB^2)/2 the AB part is two AB quartets
/// (Günther, NMR Spectroscopy, section on ABX; from memory).
#[test]
fn abx_is_two_quartets_and_six_x_lines() {
    let (a, b, x) = (812.0, 800.0, 2800.0);
    let (ab, ax, bx) = (15.0, 9.0, 4.0);
    let mut system = SpinSystem::default();
    let (ga, gb) = (system.add("A", Hertz(a).to_ppm(FIELD), 1), system.add("B", Hertz(b).to_ppm(FIELD), 1));
    system.split(ga, PartnerSpin::Half, 1, Hertz(ax));
    system.split(gb, PartnerSpin::Half, 1, Hertz(bx));
    // An X that is truly far off: one shared partner, coupled to both.
    system.partners.clear();
    system.partners.push(lees_spin::Partner {
        spin: PartnerSpin::Half,
        count: 1,
        couplings: vec![(ga, Hertz(ax)), (gb, Hertz(bx))],
    });
    system.couple(ga, gb, Hertz(ab));
    let mut expected = Vec::new();
    for sign in [1.0, -1.0] {
        let centre = (a + b) / 2.0 + sign * (ax + bx) / 4.0;
        let half = libm::hypot(a - b + sign * (ax - bx) / 2.0, ab) / 2.0;
        let roof = ab / (2.0 * half);
        for (place, share) in [
            (half + ab / 2.0, 1.0 - roof),
            (half - ab / 2.0, 1.0 + roof),
            (ab / 2.0 - half, 1.0 + roof),
            (-half - ab / 2.0, 1.0 - roof),
        ] {
            expected.push((centre + place, share / 4.0));
        }
    }
    expected.sort_by(|p, q| q.0.total_cmp(&p.0));
    assert_lines(&hertz(&system.transitions(FIELD)), &expected, 1e-9, 1e-12);

    // With X as a real proton far away the AB part keeps its place to second order J^2/(x - a) = 0.04 Hz.
    system.partners.clear();
    let gx = system.add("X", Hertz(x).to_ppm(FIELD), 1);
    system.couple(ga, gx, Hertz(ax));
    system.couple(gb, gx, Hertz(bx));
    let lines = hertz(&system.transitions(FIELD));
    let part: Vec<_> = lines.iter().copied().filter(|line| line.0 < 1500.0).collect();
    assert_lines(&part, &expected, 0.06, 0.01);
    let x_part: f64 = lines.iter().filter(|line| line.0 > 1500.0).map(|line| line.1).sum();
    assert_abs_diff_eq!(x_part, 1.0, epsilon = 0.01);
}

/// Weak coupling is binomial: 1:3:3:1 and 1:1 for AX3, 1:6:15:20:15:6:1 and 1:1 for A6X.
#[test]
fn weak_coupling_is_binomial() {
    for (count, row) in [(3_u32, vec![1.0, 3.0, 3.0, 1.0]), (6, vec![1.0, 6.0, 15.0, 20.0, 15.0, 6.0, 1.0])] {
        let total: f64 = row.iter().sum();
        let far = Megahertz(1e6);
        let mut system = SpinSystem::default();
        let many = system.add("A", Ppm(1.2), count);
        let one = system.add("X", Ppm(4.0), 1);
        system.couple(many, one, Hertz(6.1));
        let lines = system.transitions(far);
        let x: Vec<_> = lines.iter().filter(|l| l.group == one).collect();
        assert_eq!(x.len(), row.len());
        for (k, (line, weight)) in x.iter().zip(&row).enumerate() {
            let place = (f64::from(count) / 2.0 - k as f64) * 6.1;
            assert_abs_diff_eq!(line.shift.to_hertz(far).0 - 4e6, place, epsilon = 0.02);
            assert_abs_diff_eq!(line.intensity, weight / total, epsilon = 2e-4);
        }
        let a: Vec<_> = lines.iter().filter(|l| l.group == many).map(|l| l.intensity).collect();
        assert_eq!(a.len(), 2);
        a.iter().for_each(|i| assert_abs_diff_eq!(*i, f64::from(count) / 2.0, epsilon = 2e-3));
    }
}

/// Equivalent protons do not split one another, however strong their coupling to others.
#[test]
fn isochronous_groups_give_one_line() {
    let system = pair((3, 2), (900.0, 900.0), 7.0);
    let lines = hertz(&system.transitions(FIELD));
    assert_abs_diff_eq!(lines.iter().map(|l| l.1).sum::<f64>(), 5.0, epsilon = 1e-9);
    lines.iter().for_each(|line| assert_abs_diff_eq!(line.0, 900.0, epsilon = 0.003));
}

#[test]
fn protons_are_kept_and_the_method_is_told() {
    let mut system = SpinSystem::default();
    let groups: Vec<_> = (0..4).map(|k| system.add("CH2", Ppm(1.2 + 0.1 * f64::from(k)), 2)).collect();
    groups.windows(2).for_each(|w| system.couple(w[0], w[1], Hertz(7.0)));
    let solved = system.solve(FIELD);
    assert_eq!(solved.method, Method::Exact);
    assert_abs_diff_eq!(solved.transitions.iter().map(|l| l.intensity).sum::<f64>(), 8.0, epsilon = 1e-9);

    let mut large = SpinSystem::default();
    let groups: Vec<_> = (0..14).map(|k| large.add("CH2", Ppm(1.2 + 0.1 * f64::from(k)), 2)).collect();
    groups.windows(2).for_each(|w| large.couple(w[0], w[1], Hertz(7.0)));
    let solved = large.solve(FIELD);
    assert_eq!(solved.method, Method::FirstOrder);
    assert_abs_diff_eq!(solved.transitions.iter().map(|l| l.intensity).sum::<f64>(), 28.0, epsilon = 1e-9);
}

/// CHD2 in DMSO-d6: 1:2:3:2:1 with 1.9 Hz; CHDCl2: 1:1:1 (spin 1, 2nI + 1 lines).
#[test]
fn deuterium_patterns() {
    for (count, j, row) in [(2, 1.9, vec![1.0, 2.0, 3.0, 2.0, 1.0]), (1, 1.1, vec![1.0, 1.0, 1.0])] {
        let mut system = SpinSystem::default();
        let group = system.add("CHD", Ppm(2.5), 1);
        system.split(group, PartnerSpin::One, count, Hertz(j));
        let total: f64 = row.iter().sum();
        let top = (row.len() - 1) as f64 / 2.0;
        let expected: Vec<_> =
            row.iter().enumerate().map(|(k, w)| (1000.0 + (top - k as f64) * j, w / total)).collect();
        assert_lines(&hertz(&system.transitions(FIELD)), &expected, 1e-9, 1e-12);
    }
}
