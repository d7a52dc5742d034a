//! All settings of all floors, one value.

use lees_core::{SettingMap, SettingValue, change_setting, setting_list};
use serde::{Deserialize, Serialize};

use crate::Error;

/// Settings of processing and matching; the defaults need no touching.
///
/// ```
/// let mut settings = lees::Settings::default();
/// settings.change("process.baseline.period_hz=900").expect("a known name");
/// assert_eq!(settings.listing()["process.baseline.period_hz"].to_string(), "900");
/// assert!(settings.change("process.baseline.perod_hz=900").is_err());
/// ```
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Settings {
    /// From file values to lines.
    pub process: lees_process::Settings,
    /// From lines to a verdict.
    #[serde(rename = "match")]
    pub matching: lees_match::Settings,
}

impl Settings {
    /// Reads a settings file (TOML), such as
    ///
    /// ```toml
    /// [process.baseline]
    /// period_hz = 900
    /// ```
    ///
    /// # Errors
    /// With file, line and column, when the text is no TOML or names an unknown setting; when a number is below 0.
    ///
    /// ```
    /// let settings = lees::Settings::from_toml("[process.baseline]\nperiod_hz = 900\n", "own.toml")?;
    /// assert_eq!(settings.process.baseline.period_hz, 900.0);
    /// let fault = lees::Settings::from_toml("[process.baseline]\nperod_hz = 900\n", "own.toml").unwrap_err();
    /// assert!(fault.to_string().starts_with("own.toml: line 2, column 1"), "{fault}");
    /// # Ok::<(), lees::Error>(())
    /// ```
    pub fn from_toml(text: &str, name: &str) -> Result<Self, Error> {
        let settings: Self = toml::from_str(text).map_err(|fault| {
            let before = fault.span().map_or("", |span| text.get(..span.start).unwrap_or_default());
            let line = before.matches('\n').count() + 1;
            let column = before.rsplit('\n').next().unwrap_or_default().chars().count() + 1;
            Error::Usage(format!(
                "{name}: line {line}, column {column}: {}",
                fault.message().replace('\n', " ").replace("expected f64", "expected a number")
            ))
        })?;
        match settings.listing().into_iter().find(|(_, value)| is_negative(value)) {
            Some((setting, value)) => Err(Error::Usage(format!(
                "{name}: setting `{setting}`: read `{value}`; allowed: a number, 0 or more"
            ))),
            None => Ok(settings),
        }
    }

    /// Changes one setting from `name=value`.
    ///
    /// # Errors
    /// When the `=` is missing, the name is unknown or the value does not fit.
    ///
    /// ```
    /// let mut settings = lees::Settings::default();
    /// settings.change("process.baseline.period_hz=900")?;
    /// assert_eq!(settings.process.baseline.period_hz, 900.0);
    /// assert!(settings.change("process.baseline.period_hz=wide").is_err());
    /// # Ok::<(), lees::Error>(())
    /// ```
    pub fn change(&mut self, assignment: &str) -> Result<(), Error> {
        let (name, value) = assignment
            .split_once('=')
            .ok_or_else(|| Error::Usage(format!("`{assignment}` has no `=`; write NAME=VALUE")))?;
        change_setting(self, name.trim(), value.trim()).map_err(|fault| Error::Usage(fault.to_string()))
    }

    /// Two settings that cannot both be meant, in words.
    pub(crate) fn contradiction(&self) -> Option<String> {
        let lines = &self.process.lines;
        let pairs = [
            ("narrowest", lines.narrowest, "widest", lines.widest),
            ("broad_hz", lines.broad_hz, "widest_hz", lines.widest_hz),
        ];
        let (low, least, high, most) = pairs.into_iter().find(|(_, least, _, most)| least > most)?;
        Some(format!("setting `process.lines.{low}` ({least}) is over `process.lines.{high}` ({most})"))
    }

    /// Every setting by dotted name, as written out with each result.
    ///
    /// ```
    /// let list = lees::Settings::default().listing();
    /// assert_eq!(list["process.baseline.period_hz"].to_string(), "450", "hertz");
    /// ```
    #[must_use]
    pub fn listing(&self) -> SettingMap {
        setting_list(self)
    }
}

/// No setting has a meaning below 0.
fn is_negative(value: &SettingValue) -> bool {
    matches!(value, SettingValue::Number(number) if !(number.is_finite() && *number >= 0.0))
}
