//! Turning a complex spectrum.

use lees_core::Spectrum;
use lees_core::complex::polar;
use num_complex::Complex64;

/// Points between exact evaluations of the ramp; between them it is multiplied on.
const RESYNC: usize = 64;

/// Multiplies every complex point `i` by `exp(i (start + step i))`, angles in radians.
///
/// ```
/// let (mut re, mut im) = (vec![1.0, 1.0], vec![0.0, 0.0]);
/// lees_process::phase::turn(&mut re, &mut im, 0.0, std::f64::consts::FRAC_PI_2);
/// assert!((re[0] - 1.0).abs() < 1e-15 && (im[1] - 1.0).abs() < 1e-15);
/// ```
pub fn turn(real: &mut [f64], imaginary: &mut [f64], start: f64, step: f64) {
    let by = polar(1.0, step);
    let chunks = real.chunks_mut(RESYNC).zip(imaginary.chunks_mut(RESYNC)).enumerate();
    for (chunk, (real, imaginary)) in chunks {
        let mut factor = polar(1.0, start + step * (chunk * RESYNC) as f64);
        for (re, im) in real.iter_mut().zip(imaginary) {
            let point = Complex64::new(*re, *im) * factor;
            (*re, *im) = (point.re, point.im);
            factor *= by;
        }
    }
}

/// Takes the phase `ph0 + ph1 (k - pivot) / n` (degrees, `k` the index, `n` the number of points) off a spectrum.
/// Without imaginary part nothing happens.
///
/// ```
/// use lees_core::{Acquisition, Megahertz, Ppm, ShiftAxis, Spectrum};
/// let field = Megahertz(400.0);
/// let mut spectrum = Spectrum {
///     axis: ShiftAxis::new(Ppm(1.0), Ppm(0.0), 2, field).expect("falls"),
///     real: ndarray::array![0.0, 0.0],
///     imaginary: Some(ndarray::array![1.0, 1.0]),
///     acquisition: Acquisition::at_field(field),
/// };
/// lees_process::phase::correct(&mut spectrum, 90.0, 0.0, 0.0);
/// assert!((spectrum.real[1] - 1.0).abs() < 1e-15);
/// ```
pub fn correct(spectrum: &mut Spectrum, ph0_deg: f64, ph1_deg: f64, pivot: f64) {
    let n = spectrum.real.len() as f64;
    let step = -ph1_deg.to_radians() / n;
    let start = -ph0_deg.to_radians() - step * pivot;
    if let Some((real, imaginary)) = parts_mut(spectrum) {
        turn(real, imaginary, start, step);
    }
}

/// Both parts as slices, laid out afresh where needed; `None` without imaginary part or when the lengths differ.
pub(super) fn parts_mut(spectrum: &mut Spectrum) -> Option<(&mut [f64], &mut [f64])> {
    let imaginary = spectrum.imaginary.as_mut()?;
    for part in [&mut spectrum.real, imaginary] {
        if !part.is_standard_layout() {
            *part = part.iter().copied().collect();
        }
    }
    let (real, imaginary) = (spectrum.real.as_slice_mut()?, spectrum.imaginary.as_mut()?.as_slice_mut()?);
    (real.len() == imaginary.len()).then_some((real, imaginary))
}

#[cfg(test)]
mod tests {
    use lees_core::complex::modulus;

    use super::*;

    #[test]
    fn the_recurrence_keeps_its_precision() {
        let n = 100_000;
        let (mut re, mut im) = (vec![1.0; n], vec![0.0; n]);
        turn(&mut re, &mut im, 0.3, -0.004_27);
        let worst = (0..n)
            .map(|i| modulus(Complex64::new(re[i], im[i]) - polar(1.0, 0.3 - 0.004_27 * i as f64)))
            .fold(0.0, f64::max);
        assert!(worst < 1e-12, "{worst}");
    }
}
