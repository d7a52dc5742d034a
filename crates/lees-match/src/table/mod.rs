//! Reference data: which compounds show where, in which NMR solvent, and what else is known of them.
//!
//! The tables are CSV files in `reference-tables/` of the source tree, each row with its source, compiled into the
//! library. [`Tables::bundled`] parses them once; [`Tables::with_rows`] adds the user's own.

mod borrow;
mod compound;
mod decoy;
mod ich;
mod names;
mod nmr_solvent;
mod properties;
mod reference_standard;
mod sheet;
mod shift_rows;

use std::collections::HashMap;
use std::sync::OnceLock;

use sha2::{Digest, Sha256};

pub use compound::{Class, Compound, Group, IchLimit, Partner, ShiftStatus, TableShift, Usage};
pub(crate) use decoy::stem;
pub use ich::LimitRow;
pub(crate) use names::nearest;
pub use names::plain_name;
pub use nmr_solvent::{Family, NmrSolvent, ResidualLine};
pub use properties::Properties;
pub use reference_standard::{Standard, StandardSignal};

use crate::MatchError;
use shift_rows::Origin;

const SHIFTS: (&str, &str) =
    ("impurity_shifts.csv", include_str!("../../../../reference-tables/impurity_shifts.csv"));
const NMR_SOLVENTS: (&str, &str) =
    ("nmr_solvents.csv", include_str!("../../../../reference-tables/nmr_solvents.csv"));
const PROPERTIES: (&str, &str) =
    ("solvent_properties.csv", include_str!("../../../../reference-tables/solvent_properties.csv"));
const LIMITS: (&str, &str) = ("limits.csv", include_str!("../../../../reference-tables/limits.csv"));
const STANDARDS: (&str, &str) =
    ("internal_standards.csv", include_str!("../../../../reference-tables/internal_standards.csv"));

/// All reference data.
#[derive(Debug, Clone)]
pub struct Tables {
    compounds: Vec<Compound>,
    by_name: HashMap<String, usize>,
    nmr_solvents: Vec<NmrSolvent>,
    limits: Vec<LimitRow>,
    standards: Vec<Standard>,
    /// Texts added by the user, for the digest.
    added: Vec<String>,
    digest: OnceLock<String>,
}

