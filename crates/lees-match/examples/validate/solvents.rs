//! Volatiles to plant: their groups and couplings, written down apart from the tables' own spin systems.

/// Name in the tables, formula, and groups as (name, protons, couplings to other groups in hertz).
pub(crate) type Plant = (&'static str, &'static str, &'static [Group]);
/// A group: its name in the tables, protons, couplings.
pub(crate) type Group = (&'static str, f64, &'static [(&'static str, f64)]);

/// What a laboratory recrystallises from, extracts with and dries off.
pub(crate) const PLANTS: [Plant; 24] = [
    ("acetone", "C3H6O", &[("CH3", 6.0, &[])]),
    ("acetonitrile", "C2H3N", &[("CH3", 3.0, &[])]),
    ("acetic acid", "C2H4O2", &[("CH3", 3.0, &[])]),
    ("dichloromethane", "CH2Cl2", &[("CH2", 2.0, &[])]),
    ("1,4-dioxane", "C4H8O2", &[("CH2", 8.0, &[])]),
    ("cyclohexane", "C6H12", &[("CH2", 12.0, &[])]),
    ("benzene", "C6H6", &[("CH", 6.0, &[])]),
    ("1,2-dichloroethane", "C2H4Cl2", &[("CH2", 4.0, &[])]),
    ("methanol", "CH4O", &[("CH3", 3.0, &[])]),
    ("ethanol", "C2H6O", &[("CH3", 3.0, &[("CH2", 7.08)]), ("CH2", 2.0, &[])]),
    ("2-propanol", "C3H8O", &[("CH3", 6.0, &[("CH", 6.12)]), ("CH", 1.0, &[])]),
    ("tert-butanol", "C4H10O", &[("CH3", 9.0, &[])]),
    ("diethyl ether", "C4H10O", &[("CH3", 3.0, &[("CH2", 7.03)]), ("CH2", 2.0, &[])]),
    ("tert-butyl methyl ether", "C5H12O", &[("C(CH3)3", 9.0, &[]), ("OCH3", 3.0, &[])]),
    ("tetrahydrofuran", "C4H8O", &[("OCH2", 4.0, &[]), ("CH2", 4.0, &[])]),
    ("1,2-dimethoxyethane", "C4H10O2", &[("OCH3", 6.0, &[]), ("CH2", 4.0, &[])]),
    (
        "ethyl acetate",
        "C4H8O2",
        &[("CH3CO", 3.0, &[]), ("OCH2", 2.0, &[("CH2CH3", 7.14)]), ("CH2CH3", 3.0, &[])],
    ),
    ("2-butanone", "C4H8O", &[("CH3CO", 3.0, &[]), ("CH2", 2.0, &[("CH2CH3", 7.32)]), ("CH2CH3", 3.0, &[])]),
    (
        "N,N-dimethylformamide",
        "C3H7NO",
        &[("CHO", 1.0, &[("NCH3a", 0.55), ("NCH3b", 0.35)]), ("NCH3a", 3.0, &[]), ("NCH3b", 3.0, &[])],
    ),
    ("N,N-dimethylacetamide", "C4H9NO", &[("CH3CO", 3.0, &[]), ("NCH3a", 3.0, &[]), ("NCH3b", 3.0, &[])]),
    ("dimethyl sulfoxide", "C2H6OS", &[("CH3", 6.0, &[])]),
    ("triethylamine", "C6H15N", &[("CH3", 3.0, &[("CH2", 7.18)]), ("CH2", 2.0, &[])]),
    ("toluene", "C7H8", &[("CH3", 3.0, &[]), ("CH(2,4,6)", 3.0, &[]), ("CH(3,5)", 2.0, &[])]),
    ("n-hexane", "C6H14", &[("CH3", 6.0, &[]), ("CH2", 8.0, &[])]),
];

/// Name, shift, and coupling partners of a ring proton.
pub(crate) type RingProton = (&'static str, f64, &'static [(&'static str, f64)]);

/// The aromatic ring of toluene: place relative to the group's tabulated shift, and couplings.
pub(crate) const TOLUENE_RING: [RingProton; 5] = [
    ("CH(2,4,6)", 0.002, &[("c", 7.55), ("d", 0.6), ("e", 1.25), ("b", 1.9)]),
    ("CH(2,4,6)", 0.002, &[("d", 7.55), ("c", 0.6), ("e", 1.25)]),
    ("CH(3,5)", 0.0, &[("e", 7.45), ("d", 1.45)]),
    ("CH(3,5)", 0.0, &[("e", 7.45)]),
    ("CH(2,4,6)", -0.006, &[]),
];

/// Protons of tetrahydrofuran's ring, which turns over: geminal, cis and trans couplings.
pub(crate) const THF_RING: [RingProton; 8] = [
    ("OCH2", 0.0, &[("b", -8.3), ("c", 7.94), ("d", 6.14)]),
    ("OCH2", 0.0, &[("c", 6.14), ("d", 7.94)]),
    ("CH2", 0.0, &[("d", -12.0), ("e", 8.68), ("f", 6.25)]),
    ("CH2", 0.0, &[("e", 6.25), ("f", 8.68)]),
    ("CH2", 0.0, &[("f", -12.0), ("g", 7.94), ("h", 6.14)]),
    ("CH2", 0.0, &[("g", 6.14), ("h", 7.94)]),
    ("OCH2", 0.0, &[("h", -8.3)]),
    ("OCH2", 0.0, &[]),
];

/// Name, shift, protons, pattern, and coupling partners of a chain group.
type ChainGroup = (&'static str, f64, f64, &'static str, &'static [(&'static str, f64)]);

/// Half of hexane: protons, place relative to the tabulated shift, group, couplings.
pub(crate) const HEXANE_HALF: [ChainGroup; 3] = [
    ("a", 3.0, 0.0, "CH3", &[("b", 7.1)]),
    ("b", 2.0, 0.012, "CH2", &[("c", 7.3)]),
    ("c", 2.0, -0.012, "CH2", &[]),
];
