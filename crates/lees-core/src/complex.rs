//! Complex numbers whose last digit does not depend on the machine.
//!
//! The methods of [`Complex64`] ask the C library, whose last digit differs between systems and even between processors;
//! these go by `libm`, which is the same everywhere.

use num_complex::Complex64;

/// `modulus exp(i angle)`, the angle in radians.
///
/// ```
/// use lees_core::complex::polar;
/// let up = polar(2.0, std::f64::consts::FRAC_PI_2);
/// assert!(up.re.abs() < 1e-15 && up.im == 2.0);
/// ```
#[must_use]
pub fn polar(modulus: f64, angle: f64) -> Complex64 {
    let (sin, cos) = libm::sincos(angle);
    Complex64::new(modulus * cos, modulus * sin)
}

/// `exp(z)`.
///
/// ```
/// use lees_core::complex::exp;
/// use num_complex::Complex64;
/// let z = exp(Complex64::new(1.0, std::f64::consts::PI));
/// assert!((z + std::f64::consts::E).norm() < 1e-15, "Euler");
/// ```
#[must_use]
pub fn exp(z: Complex64) -> Complex64 {
    polar(libm::exp(z.re), z.im)
}

/// The distance from zero, `|z|`.
///
/// ```
/// use num_complex::Complex64;
/// assert_eq!(lees_core::complex::modulus(Complex64::new(-3.0, 4.0)), 5.0);
/// ```
#[must_use]
pub fn modulus(z: Complex64) -> f64 {
    libm::hypot(z.re, z.im)
}

/// The angle in radians, from -pi to pi.
///
/// ```
/// use num_complex::Complex64;
/// assert_eq!(lees_core::complex::argument(Complex64::new(0.0, 2.0)), std::f64::consts::FRAC_PI_2);
/// ```
#[must_use]
pub fn argument(z: Complex64) -> f64 {
    libm::atan2(z.im, z.re)
}
