//! What is named in a figure, and where.

use lees_core::ShiftRange;
use lees_core::check::{Check, Finding};
use plotters::style::RGBColor;

use super::color;
use crate::formula::subscript;
use crate::{clean, number, words};

/// What a mark stands for; each has its own sign and colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Kind {
    /// A volatile of the batch: a filled triangle.
    Volatile,
    /// Nobody answers for it: an open diamond.
    Unexplained,
    /// Seen but not counted: an open circle.
    NotCounted,
}

impl Kind {
    pub(super) const fn color(self) -> RGBColor {
        match self {
            Self::Volatile => color::VERMILION,
            Self::Unexplained => color::PURPLE,
            Self::NotCounted => color::GREY,
        }
    }

    pub(super) const fn class(self) -> &'static str {
        match self {
            Self::Volatile => "volatile",
            Self::Unexplained => "unexplained",
            Self::NotCounted => "not-counted",
        }
    }
}

/// One signal to name.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Mark {
    pub(super) kind: Kind,
    pub(super) shift: f64,
    pub(super) range: ShiftRange,
    pub(super) name: String,
    /// The group, when the compound shows more than one and no other compound could it be.
    pub(super) group: Option<String>,
    /// Whether another signal hides it.
    pub(super) hidden: bool,
    /// Whether a panel above has named it: only the sign is drawn.
    pub(super) named: bool,
}

impl Mark {
    /// The name, with the group when asked for; in parentheses when hidden.
    pub(super) fn text(&self, with_group: bool) -> String {
        if self.named {
            return String::new();
        }
        let group = self.group.as_ref().filter(|_| with_group);
        let text = group.map_or_else(|| self.name.clone(), |g| format!("{} {}", self.name, subscripts(g)));
        if self.hidden { format!("({text})") } else { text }
    }
}

/// Two signals of one name this near are the same, in ppm.
const SAME: f64 = 0.03;

/// Notes which marks one of the spectra above has named already.
pub(super) fn note_named(marks: &mut [Mark], above: &[&Check], range: ShiftRange) {
    let known: Vec<_> = above.iter().flat_map(|check| all(check, range)).collect();
    for mark in marks {
        let same =
            |k: &Mark| k.name == mark.name && k.hidden == mark.hidden && (k.shift - mark.shift).abs() < SAME;
        mark.named = known.iter().any(same);
    }
}

/// All marks within a range, highest shift first. Without product nothing was expected, so nothing is marked as
/// unexplained.
pub(super) fn all(check: &Check, range: ShiftRange) -> Vec<Mark> {
    let counted = check.volatiles.iter().flat_map(|f| of_finding(f, Kind::Volatile));
    let others = check.not_counted.iter().flat_map(|n| of_finding(&n.finding, Kind::NotCounted));
    let unexplained = check.unexplained.iter().filter(|_| check.product.is_some()).map(|u| Mark {
        kind: Kind::Unexplained,
        shift: u.shift.0,
        range: u.range,
        name: format!("? {}", number::shift(u.shift.0)),
        group: None,
        hidden: false,
        named: false,
    });
    let mut marks: Vec<_> = counted.chain(others).chain(unexplained).collect();
    marks.retain(|m| range.contains(lees_core::Ppm(m.shift)));
    marks.sort_by(|a, b| b.shift.total_cmp(&a.shift));
    marks
}

fn of_finding(finding: &Finding, kind: Kind) -> impl Iterator<Item = Mark> {
    let grouped = finding.signals.len() > 1 && (kind == Kind::NotCounted || finding.rivals.is_empty());
    finding.signals.iter().map(move |signal| Mark {
        kind,
        shift: signal.shift.0,
        range: signal.range,
        name: if kind == Kind::NotCounted {
            subscripts(&clean(&finding.name))
        } else {
            words::either(finding)
        },
        group: grouped.then(|| clean(&signal.group)),
        hidden: signal.area.is_none(),
        named: false,
    })
}

/// `CH3` with its digit lowered: digits after a letter or a closing bracket.
fn subscripts(group: &str) -> String {
    let mut lowered = false;
    group
        .chars()
        .map(|c| {
            if lowered && c.is_ascii_digit() {
                return subscript(c);
            }
            lowered = c.is_alphabetic() || c == ')';
            c
        })
        .collect()
}

/// A product signal with its number.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Numbered {
    pub(super) number: usize,
    pub(super) range: ShiftRange,
    /// Such as `3H`.
    pub(super) protons: String,
}

/// The product's signals within a range, numbered from the highest shift of the whole spectrum.
pub(super) fn numbered(check: &Check, range: ShiftRange) -> Vec<Numbered> {
    let Some(product) = &check.product else { return Vec::new() };
    let mut signals: Vec<_> = product.signals.iter().collect();
    signals.sort_by(|a, b| b.range.centre().0.total_cmp(&a.range.centre().0));
    let all = signals.iter().enumerate().map(|(i, s)| Numbered {
        number: i + 1,
        range: s.range,
        protons: format!("{}H", number::limit(s.protons)),
    });
    all.filter(|n| range.contains(n.range.centre())).collect()
}

#[cfg(test)]
mod tests {
    use super::subscripts;

    #[test]
    fn digits_in_formulae_are_lowered_and_positions_are_not() {
        assert_eq!(subscripts("CH3"), "CH\u{2083}");
        assert_eq!(subscripts("N(CH3)2"), "N(CH\u{2083})\u{2082}");
        assert_eq!(subscripts("2,6-CH"), "2,6-CH");
        assert_eq!(subscripts("C12H"), "C\u{2081}\u{2082}H");
        assert_eq!(subscripts("CHCl3 in CDCl3"), "CHCl\u{2083} in CDCl\u{2083}");
    }
}
