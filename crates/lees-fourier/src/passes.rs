//! Transforms of lengths without large prime factors, one factor at a time.
//!
//! Decimation in frequency with sorted output (the Stockham arrangement; Cochran et al., Proc. IEEE 1967, 55, 1664;
//! Van Loan, *Computational Frameworks for the Fast Fourier Transform*, SIAM 1992, section 1.7).

use std::fmt;

use num_complex::Complex64;
use rustfft::algorithm::butterflies::{Butterfly2, Butterfly4, Butterfly8};
use rustfft::{Fft, FftDirection};

use crate::factors::roots;

/// Prime factors up to here are summed directly; a length with a larger one goes another way.
const LARGEST_FACTOR: usize = 13;
/// Butterflies gathered, transformed and spread at a time: 64 of eight points stay in the nearest cache.
const AT_ONCE: usize = 64;

/// A transform by passes.
#[derive(Debug)]
pub(crate) struct Passes {
    length: usize,
    passes: Vec<Pass>,
}

impl Passes {
    /// `None` where the length has a prime factor that is too large, or is zero.
    pub(crate) fn new(length: usize) -> Option<Self> {
        let factors = factors(length)?;
        let roots = roots(length);
        let mut left = length;
        let passes = factors.into_iter().map(|radix| {
            let pass = Pass::new(radix, left, &roots);
            left /= radix;
            pass
        });
        Some(Self { length, passes: passes.collect() })
    }

    pub(crate) fn scratch(&self) -> usize {
        self.length
    }

    /// Transforms in place; what was in `scratch` is lost.
    pub(crate) fn process(&self, points: &mut [Complex64], scratch: &mut [Complex64]) {
        let (mut from, mut to) = (points, &mut scratch[..self.length]);
        for pass in &self.passes {
            pass.run(from, to);
            std::mem::swap(&mut from, &mut to);
        }
        if self.passes.len() % 2 == 1 {
            to.copy_from_slice(from);
        }
    }
}

/// The factors of a length, eights first; `None` where one is too large.
fn factors(length: usize) -> Option<Vec<usize>> {
    let mut left = length;
    let mut factors = Vec::new();
    for radix in [8, 4].into_iter().chain(2..=LARGEST_FACTOR) {
        while left > 0 && left.is_multiple_of(radix) {
            factors.push(radix);
            left /= radix;
        }
    }
    (left == 1).then_some(factors)
}

/// One factor: butterflies of `radix` points over the whole, each output turned by its factor.
#[derive(Debug)]
struct Pass {
    radix: usize,
    /// Points between neighbours of one sequence: the product of the factors before.
    stride: usize,
    butterfly: Butterfly,
    /// By position in its sequence, `radix` factors each.
    factors: Vec<Complex64>,
}

impl Pass {
    /// The pass that splits sequences of `left` points; `roots` are those of the whole length.
    fn new(radix: usize, left: usize, roots: &[Complex64]) -> Self {
        let stride = roots.len() / left;
        let mut factors = Vec::with_capacity(left);
        for place in 0..left / radix {
            factors.extend((0..radix).map(|k| roots[place * k * stride]));
        }
        Self { radix, stride, butterfly: Butterfly::new(radix), factors }
    }

    fn run(&self, from: &[Complex64], to: &mut [Complex64]) {
        match self.radix {
            2 => self.run_of::<2>(from, to),
            3 => self.run_of::<3>(from, to),
            4 => self.run_of::<4>(from, to),
            5 => self.run_of::<5>(from, to),
            7 => self.run_of::<7>(from, to),
            8 => self.run_of::<8>(from, to),
            11 => self.run_of::<11>(from, to),
            _ => self.run_of::<LARGEST_FACTOR>(from, to),
        }
    }

    fn run_of<const RADIX: usize>(&self, from: &[Complex64], to: &mut [Complex64]) {
        let columns = from.len() / RADIX;
        let mut block = [Complex64::ZERO; AT_ONCE * LARGEST_FACTOR];
        let (block, _) = block.as_chunks_mut::<RADIX>();
        for first in (0..columns).step_by(AT_ONCE) {
            let count = AT_ONCE.min(columns - first);
            let block = &mut block[..count];
            let rows: [&[Complex64]; RADIX] = std::array::from_fn(|k| &from[k * columns + first..][..count]);
            for (i, points) in block.iter_mut().enumerate() {
                *points = std::array::from_fn(|k| rows[k][i]);
            }
            self.butterfly.process(block.as_flattened_mut());
            self.spread(first, block, to);
        }
    }

    /// Writes what the butterflies from column `first` on gave, each turned by its factor.
    fn spread<const RADIX: usize>(&self, first: usize, block: &[[Complex64; RADIX]], to: &mut [Complex64]) {
        let (factors, _) = self.factors.as_chunks::<RADIX>();
        if self.stride == 1 {
            let (to, _) = to.as_chunks_mut::<RADIX>();
            for ((to, points), factors) in to[first..].iter_mut().zip(block).zip(&factors[first..]) {
                *to = std::array::from_fn(|k| points[k] * factors[k]);
            }
            return;
        }
        let mut column = first;
        while column < first + block.len() {
            let (place, offset) = (column / self.stride, column % self.stride);
            let run = (self.stride - offset).min(first + block.len() - column);
            let points = &block[column - first..][..run];
            for (k, factor) in factors[place].iter().enumerate() {
                let row = &mut to[(place * RADIX + k) * self.stride + offset..][..run];
                match place {
                    0 => row.iter_mut().zip(points).for_each(|(t, z)| *t = z[k]),
                    _ => row.iter_mut().zip(points).for_each(|(t, z)| *t = z[k] * factor),
                }
            }
            column += run;
        }
    }
}

/// The transform of a few points.
enum Butterfly {
    Two(Butterfly2<f64>),
    Four(Butterfly4<f64>),
    Eight(Butterfly8<f64>),
    /// Of an odd prime number of points: its roots, summed directly.
    Sum(Vec<Complex64>),
}

impl Butterfly {
    fn new(radix: usize) -> Self {
        let direction = FftDirection::Forward;
        match radix {
            2 => Self::Two(Butterfly2::new(direction)),
            4 => Self::Four(Butterfly4::new(direction)),
            8 => Self::Eight(Butterfly8::new(direction)),
            _ => Self::Sum(roots(radix)),
        }
    }

    /// Transforms as many sequences as there are, one after the other.
    fn process(&self, points: &mut [Complex64]) {
        match self {
            Self::Two(two) => two.process_with_scratch(points, &mut []),
            Self::Four(four) => four.process_with_scratch(points, &mut []),
            Self::Eight(eight) => eight.process_with_scratch(points, &mut []),
            Self::Sum(roots) => points.chunks_exact_mut(roots.len()).for_each(|some| sum(some, roots)),
        }
    }
}

impl fmt::Debug for Butterfly {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Butterfly").finish_non_exhaustive()
    }
}

/// By the definition.
fn sum(points: &mut [Complex64], roots: &[Complex64]) {
    let mut before = [Complex64::ZERO; LARGEST_FACTOR];
    let before = &mut before[..points.len()];
    before.copy_from_slice(points);
    for (k, point) in points.iter_mut().enumerate() {
        *point = before.iter().enumerate().map(|(j, z)| z * roots[j * k % roots.len()]).sum();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_fall_into_factors() {
        assert_eq!(factors(65_536).unwrap(), [8, 8, 8, 8, 8, 2]);
        assert_eq!(factors(12).unwrap(), [4, 3]);
        assert_eq!(factors(1).unwrap(), [0; 0]);
        assert!(factors(17).is_none() && factors(0).is_none());
    }
}
