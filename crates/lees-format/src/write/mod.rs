//! Measurements to bytes: JCAMP-DX in every encoding, and plain text.

mod asdf;
mod jcamp;
mod number;
mod scale;
mod text;

pub use jcamp::jcamp;
pub use text::text;

/// How ordinates are written. All are forms of the standard; see [`crate::read`] for the way back.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Encoding {
    /// Plain numbers, separated by blanks. Lossless for any value.
    Affn,
    /// Plain numbers in columns of equal width. Lossless for any value.
    Fix,
    /// Plain numbers, separated by their signs. Lossless for any value.
    Pac,
    /// Whole numbers whose first digit and sign are one letter.
    Sqz,
    /// Differences of whole numbers, with a check ordinate on each line.
    Dif,
    /// The same, with repeats counted.
    #[default]
    DifDup,
}

impl Encoding {
    /// All of them.
    pub const ALL: [Self; 6] = [Self::Affn, Self::Fix, Self::Pac, Self::Sqz, Self::Dif, Self::DifDup];

    /// The usual name.
    ///
    /// ```
    /// assert_eq!(lees_format::write::Encoding::default().name(), "difdup");
    /// ```
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Affn => "affn",
            Self::Fix => "fix",
            Self::Pac => "pac",
            Self::Sqz => "sqz",
            Self::Dif => "dif",
            Self::DifDup => "difdup",
        }
    }

    /// From its name, in any case.
    ///
    /// ```
    /// use lees_format::write::Encoding;
    /// assert_eq!(Encoding::from_name("DIFDUP"), Some(Encoding::DifDup));
    /// ```
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|encoding| encoding.name().eq_ignore_ascii_case(name))
    }

    const fn is_whole(self) -> bool {
        matches!(self, Self::Sqz | Self::Dif | Self::DifDup)
    }
}

/// How to write.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct WriteOptions {
    /// Form of the ordinates, in JCAMP-DX.
    pub encoding: Encoding,
    /// Whether the axis of a spectrum is in hertz with a shift reference; ppm otherwise.
    pub hertz: bool,
    /// What was done to the data, one step a line; written as comments.
    pub history: Vec<String>,
}

/// A written file.
#[derive(Debug, Clone, PartialEq)]
pub struct Written {
    /// Its bytes.
    pub bytes: Vec<u8>,
    /// Largest difference between a value and what was written for it; 0 when nothing was lost.
    pub rounding: f64,
}

/// Text for one line of a file: no control characters, no comment sign.
fn one_line(text: &str) -> String {
    crate::clean::clean_text(text).replace("$$", "$ $")
}
