//! Transforms against those of `rustfft`, planned by its own planner.

use lees_fourier::Plans;
use num_complex::Complex64;
use rustfft::FftPlanner;

/// Values without a pattern, from a linear congruential generator (Knuth's MMIX constants).
fn points(n: usize) -> Vec<Complex64> {
    let mut state = n as u64;
    let mut next = || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / (1_u64 << 53) as f64 - 0.5
    };
    (0..n).map(|_| Complex64::new(next(), next())).collect()
}

#[test]
fn every_length_agrees_with_the_reference() {
    let lengths =
        (1..=130).chain([169, 256, 343, 1000, 1009, 1024, 2048, 4096, 5000, 8190, 16_384, 65_536, 100_000]);
    let (mut ours, mut reference) = (Plans::new(), FftPlanner::new());
    for n in lengths {
        let before = points(n);
        for is_inverse in [false, true] {
            let (mut a, mut b) = (before.clone(), before.clone());
            if is_inverse {
                ours.inverse(n).process(&mut a);
                reference.plan_fft_inverse(n).process(&mut b);
            } else {
                ours.forward(n).process(&mut a);
                reference.plan_fft_forward(n).process(&mut b);
            }
            let size: f64 = b.iter().map(|z| z.norm_sqr()).sum();
            let off: f64 = a.iter().zip(&b).map(|(a, b)| (a - b).norm_sqr()).sum();
            assert!(
                off <= 1e-30 * size * (2.0 + libm::log2(n as f64)),
                "{n} points: {}",
                (off / size).sqrt()
            );
        }
    }
}

#[test]
fn no_points_transform_to_none() {
    let mut none: [Complex64; 0] = [];
    Plans::new().forward(0).process(&mut none);
    Plans::new().inverse(0).process(&mut none);
}

#[test]
fn scratch_memory_may_hold_anything() {
    for n in [48, 1009] {
        let plan = Plans::new().forward(n);
        let (mut a, mut b) = (points(n), points(n));
        plan.process(&mut a);
        plan.process_with(&mut b, &mut vec![Complex64::new(7.0, f64::NAN); plan.scratch()]);
        assert_eq!(a, b);
    }
}

/// Every bit, not only what rounding leaves: written down on x86-64, to hold on any machine.
#[test]
fn the_last_digit_is_the_same_everywhere() {
    let mut found = Vec::new();
    for n in [4096, 1001, 1009] {
        let mut data = points(n);
        Plans::new().forward(n).process(&mut data);
        let bits = data.iter().flat_map(|z| [z.re.to_bits(), z.im.to_bits()]);
        // FNV-1a over 64-bit words
        found.push(bits.fold(0xcbf2_9ce4_8422_2325, |h: u64, b| (h ^ b).wrapping_mul(0x0100_0000_01b3)));
    }
    assert_eq!(found, [0xbf19_958c_1a9b_12fd, 0x9f67_a45a_a0d3_635a, 0x25a7_bc13_4d98_ee13]);
}
