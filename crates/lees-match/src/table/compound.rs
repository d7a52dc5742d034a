//! Compounds that may turn up beside a product, and where they show.

use std::sync::Arc;

use lees_core::{Formula, Hertz, MassFraction, Multiplicity, Ppm, Seconds};

use super::{NmrSolvent, Properties};

/// What kind of thing a compound is in this trade.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Class {
    /// A solvent or reagent that drying can remove: counted.
    Volatile,
    /// Water: comes with the NMR solvent too.
    Water,
    /// A gas dissolved in the tube.
    Gas,
    /// Hydrocarbon grease.
    Grease,
    /// Silicone grease and oil.
    Silicone,
    /// Phthalates and the like, from plastic ware.
    Plasticiser,
    /// Stabilisers such as BHT.
    Antioxidant,
    /// Shift references such as TMS.
    Reference,
    /// Anything else that drying does not remove.
    Nonvolatile,
}

impl Class {
    /// Reads the table's word.
    #[must_use]
    pub(crate) fn from_word(word: &str) -> Option<Self> {
        Some(match word {
            "volatile" => Self::Volatile,
            "water" => Self::Water,
            "gas" => Self::Gas,
            "grease" => Self::Grease,
            "silicone" => Self::Silicone,
            "plasticiser" => Self::Plasticiser,
            "antioxidant" => Self::Antioxidant,
            "reference" => Self::Reference,
            "nonvolatile" => Self::Nonvolatile,
            _ => return None,
        })
    }

    /// Why such a compound is not counted among the volatiles; `None` when it is.
    #[must_use]
    pub(crate) const fn why_not_counted(self) -> Option<&'static str> {
        match self {
            Self::Volatile => None,
            Self::Water => Some("water comes with the NMR solvent and the air too; a blank tells them apart"),
            Self::Gas => Some("a gas dissolved in the tube says nothing about the batch"),
            Self::Grease => Some("hydrocarbon grease has no definite mass per proton and does not dry off"),
            Self::Silicone => Some("silicone from greased joints or tubing does not dry off"),
            Self::Plasticiser => Some("plasticiser from plastic ware does not dry off"),
            Self::Antioxidant => {
                Some("an antioxidant from stabilised solvents or plastic ware does not dry off")
            }
            Self::Reference => Some("a shift reference is added to the NMR solvent"),
            Self::Nonvolatile => Some("it does not dry off"),
        }
    }
}

/// What boils under this is a gas at the bench, in degrees Celsius.
const ROOM_C: f64 = 15.0;
/// By how much less likely a gas is met than its class says.
const GAS: f64 = 0.1;

/// How often a compound is met; the prior probability before looking.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Usage {
    /// On every bench: absence of it is worth a statement.
    Daily,
    /// Met every week.
    Common,
    /// Met now and then.
    Rare,
}

impl Usage {
    /// Prior probability that a spectrum shows it (common practice, no source).
    #[must_use]
    pub(crate) const fn prior(self) -> f64 {
        match self {
            Self::Daily => 0.08,
            Self::Common => 0.04,
            Self::Rare => 0.005,
        }
    }
}

/// How far a tabulated shift can be trusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ShiftStatus {
    /// Seen in two reprints of the published table.
    TwoReprints,
    /// Seen in one reprint.
    OneReprint,
    /// From memory of the published table or of typical literature.
    Memory,
    /// The printed value is probably wrong; this is the value to match instead.
    Doubtful,
    /// True by definition.
    Definition,
    /// No value in this NMR solvent; taken from another one.
    Borrowed,
    /// From a row the user gave.
    User,
}

/// Where a group shows in one NMR solvent.
#[derive(Debug, Clone, PartialEq)]
pub struct TableShift {
    /// Lower end (equal to `high` for a single value).
    pub low: Ppm,
    /// Upper end.
    pub high: Ppm,
    /// How far to trust it.
    pub status: ShiftStatus,
    /// Standard deviation to expect between table and dilute sample, beyond the range itself.
    pub u: Ppm,
    /// The work it comes from.
    pub source: Arc<str>,
}

impl TableShift {
    /// The middle of the range.
    ///
    /// ```
    /// use lees_match::table::Tables;
    /// let tables = Tables::bundled();
    /// let solvent = tables.nmr_solvent("CDCl3").expect("tabulated");
    /// let shift = tables.compound("acetone").and_then(|acetone| acetone.groups[0].shift_in(solvent));
    /// assert_eq!(shift.expect("tabulated").centre().0, 2.17);
    /// ```
    #[must_use]
    pub fn centre(&self) -> Ppm {
        Ppm((self.low.0 + self.high.0) / 2.0)
    }
}

/// A cell of the table: the printed value, and the one to match.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Cell {
    /// As printed, when it is not to be matched.
    pub(super) printed: Option<(Ppm, Ppm)>,
    /// What to match; `None` when the printed value must not be used and nothing better is known.
    pub(super) matched: Option<TableShift>,
    /// The published tables are known to have no value here.
    pub(super) declared_empty: bool,
}

/// A coupling to another group of the same molecule.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Partner {
    /// Index of the other group within [`Compound::groups`].
    pub group: usize,
    /// The coupling constant.
    pub j: Hertz,
}

