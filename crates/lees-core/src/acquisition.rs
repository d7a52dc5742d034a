//! How a spectrum was taken.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::{Degrees, Megahertz, Seconds};

/// The observed nucleus.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub enum Nucleus {
    /// Protons.
    Proton,
    /// Any other nucleus, as named in the file, such as `13C`.
    Other(String),
}

impl Nucleus {
    /// Reads names such as `^1H`, `1H` or `<1H>`.
    ///
    /// ```
    /// use lees_core::Nucleus;
    /// assert_eq!(Nucleus::from_label("^1H"), Nucleus::Proton);
    /// assert_eq!(Nucleus::from_label("<13C>"), Nucleus::Other("13C".to_owned()));
    /// ```
    #[must_use]
    pub fn from_label(label: &str) -> Self {
        let bare: String = label.chars().filter(|c| c.is_ascii_alphanumeric()).collect();
        match bare.to_ascii_uppercase().as_str() {
            "1H" | "H1" | "H" | "PROTON" => Self::Proton,
            _ => Self::Other(bare),
        }
    }

    /// The usual name, such as `1H`.
    ///
    /// ```
    /// assert_eq!(lees_core::Nucleus::Proton.name(), "1H");
    /// ```
    #[must_use]
    pub fn name(&self) -> &str {
        match self {
            Self::Proton => "1H",
            Self::Other(name) => name,
        }
    }
}

/// What the file says of sample and experiment. `None` means the file does not say.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Acquisition {
    /// The title, as in the file.
    pub title: String,
    /// The nucleus; `None` when the file does not name it.
    pub nucleus: Option<Nucleus>,
    /// The observe frequency.
    pub field: Megahertz,
    /// Whether the frequency stands in no file and was not given, but assumed: widths and couplings in hertz are in its measure.
    #[serde(default)]
    pub field_assumed: bool,
    /// The NMR solvent's label, as in the file.
    pub solvent: Option<String>,
    /// Number of scans added up.
    pub scans: Option<u32>,
    /// Time between the end of one acquisition and the next pulse.
    pub relaxation_delay: Option<Seconds>,
    /// How long each FID was recorded.
    pub acquisition_time: Option<Seconds>,
    /// Flip angle of the excitation pulse.
    pub pulse_angle: Option<Degrees>,
    /// Sample temperature in kelvin.
    pub temperature_k: Option<f64>,
    /// Everything else worth keeping, by normalised label.
    pub other: BTreeMap<String, String>,
}

impl Acquisition {
    /// An acquisition of which only the field is known.
    ///
    /// ```
    /// use lees_core::{Acquisition, Megahertz};
    /// assert_eq!(Acquisition::at_field(Megahertz(400.0)).solvent, None);
    /// ```
    #[must_use]
    pub fn at_field(field: Megahertz) -> Self {
        Self {
            title: String::new(),
            nucleus: None,
            field,
            field_assumed: false,
            solvent: None,
            scans: None,
            relaxation_delay: None,
            acquisition_time: None,
            pulse_angle: None,
            temperature_k: None,
            other: BTreeMap::new(),
        }
    }

    /// Repetition time: relaxation delay plus acquisition time, when both are known.
    ///
    /// ```
    /// use lees_core::{Acquisition, Megahertz, Seconds};
    /// let mut acquisition = Acquisition::at_field(Megahertz(400.0));
    /// acquisition.relaxation_delay = Some(Seconds(10.0));
    /// assert_eq!(acquisition.repetition_time(), None);
    /// acquisition.acquisition_time = Some(Seconds(4.0));
    /// assert_eq!(acquisition.repetition_time(), Some(Seconds(14.0)));
    /// ```
    #[must_use]
    pub fn repetition_time(&self) -> Option<Seconds> {
        Some(self.relaxation_delay? + self.acquisition_time?)
    }
}
