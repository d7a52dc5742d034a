//! What the lines above the numbers say.

use std::collections::BTreeMap;

use lees_core::{Megahertz, Nucleus};

use crate::clean::{clean_text, decode};
use crate::jcamp::number::leading;
use crate::lines::{Lines, trim};
use crate::unit::XUnit;

use super::layout::Layout;

/// Signs that open a comment or header line.
pub(crate) const COMMENT_SIGNS: [char; 6] = ['#', '%', '!', '/', '*', '\''];

/// Values of header lines.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Header {
    pub title: Option<String>,
    pub nucleus: Option<Nucleus>,
    pub field: Option<Megahertz>,
    pub solvent: Option<String>,
    /// Unit of the abscissa.
    pub unit: Option<XUnit>,
    /// First and last abscissa.
    pub first: Option<f64>,
    pub last: Option<f64>,
    /// Everything, under the labels of the standard where they are known.
    pub labels: BTreeMap<String, String>,
}

/// Header lines looked at.
const MOST_LINES: usize = 500;

/// Words that name a value, with the label of the standard for it.
const KEYS: [(&str, &str); 40] = [
    ("observe frequency", ".OBSERVEFREQUENCY"),
    ("spectrometer frequency", ".OBSERVEFREQUENCY"),
    ("larmor frequency", ".OBSERVEFREQUENCY"),
    ("frequency", ".OBSERVEFREQUENCY"),
    ("field", ".OBSERVEFREQUENCY"),
    ("sfo1", ".OBSERVEFREQUENCY"),
    ("mhz", ".OBSERVEFREQUENCY"),
    ("observe nucleus", ".OBSERVENUCLEUS"),
    ("nucleus", ".OBSERVENUCLEUS"),
    ("solvent name", ".SOLVENTNAME"),
    ("solvent", ".SOLVENTNAME"),
    ("title", "TITLE"),
    ("sample name", "TITLE"),
    ("sample", "TITLE"),
    ("name", "TITLE"),
    ("x unit", "XUNITS"),
    ("x units", "XUNITS"),
    ("units", "XUNITS"),
    ("unit", "XUNITS"),
    ("first x", "FIRSTX"),
    ("firstx", "FIRSTX"),
    ("first", "FIRSTX"),
    ("from", "FIRSTX"),
    ("start", "FIRSTX"),
    ("left", "FIRSTX"),
    ("last x", "LASTX"),
    ("lastx", "LASTX"),
    ("last", "LASTX"),
    ("to", "LASTX"),
    ("end", "LASTX"),
    ("right", "LASTX"),
    ("scans", ".AVERAGES"),
    ("averages", ".AVERAGES"),
    ("temperature k", "$TEMPERATUREK"),
    ("relaxation delay", "$RELAXATIONDELAY"),
    ("acquisition time", ".ACQUISITIONTIME"),
    ("pulse angle", "$PULSEANGLE"),
    ("group delay", "$GRPDLY"),
    ("shift reference", ".SHIFTREFERENCE"),
    ("carrier", "$CARRIERPPM"),
];

impl Header {
    /// Reads header and comment lines above line `first_row`.
    pub(crate) fn read(bytes: &[u8], first_row: usize, layout: &Layout) -> Self {
        let mut header = Self { unit: layout.names.as_deref().and_then(unit_of_names), ..Self::default() };
        let mut in_passing = Vec::new();
        for line in Lines::new(bytes, 1).take(MOST_LINES).take_while(|line| line.number < first_row) {
            const LONGEST: usize = 1000;
            let text = clean_text(&decode(&trim(line.text)[..trim(line.text).len().min(LONGEST)]));
            let text = text.trim_start_matches(COMMENT_SIGNS).trim();
            header.take(text);
            in_passing.extend(frequency_in_passing(text));
        }
        header.understand();
        if let (None, [only]) = (header.field, in_passing.as_slice()) {
            header.field = Some(*only);
        }
        header
    }

    fn take(&mut self, line: &str) {
        let Some((label, value)) = key_and_value(line) else {
            return;
        };
        self.labels.entry(label).or_insert(value);
    }

    fn understand(&mut self) {
        let text = |label: &str| self.labels.get(label).filter(|value| !value.is_empty()).cloned();
        let number = |label: &str| text(label).and_then(|value| leading(&value).map(|(n, _)| n.value));
        self.title = text("TITLE");
        self.nucleus = text(".OBSERVENUCLEUS").map(|name| Nucleus::from_label(&name));
        self.solvent = text(".SOLVENTNAME");
        self.field = number(".OBSERVEFREQUENCY").and_then(megahertz);
        self.unit = self.unit.or_else(|| text("XUNITS").and_then(|unit| XUnit::from_label(&unit)));
        self.first = number("FIRSTX");
        self.last = number("LASTX");
    }
}

/// A frequency of a spectrometer, in megahertz or hertz.
fn megahertz(value: f64) -> Option<Megahertz> {
    /// Beyond any magnet in megahertz, so it is hertz.
    const HIGHEST: f64 = 5000.0;
    let value = if value > HIGHEST { value / 1e6 } else { value };
    (value > 1.0).then_some(Megahertz(value))
}

/// The frequency in a title such as `1H NMR (300 MHz, CDCl3)`, which is how chemists write it.
fn frequency_in_passing(line: &str) -> Option<Megahertz> {
    let before = line.split("MHz").next().filter(|before| before.len() < line.len())?.trim_end();
    let start = before.trim_end_matches(|c: char| c.is_ascii_digit() || c == '.').len();
    before[start..].parse().ok().and_then(megahertz)
}

/// `key = value`, `key: value` or `key value` with a known key.
fn key_and_value(line: &str) -> Option<(String, String)> {
    if let Some((key, value)) = line.split_once(['=', ':']) {
        let key = key.trim();
        let label =
            known(&plain(key)).map_or_else(|| crate::jcamp::label::normalise(key.as_bytes()), str::to_owned);
        return (!label.is_empty()).then(|| (label, value.trim().to_owned()));
    }
    let lower = plain(line);
    let (key, label) = KEYS.iter().find(|(key, _)| {
        lower.strip_prefix(key).is_some_and(|rest| rest.starts_with(' ') && key.len() > 3)
    })?;
    Some(((*label).to_owned(), line.get(key.len()..).unwrap_or("").trim().to_owned()))
}

fn known(key: &str) -> Option<&'static str> {
    let bare = key.split('(').next().unwrap_or(key).trim();
    KEYS.iter().find(|(name, _)| *name == bare).map(|(_, label)| *label)
}

fn plain(text: &str) -> String {
    text.to_ascii_lowercase().replace(['_', '-'], " ")
}

/// The unit among the names over the columns.
fn unit_of_names(names: &[String]) -> Option<XUnit> {
    names.iter().find_map(|name| {
        let lower = name.to_lowercase();
        let mut words = lower.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty());
        let unit =
            words.clone().find_map(|word| if word == "delta" { None } else { XUnit::from_label(word) });
        unit.or_else(|| words.any(|word| word == "time").then_some(XUnit::Seconds))
    })
}