/// A set of equivalent protons.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// Its name, such as `OCH2`; unique within the compound.
    pub name: String,
    /// How many protons; `None` for polymers and grease.
    pub protons: Option<u32>,
    /// The pattern as tabulated.
    pub multiplicity: Multiplicity,
    /// Coupling constants as tabulated, in the order of the pattern.
    pub couplings: Vec<Hertz>,
    /// Couplings to other groups of the molecule, where known.
    pub partners: Vec<Partner>,
    /// Outer width of an unresolved pattern (memory).
    pub span: Option<Hertz>,
    /// One-bond coupling to carbon-13, which places the satellites; `None` for protons not on carbon.
    pub carbon_coupling: Option<Hertz>,
    /// Whether the protons exchange (OH, NH): they may show anywhere or not at all.
    pub exchangeable: bool,
    /// A remark from the table.
    pub note: String,
    /// By index of the NMR solvent.
    pub(super) cells: Vec<Cell>,
}

impl Group {
    /// Where the group is to be looked for in an NMR solvent: the tabulated value, or the one that replaces a
    /// printed value known to be wrong. `None` when there is none.
    ///
    /// ```
    /// use lees_match::table::{ShiftStatus, Tables};
    /// let tables = Tables::bundled();
    /// let alcohol = tables.compound("2-propanol").expect("tabulated");
    /// let methanol = tables.nmr_solvent("CD3OD").expect("tabulated");
    /// let methyl = alcohol.group("CH3").and_then(|g| g.shift_in(methanol)).expect("tabulated");
    /// assert_eq!(methyl.status, ShiftStatus::Doubtful); // printed 1.50, matched at 1.15
    /// assert_eq!(methyl.centre().value(), 1.15);
    /// ```
    #[must_use]
    pub fn shift_in(&self, solvent: &NmrSolvent) -> Option<&TableShift> {
        self.cells.get(solvent.index)?.matched.as_ref()
    }

    /// The printed value where it differs from the one to match.
    ///
    /// ```
    /// use lees_match::table::Tables;
    /// let tables = Tables::bundled();
    /// let methyl = tables.compound("2-propanol").and_then(|alcohol| alcohol.group("CH3")).expect("tabulated");
    /// let printed = |solvent: &str| methyl.printed_in(tables.nmr_solvent(solvent).expect("tabulated"));
    /// assert_eq!(printed("CD3OD").map(|(low, _)| low.0), Some(1.50), "printed, but matched elsewhere");
    /// assert_eq!(printed("CDCl3"), None);
    /// ```
    #[must_use]
    pub fn printed_in(&self, solvent: &NmrSolvent) -> Option<(Ppm, Ppm)> {
        self.cells.get(solvent.index)?.printed
    }

    /// Whether the table says that no value has been published for this NMR solvent.
    ///
    /// ```
    /// use lees_match::table::Tables;
    /// let tables = Tables::bundled();
    /// let methyl = tables.compound("acetone").and_then(|acetone| acetone.group("CH3")).expect("tabulated");
    /// assert!(!methyl.is_declared_empty(tables.nmr_solvent("CDCl3").expect("tabulated")), "2.17 ppm is published");
    /// ```
    #[must_use]
    pub fn is_declared_empty(&self, solvent: &NmrSolvent) -> bool {
        self.cells.get(solvent.index).is_some_and(|cell| cell.declared_empty)
    }
}

/// A limit of ICH Q3C.
#[derive(Debug, Clone, PartialEq)]
pub struct IchLimit {
    /// Class 1, 2 or 3; `None` for solvents without adequate toxicological data.
    pub class: Option<u8>,
    /// Permitted daily exposure in mg/day.
    pub pde_mg_per_day: Option<f64>,
    /// Concentration limit, option 1 (10 g of product a day).
    pub limit: Option<MassFraction>,
    /// The entry it stands under when that is a group of solvents, such as `xylene`: the limit holds for their sum.
    pub shared_entry: Option<String>,
    /// A remark from the table.
    pub note: String,
}

/// A compound and all its groups.
#[derive(Debug, Clone, PartialEq)]
pub struct Compound {
    /// The usual name.
    pub name: String,
    /// Other names.
    pub aliases: Vec<String>,
    /// CAS registry number.
    pub cas: Option<String>,
    /// Molecular formula; `None` for polymers and grease.
    pub formula: Option<Formula>,
    /// Molar mass in g/mol from the formula; `None` for polymers and grease.
    pub molar_mass: Option<f64>,
    /// What kind of thing it is.
    pub class: Class,
    /// How often it is met.
    pub usage: Usage,
    /// Spin-lattice relaxation times to expect in air-equilibrated solution (memory).
    pub t1: (Seconds, Seconds),
    /// Its groups.
    pub groups: Vec<Group>,
    /// Boiling point and the like; `None` when not tabulated.
    pub properties: Option<Properties>,
    /// Limit of ICH Q3C, when it has an entry.
    pub ich: Option<IchLimit>,
}

impl Compound {
    /// A group by name.
    ///
    /// ```
    /// use lees_match::table::Tables;
    /// let acetate = Tables::bundled().compound("EtOAc").expect("tabulated");
    /// assert_eq!(acetate.group("OCH2").expect("tabulated").protons, Some(2));
    /// assert!(acetate.group("OH").is_none());
    /// ```
    #[must_use]
    pub fn group(&self, name: &str) -> Option<&Group> {
        self.groups.iter().find(|group| group.name == name)
    }

    /// Prior probability that a spectrum shows it; gases do not stay in a solid or a tube (common practice, no source).
    #[must_use]
    pub(crate) fn prior(&self) -> f64 {
        let boils = self.properties.as_ref().and_then(|p| p.boiling_point_c);
        let gas = boils.is_some_and(|celsius| celsius < ROOM_C);
        self.usage.prior() * if gas { GAS } else { 1.0 }
    }
}
