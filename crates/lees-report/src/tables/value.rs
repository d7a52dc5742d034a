//! One cell.

use serde::{Deserialize, Serialize};

use lees_core::check::Estimate;

/// A cell of a table. Numbers are always finite: anything else is [`Value::Unknown`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Value {
    /// Not known or not applicable.
    Unknown(()),
    /// A count.
    Count(i64),
    /// A number in the column's unit.
    Number(f64),
    /// Words.
    Text(String),
}

/// The cells of one row, in the order of the columns.
pub type Row = Vec<Value>;

/// An empty cell.
pub(super) const UNKNOWN: Value = Value::Unknown(());

pub(super) fn number(x: Option<f64>) -> Value {
    x.filter(|x| x.is_finite()).map_or(UNKNOWN, Value::Number)
}

pub(super) fn count(n: usize) -> Value {
    i64::try_from(n).map_or(UNKNOWN, Value::Count)
}

pub(super) fn text(words: &str) -> Value {
    let words = crate::clean(words);
    if words.is_empty() { UNKNOWN } else { Value::Text(words) }
}

pub(super) fn words(words: Option<&str>) -> Value {
    words.map_or(UNKNOWN, text)
}

/// Value and both ends of the interval.
pub(super) fn interval(estimate: Option<Estimate>) -> [Value; 3] {
    [estimate.map(|e| e.value), estimate.map(|e| e.low), estimate.map(|e| e.high)].map(number)
}

/// Sentences as one cell.
pub(super) fn sentences(lines: &[String]) -> Value {
    text(&lines.join(" | "))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_finite_is_not_known() {
        assert_eq!(number(Some(f64::NAN)), UNKNOWN);
        assert_eq!(number(Some(f64::INFINITY)), UNKNOWN);
        assert_eq!(number(Some(0.0)), Value::Number(0.0));
        assert_eq!(text(" \u{1b} "), UNKNOWN);
    }

    #[test]
    fn a_row_survives_json_bit_by_bit() {
        let row: Row = vec![
            UNKNOWN,
            Value::Count(3),
            Value::Number(0.1 + 0.2),
            Value::Number(5.0),
            Value::Text("5".into()),
        ];
        let json = serde_json::to_string(&row).unwrap();
        assert_eq!(json, r#"[null,3,0.30000000000000004,5.0,"5"]"#);
        assert_eq!(serde_json::from_str::<Row>(&json).unwrap(), row);
    }
}
