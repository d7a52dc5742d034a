//! All settings of processing, with defaults that need no touching.

use lees_core::{SettingMap, SettingValue};
use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::baseline::BaselineSettings;
use crate::detect::DetectSettings;
use crate::lines::LineSettings;
use crate::multiplet::MultipletSettings;
use crate::ProcessError;

/// Settings of every step.
///
/// ```
/// use lees_process::Settings;
/// let mut settings = Settings::default();
/// settings.set("baseline.period_hz", "900").expect("a known name");
/// assert_eq!(settings.baseline.period_hz, 900.0);
/// assert!(settings.set("baseline.perod_hz", "900").is_err());
/// ```
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Settings {
    /// Baseline.
    pub baseline: BaselineSettings,
    /// Finding lines.
    pub detect: DetectSettings,
    /// Fitting lines.
    pub lines: LineSettings,
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
        let mut map = SettingMap::new();
        if let Ok(value) = serde_json::to_value(self) {
            flatten("", &value, &mut map);
        }
        map
    }

    /// Sets one setting from text: a number, `true` or `false`, a word, or `auto` for one that may be unset.
    ///
    /// # Errors
    /// When the name is not known, or the text does not fit the setting.
    pub fn set(&mut self, name: &str, text: &str) -> Result<(), ProcessError> {
        let mut tree = serde_json::to_value(&*self).unwrap_or(Value::Null);
        let slot = leaf(&mut tree, name).ok_or_else(|| self.unknown(name))?;
        *slot = reading(slot, name, text)?;
        *self = serde_json::from_value(tree).map_err(|error| bad(name, text, &error.to_string()))?;
        Ok(())
    }

    fn unknown(&self, name: &str) -> ProcessError {
        let tail = name.rsplit('.').next().unwrap_or(name);
        let listing = self.listing();
        let near = listing.keys().find(|key| key.ends_with(tail)).or_else(|| {
            let head = name.split('.').next().unwrap_or(name);
            listing.keys().find(|key| key.starts_with(&format!("{head}.")))
        });
        let hint = near.map(|key| format!(" (did you mean `{key}`?)")).unwrap_or_default();
        ProcessError::UnknownSetting { name: name.to_owned(), hint }
    }
}

fn bad(name: &str, value: &str, allowed: &str) -> ProcessError {
    ProcessError::BadSetting { name: name.to_owned(), value: value.to_owned(), allowed: allowed.to_owned() }
}

fn flatten(prefix: &str, value: &Value, map: &mut SettingMap) {
    let setting = match value {
        Value::Object(fields) => {
            for (key, inner) in fields {
                let name = if prefix.is_empty() { key.clone() } else { format!("{prefix}.{key}") };
                flatten(&name, inner, map);
            }
            return;
        }
        Value::Bool(flag) => SettingValue::Flag(*flag),
        Value::Number(number) => SettingValue::Number(number.as_f64().unwrap_or(f64::NAN)),
        Value::Null => SettingValue::Unset(()),
        Value::String(text) => SettingValue::Text(text.clone()),
        Value::Array(_) => SettingValue::Text(value.to_string()),
    };
    map.insert(prefix.to_owned(), setting);
}

fn leaf<'a>(tree: &'a mut Value, name: &str) -> Option<&'a mut Value> {
    let slot = name.split('.').try_fold(tree, |node, key| node.as_object_mut()?.get_mut(key))?;
    (!slot.is_object()).then_some(slot)
}

fn reading(old: &Value, name: &str, text: &str) -> Result<Value, ProcessError> {
    let number = || text.parse::<f64>().ok().filter(|n| n.is_finite());
    match old {
        Value::Bool(_) => text.parse().map(Value::Bool).map_err(|_| bad(name, text, "true or false")),
        Value::Number(old) => {
            let number = number().ok_or_else(|| bad(name, text, "a number"))?;
            Ok(if old.is_f64() { Value::from(number) } else { integer(number, name, text)? })
        }
        Value::Null if text == "auto" => Ok(Value::Null),
        Value::Null => Ok(number().map_or_else(|| Value::from(text), Value::from)),
        _ => Ok(Value::from(text)),
    }
}

fn integer(number: f64, name: &str, text: &str) -> Result<Value, ProcessError> {
    let whole = number >= 0.0 && number.fract() == 0.0 && number < 9e15;
    if whole { Ok(Value::from(number as u64)) } else { Err(bad(name, text, "a whole number, 0 or more")) }
}
