//! Which limit holds for which compound: the chemist's own, or those of ICH Q3C.

use std::collections::BTreeMap;

use lees_core::{LimitSet, MassFraction};

use crate::MatchError;
use crate::table::{Compound, Tables, plain_name};

/// The name under which the limits of ICH Q3C (option 1) are asked for.
pub const ICH_Q3C: &str = "ich-q3c";

/// Where a limit comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Origin {
    /// The chemist set it.
    Own,
    /// ICH Q3C, with its class.
    Ich(Option<u8>),
}

/// A limit for one compound.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {
    /// The largest content allowed.
    pub fraction: MassFraction,
    /// Where it comes from.
    pub origin: Origin,
    /// The entry it stands under when that limits a sum of compounds, such as `xylene`.
    pub shared_entry: Option<String>,
}

impl Limit {
    /// In words, such as `ICH Q3C class 2`.
    #[must_use]
    pub(crate) fn origin_words(&self) -> String {
        match (&self.origin, &self.shared_entry) {
            (Origin::Own, _) => "own limit".to_owned(),
            (Origin::Ich(Some(class)), None) => format!("ICH Q3C class {class}"),
            (Origin::Ich(Some(class)), Some(entry)) => format!("ICH Q3C class {class}, sum of {entry}"),
            (Origin::Ich(None), _) => "ICH Q3C".to_owned(),
        }
    }
}

/// All limits to judge by.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Limits {
    /// For the sum of all counted volatiles.
    pub total: Option<MassFraction>,
    own: BTreeMap<String, MassFraction>,
    ich: bool,
}

impl Limits {
    /// Own limits, and those of a named set (`ich-q3c`) if any; an own limit outranks the named one.
    ///
    /// # Errors
    /// An unknown compound or an unknown set.
    ///
    /// ```
    /// use lees_core::LimitSet;
    /// use lees_match::{limits::Limits, table::Tables};
    /// let tables = Tables::bundled();
    /// let limits = Limits::resolve(&LimitSet::default(), Some("ICH Q3C"), tables)?;
    /// let dcm = tables.compound("DCM").expect("tabulated");
    /// assert!((limits.of(dcm).expect("class 2").fraction.ppm() - 600.0).abs() < 1e-9);
    /// # Ok::<(), lees_match::MatchError>(())
    /// ```
    pub fn resolve(own: &LimitSet, named: Option<&str>, tables: &Tables) -> Result<Self, MatchError> {
        let mut by_name = BTreeMap::new();
        for (name, fraction) in &own.each {
            let usual = &tables.require_compound(name)?.name;
            if by_name.insert(usual.clone(), *fraction).is_some_and(|before| before != *fraction) {
                return Err(MatchError::Value {
                    what: format!("the limit of {usual}"),
                    read: "given twice, under two of its names".to_owned(),
                    allowed: "one limit for a compound".to_owned(),
                });
            }
        }
        let ich = match named {
            None => false,
            Some(name) if ["ichq3c", "ich", "q3c"].contains(&plain_name(name).as_str()) => true,
            Some(name) => {
                return Err(MatchError::UnknownName {
                    name: name.to_owned(),
                    what: "set of limits".to_owned(),
                    hint: format!("; allowed: {ICH_Q3C}"),
                });
            }
        };
        Ok(Self { total: own.total, own: by_name, ich })
    }

    /// Whether there is no limit at all.
    #[must_use]
    pub(crate) fn is_empty(&self) -> bool {
        self.total.is_none() && self.own.is_empty() && !self.ich
    }

    /// Whether those of ICH Q3C hold.
    #[must_use]
    pub(crate) const fn uses_ich(&self) -> bool {
        self.ich
    }

    /// The limit of a compound.
    ///
    /// ```
    /// use lees_core::LimitSet;
    /// use lees_match::{limits::Limits, table::Tables};
    /// let tables = Tables::bundled();
    /// let compound = |name: &str| tables.compound(name).expect("tabulated");
    /// let mut own = LimitSet::default();
    /// own.each.insert("IPA".into(), "0.1 wt%".parse().expect("a mass fraction"));
    /// let limits = Limits::resolve(&own, None, tables)?;
    /// assert!((limits.of(compound("2-propanol")).expect("its own").fraction.wt_percent() - 0.1).abs() < 1e-12);
    /// assert!(limits.of(compound("toluene")).is_none());
    /// # Ok::<(), lees_match::MatchError>(())
    /// ```
    #[must_use]
    pub fn of(&self, compound: &Compound) -> Option<Limit> {
        if let Some(fraction) = self.own.get(&compound.name) {
            return Some(Limit { fraction: *fraction, origin: Origin::Own, shared_entry: None });
        }
        let entry = compound.ich.as_ref().filter(|_| self.ich)?;
        Some(Limit {
            fraction: entry.limit?,
            origin: Origin::Ich(entry.class),
            shared_entry: entry.shared_entry.clone(),
        })
    }

    /// Compounds for which the chemist set a limit, by their usual names.
    pub(crate) fn own_names(&self) -> impl Iterator<Item = &str> {
        self.own.keys().map(String::as_str)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn own(name: &str, text: &str) -> LimitSet {
        LimitSet { total: None, each: BTreeMap::from([(name.to_owned(), text.parse().unwrap())]) }
    }

    #[test]
    fn other_names_resolve_and_own_limits_outrank() {
        let tables = Tables::bundled();
        let limits = Limits::resolve(&own("IPA", "0.2 wt%"), Some(ICH_Q3C), tables).unwrap();
        let alcohol = limits.of(tables.compound("2-propanol").unwrap()).unwrap();
        assert_eq!((alcohol.fraction.ppm().round(), alcohol.origin), (2000.0, Origin::Own));
        let toluene = limits.of(tables.compound("toluene").unwrap()).unwrap();
        assert_eq!(toluene.origin_words(), "ICH Q3C class 2");
        let xylene = limits.of(tables.compound("m-xylene").unwrap()).unwrap();
        assert_eq!(xylene.shared_entry.as_deref(), Some("xylene"));
        assert!(limits.of(tables.compound("diisopropyl ether").unwrap()).is_none());
        assert!(limits.of(tables.compound("water").unwrap()).is_none());
    }

    #[test]
    fn unknown_names_are_refused_with_a_hint() {
        let tables = Tables::bundled();
        let error = Limits::resolve(&own("isopropanole", "1 wt%"), None, tables).unwrap_err();
        assert!(error.to_string().contains("did you mean `isopropanol`"), "{error}");
        let error = Limits::resolve(&LimitSet::default(), Some("usp"), tables).unwrap_err();
        assert!(error.to_string().contains("ich-q3c"), "{error}");
    }
}
