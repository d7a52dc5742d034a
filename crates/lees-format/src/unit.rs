//! Units of abscissae.

/// What an abscissa is measured in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum XUnit {
    /// Chemical shift.
    Ppm,
    /// Frequency.
    Hertz,
    /// Frequency.
    Kilohertz,
    /// Time.
    Seconds,
    /// Time.
    Milliseconds,
    /// Time.
    Microseconds,
}

impl XUnit {
    /// Reads a unit as files write it: any case, with or without brackets.
    ///
    /// ```
    /// use lees_format::XUnit;
    /// assert_eq!(XUnit::from_label(" (ppm)"), Some(XUnit::Ppm));
    /// assert_eq!(XUnit::from_label("1/CM"), None);
    /// ```
    #[must_use]
    pub fn from_label(label: &str) -> Option<Self> {
        match bare(label).as_str() {
            "PPM" | "PARTSPERMILLION" | "PARTPERMILLION" | "DELTA" => Some(Self::Ppm),
            "HZ" | "HERTZ" => Some(Self::Hertz),
            "KHZ" | "KILOHERTZ" => Some(Self::Kilohertz),
            "S" | "SEC" | "SECOND" | "SECONDS" => Some(Self::Seconds),
            "MS" | "MSEC" | "MILLISECOND" | "MILLISECONDS" => Some(Self::Milliseconds),
            "US" | "USEC" | "MICROSECOND" | "MICROSECONDS" | "µS" | "\u{3bc}S" => Some(Self::Microseconds),
            _ => None,
        }
    }

    /// The factor to hertz or to seconds; `None` for ppm.
    #[must_use]
    pub(crate) const fn to_base(self) -> Option<f64> {
        match self {
            Self::Ppm => None,
            Self::Hertz | Self::Seconds => Some(1.0),
            Self::Kilohertz => Some(1e3),
            Self::Milliseconds => Some(1e-3),
            Self::Microseconds => Some(1e-6),
        }
    }

    /// Whether it is a unit of time.
    #[must_use]
    pub(crate) const fn is_time(self) -> bool {
        matches!(self, Self::Seconds | Self::Milliseconds | Self::Microseconds)
    }

    /// The usual sign.
    #[must_use]
    pub(crate) const fn name(self) -> &'static str {
        match self {
            Self::Ppm => "ppm",
            Self::Hertz => "Hz",
            Self::Kilohertz => "kHz",
            Self::Seconds => "s",
            Self::Milliseconds => "ms",
            Self::Microseconds => "us",
        }
    }
}

/// Upper case, letters and digits only.
pub(crate) fn bare(label: &str) -> String {
    label.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_uppercase).collect()
}
