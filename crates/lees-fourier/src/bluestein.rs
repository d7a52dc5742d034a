//! Transforms of any length, as a convolution with a chirp (Bluestein, IEEE Trans. Audio Electroacoust. 1970, 18, 451).

use num_complex::Complex64;

use crate::factors::roots;
use crate::passes::Passes;

/// A transform by way of two longer ones, whose length is a power of two.
#[derive(Debug)]
pub(crate) struct Bluestein {
    /// `exp(-i pi j^2 / n)`.
    chirp: Vec<Complex64>,
    /// The transform of the conjugate chirp, over the longer length and scaled by it.
    filter: Vec<Complex64>,
    longer: Passes,
}

impl Bluestein {
    /// `None` for no points at all.
    pub(crate) fn new(length: usize) -> Option<Self> {
        let size = (2 * length).checked_sub(1)?.next_power_of_two();
        let longer = Passes::new(size)?;
        let circle = roots(2 * length);
        // (j + 1)^2 = j^2 + 2 j + 1, kept on the circle
        let mut square = 0;
        let chirp: Vec<Complex64> = (0..length)
            .map(|j| {
                let z = circle[square];
                square = (square + 2 * j + 1) % circle.len();
                z
            })
            .collect();
        let mut filter = vec![Complex64::ZERO; size];
        for (j, z) in chirp.iter().enumerate() {
            let value = z.conj() / size as f64;
            filter[j] = value;
            filter[(size - j) % size] = value;
        }
        longer.process(&mut filter, &mut vec![Complex64::ZERO; size]);
        Some(Self { chirp, filter, longer })
    }

    pub(crate) fn scratch(&self) -> usize {
        self.filter.len() + self.longer.scratch()
    }

    /// Transforms in place; what was in `scratch` is lost.
    pub(crate) fn process(&self, points: &mut [Complex64], scratch: &mut [Complex64]) {
        let (product, rest) = scratch.split_at_mut(self.filter.len());
        product.fill(Complex64::ZERO);
        product.iter_mut().zip(&*points).zip(&self.chirp).for_each(|((l, p), c)| *l = p * c);
        self.longer.process(product, rest);
        // back again by the forward transform of the conjugate
        product.iter_mut().zip(&self.filter).for_each(|(l, f)| *l = (*l * f).conj());
        self.longer.process(product, rest);
        points.iter_mut().zip(&*product).zip(&self.chirp).for_each(|((p, l), c)| *p = l.conj() * c);
    }
}
