//! Settings by name: how they are changed one by one and written out with every result.

use std::collections::BTreeMap;
use std::fmt;

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use thiserror::Error;

/// One setting's value.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum SettingValue {
    /// Yes or no.
    Flag(bool),
    /// A number, in the unit of the setting's name.
    Number(f64),
    /// A word.
    Text(String),
    /// Not set: decided from the data.
    Unset(()),
}

/// Settings by dotted name, such as `process.baseline.period_hz`.
pub type SettingMap = BTreeMap<String, SettingValue>;

/// Why a setting could not be changed.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum SettingError {
    /// No setting has this name.
    #[error("no setting is called `{name}`{hint}")]
    Unknown {
        /// The name as given.
        name: String,
        /// What may have been meant, from `; ` on, or empty.
        hint: String,
    },
    /// The text does not fit the setting.
    #[error("setting `{name}`: read `{read}`; allowed: {allowed}")]
    Value {
        /// The setting's name.
        name: String,
        /// The text as given.
        read: String,
        /// What would fit.
        allowed: String,
    },
}

impl fmt::Display for SettingValue {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Flag(value) => write!(f, "{value}"),
            Self::Number(value) => write!(f, "{value}"),
            Self::Text(value) => f.write_str(value),
            Self::Unset(()) => f.write_str("auto"),
        }
    }
}

/// Every setting of a settings value (nested plain structs) by dotted name.
///
/// ```
/// #[derive(serde::Serialize)]
/// struct Inner { period_hz: f64 }
/// #[derive(serde::Serialize)]
/// struct Outer { baseline: Inner, strict: bool }
/// let list = lees_core::setting_list(&Outer { baseline: Inner { period_hz: 450.0 }, strict: false });
/// assert_eq!(list["baseline.period_hz"].to_string(), "450");
/// assert_eq!(list["strict"].to_string(), "false");
/// ```
#[must_use]
pub fn setting_list<T: Serialize>(settings: &T) -> SettingMap {
    let mut map = SettingMap::new();
    if let Ok(value) = serde_json::to_value(settings) {
        flatten("", &value, &mut map);
    }
    map
}

/// Changes one setting by dotted name from text: a number from 0, `true` or `false`, a word, words between semicolons for a
/// list, or `auto` for one that may stay open.
///
/// # Errors
/// When no setting has the name, or the text does not fit; the settings are then unchanged.
///
/// ```
/// #[derive(serde::Serialize, serde::Deserialize)]
/// struct Baseline { period_hz: f64 }
/// let mut baseline = Baseline { period_hz: 450.0 };
/// lees_core::change_setting(&mut baseline, "period_hz", "900").expect("a known name");
/// assert_eq!(baseline.period_hz, 900.0);
/// let fault = lees_core::change_setting(&mut baseline, "period_hz", "long").expect_err("no number");
/// assert!(fault.to_string().contains("long"));
/// ```
pub fn change_setting<T: Serialize + DeserializeOwned>(
    settings: &mut T,
    name: &str,
    text: &str,
) -> Result<(), SettingError> {
    let mut tree = serde_json::to_value(&*settings).unwrap_or(Value::Null);
    let slot = leaf(&mut tree, name).ok_or_else(|| unknown(settings, name))?;
    *slot = if text == "auto" { Value::Null } else { reading(slot, name, text)? };
    *settings = serde_json::from_value(tree).map_err(|fault| bad(name, text, &fault.to_string()))?;
    Ok(())
}

/// At most so many names are offered instead of an unknown one.
const MOST_OFFERED: usize = 3;

fn unknown<T: Serialize>(settings: &T, name: &str) -> SettingError {
    let list = setting_list(settings);
    let within: Vec<&str> =
        list.keys().filter(|key| key.starts_with(&format!("{name}."))).map(String::as_str).collect();
    let hint = if within.is_empty() {
        let near = nearest(&list, name);
        if near.is_empty() {
            "; every result lists all settings, under `settings` in JSON".to_owned()
        } else {
            format!("; near it: {}", quoted(&near))
        }
    } else {
        format!("; it holds {}", quoted(&within))
    };
    SettingError::Unknown { name: name.to_owned(), hint }
}

fn quoted(names: &[&str]) -> String {
    names.iter().map(|name| format!("`{name}`")).collect::<Vec<_>>().join(", ")
}

/// The names that a slip of the finger, or a forgotten beginning, could have turned into `name`; the likeliest first.
fn nearest<'a>(list: &'a SettingMap, name: &str) -> Vec<&'a str> {
    let mut near: Vec<(usize, &str)> = list
        .keys()
        .map(|key| {
            let more = key.split('.').count().saturating_sub(name.split('.').count());
            let end = key.splitn(more + 1, '.').last().unwrap_or(key);
            (slips(key, name).min(slips(end, name)), key.as_str())
        })
        .filter(|(slips, _)| 3 * slips <= name.chars().count())
        .collect();
    near.sort_unstable();
    let least = near.first().map_or(0, |best| best.0);
    near.into_iter().take_while(|n| n.0 == least).take(MOST_OFFERED).map(|n| n.1).collect()
}

