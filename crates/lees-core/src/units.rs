//! Quantities that must not be confused with one another.

use std::fmt;
use std::ops::{Add, Neg, Sub};

use serde::{Deserialize, Serialize};

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $unit:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);

        impl $name {
            /// The bare number, in the unit of the type.
            ///
            /// ```
            /// assert_eq!(lees_core::Ppm(7.26).value(), 7.26);
            /// ```
            #[must_use]
            pub const fn value(self) -> f64 {
                self.0
            }

            /// The magnitude.
            ///
            /// ```
            /// assert_eq!(lees_core::Hertz(-7.1).abs(), lees_core::Hertz(7.1));
            /// ```
            #[must_use]
            pub const fn abs(self) -> Self {
                Self(self.0.abs())
            }
        }

        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }

        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }

        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(-self.0)
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                fmt::Display::fmt(&self.0, f)?;
                f.write_str(concat!(" ", $unit))
            }
        }
    };
}

quantity!(
    /// A chemical shift or a difference of shifts, in parts per million of the reference frequency.
    ///
    /// Definition: IUPAC, Harris et al., Pure Appl. Chem. 2001, 73, 1795.
    Ppm,
    "ppm"
);
quantity!(
    /// A frequency or a frequency difference in hertz: line widths and coupling constants.
    Hertz,
    "Hz"
);
quantity!(
    /// The proton Larmor frequency of a spectrometer, in megahertz.
    Megahertz,
    "MHz"
);
quantity!(
    /// A time in seconds.
    Seconds,
    "s"
);
quantity!(
    /// An angle in degrees: a phase or a pulse's flip angle.
    Degrees,
    "degrees"
);

impl Ppm {
    /// This shift difference as a frequency difference at the given field.
    ///
    /// ```
    /// use lees_core::{Megahertz, Ppm};
    /// assert_eq!(Ppm(0.5).to_hertz(Megahertz(400.0)).value(), 200.0);
    /// ```
    #[must_use]
    pub fn to_hertz(self, field: Megahertz) -> Hertz {
        Hertz(self.0 * field.0)
    }
}

impl Hertz {
    /// This frequency difference as a shift difference at the given field.
    ///
    /// ```
    /// use lees_core::{Hertz, Megahertz, Ppm};
    /// assert_eq!(Hertz(200.0).to_ppm(Megahertz(400.0)), Ppm(0.5));
    /// ```
    #[must_use]
    pub fn to_ppm(self, field: Megahertz) -> Ppm {
        Ppm(self.0 / field.0)
    }
}

impl Degrees {
    /// The same angle in radians.
    ///
    /// ```
    /// assert_eq!(lees_core::Degrees(180.0).to_radians(), std::f64::consts::PI);
    /// ```
    #[must_use]
    pub fn to_radians(self) -> f64 {
        self.0.to_radians()
    }
}
