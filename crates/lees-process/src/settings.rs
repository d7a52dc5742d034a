//! All settings of processing, with defaults that need no touching.

use lees_core::{SettingMap, setting_list};
use serde::{Deserialize, Serialize};

use crate::artefact::ArtefactSettings;
use crate::baseline::BaselineSettings;
use crate::detect::DetectSettings;
use crate::fid::FidSettings;
use crate::lines::LineSettings;
use crate::multiplet::MultipletSettings;
use crate::phase::PhaseSettings;

/// Settings of every step.
///
/// ```
/// use lees_process::Settings;
/// let mut settings = Settings::default();
/// settings.baseline.period_hz = 900.0;
/// assert_eq!(settings.listing()["baseline.period_hz"].to_string(), "900");
/// ```
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Settings {
    /// From FID to spectrum.
    pub fid: FidSettings,
    /// Phase.
    pub phase: PhaseSettings,
    /// Baseline.
    pub baseline: BaselineSettings,
    /// Finding lines.
    pub detect: DetectSettings,
    /// Fitting lines.
    pub lines: LineSettings,
    /// Telling artefacts from signals.
    pub artefact: ArtefactSettings,
    /// Grouping lines to signals.
    pub multiplet: MultipletSettings,
}

impl Settings {
    /// Every setting by dotted name.
    ///
    /// ```
    /// let list = lees_process::Settings::default().listing();
    /// assert_eq!(list["baseline.period_hz"].to_string(), "450");
    /// ```
    #[must_use]
    pub fn listing(&self) -> SettingMap {
        setting_list(self)
    }
}