/// Letters to add, leave out or change to make one word of another.
fn slips(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.chars().enumerate() {
        let mut corner = std::mem::replace(&mut row[0], i + 1);
        for (j, y) in b.iter().enumerate() {
            let changed = corner + usize::from(x != *y);
            corner = row[j + 1];
            row[j + 1] = changed.min(corner + 1).min(row[j] + 1);
        }
    }
    row[b.len()]
}

fn bad(name: &str, read: &str, allowed: &str) -> SettingError {
    SettingError::Value { name: name.to_owned(), read: read.to_owned(), allowed: allowed.to_owned() }
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
        Value::Number(number) => number.as_f64().map_or(SettingValue::Unset(()), SettingValue::Number),
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

fn reading(old: &Value, name: &str, text: &str) -> Result<Value, SettingError> {
    let number = || text.parse::<f64>().ok().filter(|n| n.is_finite() && *n >= 0.0);
    match old {
        Value::Bool(_) => text.parse().map(Value::Bool).map_err(|_| bad(name, text, "true or false")),
        Value::Number(old) => {
            let number = number().ok_or_else(|| bad(name, text, "a number, 0 or more"))?;
            if old.is_f64() { Ok(Value::from(number)) } else { whole(number, name, text) }
        }
        Value::Array(_) => Ok(list(text)),
        Value::Null if text.starts_with('-') => Err(bad(name, text, "a number, 0 or more, or a name")),
        Value::Null => Ok(number().map_or_else(|| Value::from(text), Value::from)),
        _ => Ok(Value::from(text)),
    }
}

/// Words between semicolons: names of compounds hold commas.
fn list(text: &str) -> Value {
    text.split(';').map(str::trim).filter(|word| !word.is_empty()).map(Value::from).collect()
}

/// Largest whole number that every f64 holds exactly.
const MOST_WHOLE: f64 = 9_007_199_254_740_992.0;

fn whole(number: f64, name: &str, text: &str) -> Result<Value, SettingError> {
    let fits = number >= 0.0 && number.fract() == 0.0 && number <= MOST_WHOLE;
    if fits { Ok(Value::from(number as u64)) } else { Err(bad(name, text, "a whole number, 0 or more")) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
    struct Inner {
        period_hz: f64,
        rounds: usize,
        window: Option<f64>,
    }

    #[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
    struct Outer {
        baseline: Inner,
        strict: bool,
        left_out: Vec<String>,
    }

    fn sample() -> Outer {
        let baseline = Inner { period_hz: 450.0, rounds: 3, window: None };
        Outer { baseline, strict: false, left_out: Vec::new() }
    }

    #[test]
    fn settings_change_by_dotted_name() {
        let mut settings = sample();
        change_setting(&mut settings, "baseline.period_hz", "900").unwrap();
        change_setting(&mut settings, "baseline.rounds", "4").unwrap();
        change_setting(&mut settings, "baseline.window", "2.5").unwrap();
        change_setting(&mut settings, "strict", "true").unwrap();
        assert_eq!(settings.baseline, Inner { period_hz: 900.0, rounds: 4, window: Some(2.5) });
        assert!(settings.strict);
        change_setting(&mut settings, "left_out", "methanol; 1,2-dichloroethane").unwrap();
        assert_eq!(settings.left_out, ["methanol", "1,2-dichloroethane"]);
        change_setting(&mut settings, "left_out", "").unwrap();
        assert!(settings.left_out.is_empty());
        change_setting(&mut settings, "baseline.window", "auto").unwrap();
        assert_eq!(settings.baseline.window, None);
    }

    #[test]
    fn wrong_names_and_values_change_nothing() {
        let mut settings = sample();
        let message = |name: &str, text: &str, settings: &mut Outer| {
            change_setting(settings, name, text).unwrap_err().to_string()
        };
        assert!(message("bseline.period_hz", "1", &mut settings).contains("near it: `baseline.period_hz`"));
        assert!(
            message("baseline", "1", &mut settings).contains("it holds `baseline.period_hz`, `baseline.")
        );
        assert!(message("baseline.period", "1", &mut settings).ends_with("near it: `baseline.period_hz`"));
        assert!(message("perod_hz", "1", &mut settings).ends_with("near it: `baseline.period_hz`"));
        assert!(message("left-out", "1", &mut settings).ends_with("near it: `left_out`"));
        assert!(
            message("foo", "1", &mut settings)
                .ends_with("every result lists all settings, under `settings` in JSON")
        );
        assert!(message("baseline.period_hz", "-5", &mut settings).contains("a number, 0 or more"));
        assert!(message("baseline.window", "-5", &mut settings).contains("a number, 0 or more"));
        assert!(message("baseline.rounds", "1.5", &mut settings).contains("whole number"));
        assert!(message("baseline.period_hz", "long", &mut settings).contains("a number"));
        assert!(message("strict", "maybe", &mut settings).contains("true or false"));
        assert!(message("baseline.rounds", "auto", &mut settings).contains("allowed"));
        assert_eq!(settings, sample());
    }
}
