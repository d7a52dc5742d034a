//! What a block holds, from its DATA TYPE.

use serde::{Deserialize, Serialize};

/// What a block of a file is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// A one-dimensional NMR spectrum.
    Spectrum,
    /// A one-dimensional free induction decay.
    Fid,
    /// A list of peaks: no line shapes.
    PeakTable,
    /// Peaks with assignments.
    PeakAssignments,
    /// NMR data of two or more dimensions.
    MultiDimensional,
    /// A chemical structure.
    Structure,
    /// A container of other blocks.
    Link,
    /// Another technique, such as infrared or mass spectrometry, or something unknown.
    Other,
}

impl Kind {
    /// The name used in output.
    #[must_use]
    pub(crate) const fn name(self) -> &'static str {
        match self {
            Self::Spectrum => "spectrum",
            Self::Fid => "fid",
            Self::PeakTable => "peak_table",
            Self::PeakAssignments => "peak_assignments",
            Self::MultiDimensional => "multi_dimensional",
            Self::Structure => "structure",
            Self::Link => "link",
            Self::Other => "other",
        }
    }

    /// Whether it can be measured: a 1D spectrum or FID.
    #[must_use]
    pub(crate) const fn is_measurable(self) -> bool {
        matches!(self, Self::Spectrum | Self::Fid)
    }
}

/// What else a block shows about its kind.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Hints<'a> {
    /// DATA TYPE, normalised like a label.
    pub data_type: &'a str,
    /// NTUPLES, normalised like a label.
    pub ntuples: &'a str,
    /// Number of dimensions stated.
    pub dimensions: Option<f64>,
    /// XUNITS, upper case without blanks and brackets.
    pub x_unit: &'a str,
    pub has_atom_list: bool,
    pub has_peak_table: bool,
    pub has_assignments: bool,
    pub has_observe_frequency: bool,
}

/// Decides what a block is; `true` beside it when that had to be guessed.
pub(crate) fn decide(hints: Hints<'_>) -> (Kind, bool) {
    let stated = if hints.data_type.is_empty() { hints.ntuples } else { hints.data_type };
    if stated.is_empty() {
        return guess(hints);
    }
    if stated.contains("LINK") {
        return (Kind::Link, false);
    }
    let many = hints.dimensions.is_some_and(|n| n > 1.0);
    if many || ["ND", "2D", "3D"].iter().any(|mark| stated.starts_with(mark)) {
        return (Kind::MultiDimensional, false);
    }
    if !stated.contains("NMR") && !is_other_resonance(stated, hints) {
        let kind = if hints.has_atom_list { Kind::Structure } else { Kind::Other };
        return (kind, false);
    }
    if stated.contains("ASSIGN") || hints.has_assignments {
        (Kind::PeakAssignments, false)
    } else if stated.contains("PEAK") || hints.has_peak_table {
        (Kind::PeakTable, false)
    } else if stated.contains("FID") {
        (Kind::Fid, false)
    } else {
        (Kind::Spectrum, !stated.contains("SPECTRUM"))
    }
}

/// Names other than NMR for the same thing, believed only with an observe frequency beside them.
fn is_other_resonance(stated: &str, hints: Hints<'_>) -> bool {
    hints.has_observe_frequency && (stated.contains("RESONANCE") || stated == "FID" || stated == "SPECTRUM")
}

/// Without DATA TYPE: hertz and ppm are axes of NMR spectra only.
fn guess(hints: Hints<'_>) -> (Kind, bool) {
    if hints.has_atom_list {
        return (Kind::Structure, false);
    }
    match hints.x_unit {
        _ if hints.has_assignments || hints.has_peak_table => (Kind::Other, false),
        "HZ" | "PPM" => (Kind::Spectrum, true),
        "SECONDS" | "S" | "SEC" if hints.has_observe_frequency => (Kind::Fid, true),
        _ => (Kind::Other, false),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(data_type: &str) -> Kind {
        decide(Hints { data_type, ..Hints::default() }).0
    }

    #[test]
    fn data_types_met() {
        assert_eq!(of("NMRSPECTRUM"), Kind::Spectrum);
        assert_eq!(of("NMRFID"), Kind::Fid);
        assert_eq!(of("NMRPEAKTABLE"), Kind::PeakTable);
        assert_eq!(of("NMRPEAKASSIGNMENTS"), Kind::PeakAssignments);
        assert_eq!(of("NDNMRSPECTRUM"), Kind::MultiDimensional);
        assert_eq!(of("INFRAREDSPECTRUM"), Kind::Other);
        assert_eq!(of("MASSSPECTRUM"), Kind::Other);
        assert_eq!(of("LINK"), Kind::Link);
        assert_eq!(of(""), Kind::Other);
    }

    #[test]
    fn a_peak_table_called_a_spectrum_is_a_peak_table() {
        let hints = Hints { data_type: "NMRSPECTRUM", has_peak_table: true, ..Hints::default() };
        assert_eq!(decide(hints).0, Kind::PeakTable);
    }

    #[test]
    fn hertz_without_a_data_type_is_a_guess() {
        let hints = Hints { x_unit: "HZ", ..Hints::default() };
        assert_eq!(decide(hints), (Kind::Spectrum, true));
    }
}
