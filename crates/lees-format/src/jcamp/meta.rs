//! Looking up labelled values of a block.

use std::collections::BTreeMap;

use crate::limits::Limits;
use crate::warnings::Warnings;

use super::number::leading;
use super::record::Record;

/// The records of one block, by label.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Labels<'a, 'b> {
    pub records: &'b [Record<'a>],
    pub limits: &'b Limits,
}

impl<'a, 'b> Labels<'a, 'b> {
    /// The first record with a label.
    pub(crate) fn record(&self, label: &str) -> Option<&'b Record<'a>> {
        self.records.iter().find(|record| record.label == label)
    }

    /// Whether there is such a record.
    pub(crate) fn has(&self, label: &str) -> bool {
        self.record(label).is_some()
    }

    /// The first non-empty value of any of the labels.
    pub(crate) fn text(&self, labels: &[&str]) -> Option<String> {
        labels.iter().find_map(|label| {
            let values = self.records.iter().filter(|record| record.label == *label);
            values.map(|record| record.text(self.limits.value_bytes)).find(|text| !text.is_empty())
        })
    }

    /// The first readable number of any of the labels.
    pub(crate) fn number(&self, labels: &[&str]) -> Option<f64> {
        labels.iter().find_map(|label| {
            let values = self.records.iter().filter(|record| record.label == *label);
            values.filter_map(|record| leading(strip(&record.first_line())).map(|(n, _)| n.value)).next()
        })
    }

    /// A number of the axis: says so when the record is there but holds no number.
    pub(crate) fn axis_number(&self, label: &str, warnings: &mut Warnings) -> Option<f64> {
        let record = self.record(label)?;
        let text = record.first_line();
        let Some((number, _)) = leading(strip(&text)) else {
            if !text.is_empty() {
                let text = crate::clean::quoted(&text, 40);
                warnings.on_line(record.line, format!("{label} is `{text}`, which is no number; ignored"));
            }
            return None;
        };
        if number.decimal_comma {
            warnings.on_line(record.line, format!("{label} has a decimal comma; read as a decimal point"));
        }
        Some(number.value)
    }

    /// Everything short enough to be of interest, by normalised label; repeats are joined with `; `.
    pub(crate) fn all(&self) -> BTreeMap<String, String> {
        let mut map: BTreeMap<String, String> = BTreeMap::new();
        for record in self.records.iter().filter(|record| !TABLES.contains(&record.label.as_str())) {
            let text = record.text(self.limits.value_bytes);
            let text = crate::clean::clean_text(&text);
            match map.get_mut(&record.label) {
                Some(old) if old.len() + text.len() < self.limits.value_bytes => {
                    old.push_str("; ");
                    old.push_str(&text);
                }
                Some(_) => {}
                None => {
                    map.insert(record.label.clone(), text);
                }
            }
        }
        map
    }
}

/// Records that hold data, not metadata.
pub(crate) const TABLES: [&str; 10] = [
    "XYDATA",
    "XYPOINTS",
    "PEAKTABLE",
    "PEAKASSIGNMENTS",
    "ASSIGNMENTS",
    "RADATA",
    "DATATABLE",
    "ATOMLIST",
    "BONDLIST",
    "XYRASTER",
];

fn strip(text: &str) -> &str {
    text.trim_start_matches(['<', '(', '"', ' '])
}