impl Tables {
    /// The tables compiled into the library, parsed at the first call.
    ///
    /// ```
    /// let tables = lees_match::table::Tables::bundled();
    /// let solvent = tables.nmr_solvent("<CHLOROFORM-D>").expect("a known label");
    /// assert_eq!(solvent.name, "CDCl3");
    /// let dcm = tables.compound("DCM").expect("a known name");
    /// assert_eq!(dcm.groups[0].shift_in(solvent).expect("tabulated").centre().value(), 5.30);
    /// ```
    #[must_use]
    pub fn bundled() -> &'static Self {
        static TABLES: OnceLock<Tables> = OnceLock::new();
        #[expect(
            clippy::expect_used,
            reason = "the texts are fixed at compile time and the tests parse them"
        )]
        TABLES.get_or_init(|| Self::fresh().expect("the bundled tables are sound"))
    }

    /// Parses the bundled texts anew; [`Tables::bundled`] does it once for all.
    ///
    /// # Errors
    /// None for the tables as shipped.
    ///
    /// ```
    /// let tables = lees_match::table::Tables::fresh()?;
    /// assert_eq!(tables.nmr_solvents().len(), 20);
    /// # Ok::<(), lees_match::MatchError>(())
    /// ```
    pub fn fresh() -> Result<Self, MatchError> {
        let nmr_solvents = nmr_solvent::read(NMR_SOLVENTS.1, NMR_SOLVENTS.0)?;
        let mut compounds = Vec::with_capacity(160);
        shift_rows::read_into(&mut compounds, &nmr_solvents, SHIFTS.1, SHIFTS.0, Origin::Bundled)?;
        let standards = reference_standard::read(STANDARDS.1, STANDARDS.0, &nmr_solvents)?;
        let mut tables = Self {
            by_name: names_of(&compounds),
            compounds,
            nmr_solvents,
            limits: ich::read(LIMITS.1, LIMITS.0)?,
            standards,
            added: Vec::new(),
            digest: OnceLock::new(),
        };
        for row in properties::read(PROPERTIES.1, PROPERTIES.0)? {
            if let Some(compound) = tables.compound_mut(&row.compound) {
                compound.properties = Some(row.properties);
            }
        }
        tables.attach_limits();
        Ok(tables)
    }

    /// These tables with the rows of a user's CSV text added: columns as in `impurity_shifts.csv`, of which
    /// `compound`, `group` and one NMR solvent are needed. A row of a known compound and group fills in or
    /// replaces its shifts; a new volatile needs a formula.
    ///
    /// # Errors
    /// A bad row is refused with file, line and column.
    ///
    /// ```
    /// use lees_match::table::Tables;
    /// let own = "compound,formula,group,n_h,multiplicity,CDCl3\n\
    ///            methyl formate,C2H4O2,OCHO,1,s,8.08\n\
    ///            methyl formate,C2H4O2,OCH3,3,s,3.76\n";
    /// let tables = Tables::bundled().with_rows(own, "own.csv").expect("sound rows");
    /// assert!(tables.compound("methyl formate").is_some());
    /// let bad = Tables::bundled().with_rows(&own.replace("3.76", "3,76"), "own.csv").expect_err("one cell too many");
    /// assert!(bad.to_string().contains("own.csv, line 3"));
    /// ```
    pub fn with_rows(&self, text: &str, name: &str) -> Result<Self, MatchError> {
        let mut tables = self.clone();
        shift_rows::read_into(&mut tables.compounds, &tables.nmr_solvents, text, name, Origin::User)?;
        tables.by_name = names_of(&tables.compounds);
        tables.added.push(text.to_owned());
        tables.digest = OnceLock::new();
        tables.attach_limits();
        Ok(tables)
    }

    /// These tables with the internal standards of a user's CSV text added: columns as in `internal_standards.csv`, of which `compound`,
    /// `formula`, `signal`, `n_h` and one NMR solvent are needed. A standard of a known name replaces the bundled one.
    ///
    /// # Errors
    /// A bad row is refused with file, line and column.
    ///
    /// ```
    /// let own = "compound,formula,signal,n_h,multiplicity,quantify,CDCl3\n\
    ///            1-chloro-2-nitrobenzene,C6H4ClNO2,H-3,1,dd,yes,7.87\n\
    ///            1-chloro-2-nitrobenzene,C6H4ClNO2,others,3,m,no,7.38..7.60\n";
    /// let tables = lees_match::table::Tables::bundled().with_standards(own, "own.csv").expect("sound rows");
    /// assert!(tables.standard("1-chloro-2-nitrobenzene").is_some());
    /// ```
    pub fn with_standards(&self, text: &str, name: &str) -> Result<Self, MatchError> {
        let own = reference_standard::read(text, name, &self.nmr_solvents)?;
        let mut tables = self.clone();
        tables
            .standards
            .retain(|known| own.iter().all(|new| plain_name(&new.name) != plain_name(&known.name)));
        tables.standards.extend(own);
        tables.added.push(text.to_owned());
        tables.digest = OnceLock::new();
        Ok(tables)
    }

    /// These tables with a decoy of each volatile: a compound of the same protons, patterns and couplings whose groups stand
    /// elsewhere (0.08 to 0.38 ppm off), so that it is in no tube. The share of decoys among what is named from such tables
    /// estimates the share of names that are chance (target-decoy competition: Elias and Gygi, Nat. Methods 2007, 4, 207).
    /// `seed` chooses the places.
    ///
    /// ```
    /// use lees_match::table::Tables;
    /// let tables = Tables::bundled().with_decoys(1);
    /// let decoy = tables.compound("decoy of acetone").expect("a decoy of each volatile");
    /// let solvent = tables.nmr_solvent("CDCl3").expect("tabulated");
    /// let place = |name: &str| tables.compound(name)?.groups[0].shift_in(solvent).map(|s| s.centre().value());
    /// assert!((place("acetone").unwrap() - place("decoy of acetone").unwrap()).abs() >= 0.08);
    /// assert!(Tables::is_decoy(&decoy.name));
    /// ```
    #[must_use]
    pub fn with_decoys(&self, seed: u64) -> Self {
        let mut tables = self.clone();
        tables.compounds.extend(decoy::decoys(&self.compounds, seed));
        tables.by_name = names_of(&tables.compounds);
        tables.added.push(format!("decoys {seed}"));
        tables.digest = OnceLock::new();
        tables
    }

    /// Whether a name is a decoy's ([`Tables::with_decoys`]).
    ///
    /// ```
    /// use lees_match::table::Tables;
    /// assert!(Tables::is_decoy("decoy of acetone") && !Tables::is_decoy("acetone"));
    /// ```
    #[must_use]
    pub fn is_decoy(name: &str) -> bool {
        decoy::is_decoy(name)
    }

    /// An internal standard by name, or an error with the nearest known name.
    ///
    /// # Errors
    /// [`MatchError::UnknownName`].
    ///
    /// ```
    /// use lees_match::table::Tables;
    /// assert!(Tables::bundled().require_standard("dimethyl sulfone").is_ok());
    /// let fault = Tables::bundled().require_standard("dimethyl sulfon").expect_err("misspelt");
    /// assert!(fault.to_string().contains("did you mean `dimethyl sulfone`"), "{fault}");
    /// let fault = Tables::bundled().require_standard("talc").expect_err("no standard");
    /// assert!(fault.to_string().contains("known are maleic acid, "), "{fault}");
    /// ```
    pub fn require_standard(&self, name: &str) -> Result<&Standard, MatchError> {
        self.standard(name).ok_or_else(|| {
            let all = self.standards.iter().flat_map(|s| std::iter::once(&s.name).chain(&s.aliases));
            let known: Vec<&str> = self.standards.iter().map(|s| s.name.as_str()).collect();
            let known = format!("; known are {}; others from a CSV file", known.join(", "));
            unknown(name, "internal standard", nearest(name, all.map(String::as_str)), &known)
        })
    }

    /// Gives each compound its entry of the limits table.
    fn attach_limits(&mut self) {
        for row in self.limits.clone() {
            if row.covers.is_empty() {
                if let Some(compound) = self.compound_mut(&row.name) {
                    compound.ich = Some(row.limit);
                }
                continue;
            }
            for member in &row.covers {
                if let Some(compound) = self.compound_mut(member) {
                    let shared = IchLimit { shared_entry: Some(row.name.clone()), ..row.limit.clone() };
                    compound.ich = Some(shared);
                }
            }
        }
    }

    fn compound_mut(&mut self, name: &str) -> Option<&mut Compound> {
        let at = *self.by_name.get(&plain_name(name))?;
        self.compounds.get_mut(at)
    }

    /// All compounds.
    ///
    /// ```
    /// let all = lees_match::table::Tables::bundled().compounds();
    /// assert!(all.iter().any(|compound| compound.name == "toluene"));
    /// ```
    #[must_use]
    pub fn compounds(&self) -> &[Compound] {
        &self.compounds
    }

    /// A compound by name, other name or CAS number, however it is written.
    ///
    /// ```
    /// let tables = lees_match::table::Tables::bundled();
    /// let found = tables.compound("isopropanol").expect("another name of it");
    /// assert_eq!(found.name, "2-propanol");
    /// assert_eq!((tables.compound("IPA"), tables.compound("67-63-0")), (Some(found), Some(found)));
    /// ```
    #[must_use]
    pub fn compound(&self, name: &str) -> Option<&Compound> {
        self.compounds.get(*self.by_name.get(&plain_name(name))?)
    }

    /// A compound by name, or an error with the nearest known name.
    ///
    /// # Errors
    /// [`MatchError::UnknownName`].
    ///
    /// ```
    /// let fault = lees_match::table::Tables::bundled().require_compound("aceton").expect_err("misspelt");
    /// assert!(fault.to_string().contains("did you mean `acetone`"), "{fault}");
    /// ```
    pub fn require_compound(&self, name: &str) -> Result<&Compound, MatchError> {
        self.compound(name).ok_or_else(|| {
            let all = self.compounds.iter().flat_map(|c| std::iter::once(&c.name).chain(&c.aliases));
            let usual = "; try its usual name or abbreviation, such as `ethyl acetate` or `EtOAc`";
            unknown(name, "compound", nearest(name, all.map(String::as_str)), usual)
        })
    }

    /// All NMR solvents.
    ///
    /// ```
    /// let all = lees_match::table::Tables::bundled().nmr_solvents();
    /// assert!(["CDCl3", "DMSO-d6", "D2O"].iter().all(|name| all.iter().any(|solvent| solvent.name == *name)));
    /// ```
    #[must_use]
    pub fn nmr_solvents(&self) -> &[NmrSolvent] {
        &self.nmr_solvents
    }

    /// An NMR solvent by its name or by a label as files write it; `Acetone` means the deuterated one.
    ///
    /// ```
    /// let tables = lees_match::table::Tables::bundled();
    /// assert_eq!(tables.nmr_solvent("Acetone").expect("as files label it").name, "acetone-d6");
    /// ```
    #[must_use]
    pub fn nmr_solvent(&self, label: &str) -> Option<&NmrSolvent> {
        nmr_solvent::by_label(&self.nmr_solvents, label)
    }

    /// An NMR solvent by label, or an error with the nearest known name.
    ///
    /// # Errors
    /// [`MatchError::UnknownName`].
    ///
    /// ```
    /// let tables = lees_match::table::Tables::bundled();
    /// let fault = tables.require_nmr_solvent("CDCl4").expect_err("no such solvent");
    /// assert_eq!(fault.to_string(), "`CDCl4` is no known NMR solvent; did you mean `CDCl3`?");
    /// ```
    pub fn require_nmr_solvent(&self, label: &str) -> Result<&NmrSolvent, MatchError> {
        self.nmr_solvent(label).ok_or_else(|| {
            let all = self.nmr_solvents.iter().flat_map(|s| std::iter::once(&s.name).chain(&s.labels));
            unknown(label, "NMR solvent", nearest(label, all.map(String::as_str)), "")
        })
    }

    /// The limits of ICH Q3C.
    ///
    /// ```
    /// let rows = lees_match::table::Tables::bundled().limits();
    /// let benzene = rows.iter().find(|row| row.name == "benzene").expect("class 1");
    /// assert!((benzene.limit.limit.expect("2 ppm").ppm() - 2.0).abs() < 1e-9);
    /// ```
    #[must_use]
    pub fn limits(&self) -> &[LimitRow] {
        &self.limits
    }

    /// All internal standards.
    ///
    /// ```
    /// let all = lees_match::table::Tables::bundled().standards();
    /// let sulfone = all.iter().find(|standard| standard.name == "dimethyl sulfone").expect("tabulated");
    /// assert!((sulfone.molar_mass - 94.13).abs() < 0.01, "C2H6O2S in g/mol");
    /// ```
    #[must_use]
    pub fn standards(&self) -> &[Standard] {
        &self.standards
    }

    /// An internal standard by name or other name.
    ///
    /// ```
    /// let tables = lees_match::table::Tables::bundled();
    /// assert!(tables.standard("maleic acid").is_some() && tables.standard("water").is_none());
    /// ```
    #[must_use]
    pub fn standard(&self, name: &str) -> Option<&Standard> {
        let plain = plain_name(name);
        self.standards.iter().find(|standard| {
            std::iter::once(&standard.name).chain(&standard.aliases).any(|known| plain_name(known) == plain)
        })
    }

    /// SHA-256 of all table texts in use, lower-case hexadecimal.
    ///
    /// ```
    /// use lees_match::table::Tables;
    /// let own = "compound,formula,group,n_h,multiplicity,CDCl3\nmethyl formate,C2H4O2,OCHO,1,s,8.08\n";
    /// let more = Tables::bundled().with_rows(own, "own.csv")?;
    /// assert_eq!(more.digest().len(), 64);
    /// assert_ne!(more.digest(), Tables::bundled().digest(), "other tables, other results");
    /// # Ok::<(), lees_match::MatchError>(())
    /// ```
    #[must_use]
    pub fn digest(&self) -> &str {
        self.digest.get_or_init(|| {
            let mut hasher = Sha256::new();
            for (name, text) in [SHIFTS, NMR_SOLVENTS, PROPERTIES, LIMITS, STANDARDS] {
                hasher.update(name);
                hasher.update(text);
            }
            for text in &self.added {
                hasher.update(text);
            }
            hasher.finalize().iter().map(|byte| format!("{byte:02x}")).collect()
        })
    }
}

/// A name that is not known; `otherwise` helps where no other is `near`.
fn unknown(name: &str, what: &str, near: Option<&str>, otherwise: &str) -> MatchError {
    let hint = near.map_or_else(|| otherwise.to_owned(), |near| format!("; did you mean `{near}`?"));
    MatchError::UnknownName { name: name.to_owned(), what: what.to_owned(), hint }
}

/// Names and other names of all compounds; a name outranks another compound's other name.
fn names_of(compounds: &[Compound]) -> HashMap<String, usize> {
    let mut names = HashMap::with_capacity(compounds.len() * 4);
    for (at, compound) in compounds.iter().enumerate() {
        for alias in compound.aliases.iter().chain(&compound.cas) {
            names.entry(plain_name(alias)).or_insert(at);
        }
    }
    for (at, compound) in compounds.iter().enumerate() {
        names.insert(plain_name(&compound.name), at);
    }
    names
}
