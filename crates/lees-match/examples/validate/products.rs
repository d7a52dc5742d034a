//! Invented products of unlike kinds: plain ones, and ones that mimic or cover a solvent.

/// A signal: shift, protons, first-order splitting (empty for a singlet), `m` to print it as a multiplet.
pub(crate) type Line = (f64, f64, &'static str, bool);

/// An invented product: what it is like, molar mass, signals.
pub(crate) type Kind = (&'static str, f64, &'static [Line]);

/// The kinds. Shifts are made up, of the size usual for such groups.
pub(crate) const KINDS: [Kind; 13] = [
    (
        "isopropyl ester",
        262.3,
        &[
            (8.02, 2.0, "d 8.6", false),
            (7.44, 2.0, "d 8.6", false),
            (6.71, 1.0, "s", false),
            (5.24, 1.0, "sept 6.2", false),
            (2.47, 3.0, "s", false),
            (1.37, 6.0, "d 6.2", false),
        ],
    ),
    (
        "dimethylamide",
        241.3,
        &[
            (7.93, 1.0, "d 7.9", false),
            (7.61, 1.0, "t 7.6", false),
            (7.52, 1.0, "dd 7.9 1.4", false),
            (6.58, 1.0, "s", false),
            (3.09, 3.0, "s", false),
            (2.93, 3.0, "s", false),
            (2.31, 3.0, "s", false),
        ],
    ),
    (
        "aromatic CH at 7.26",
        318.4,
        &[
            (8.41, 1.0, "s", false),
            (7.86, 2.0, "d 8.3", false),
            (7.27, 2.0, "d 8.3", false),
            (7.25, 1.0, "t 7.7", true),
            (6.93, 2.0, "d 8.8", false),
            (2.41, 3.0, "s", false),
        ],
    ),
    (
        "piperidine amide",
        287.4,
        &[
            (8.12, 1.0, "d 2.1", false),
            (7.71, 1.0, "dd 8.4 2.1", false),
            (7.05, 1.0, "d 8.4", false),
            (3.63, 2.0, "t 5.4", true),
            (3.34, 2.0, "t 5.5", true),
            (1.66, 2.0, "quint 5.7", true),
            (1.53, 4.0, "quint 5.6", true),
        ],
    ),
    (
        "ethyl ester",
        220.2,
        &[
            (7.67, 1.0, "d 16.0", false),
            (7.51, 2.0, "d 8.7", false),
            (6.91, 2.0, "d 8.7", false),
            (6.33, 1.0, "d 16.0", false),
            (4.25, 2.0, "q 7.1", false),
            (1.33, 3.0, "t 7.1", false),
        ],
    ),
    (
        "aryl acetate",
        194.2,
        &[
            (7.58, 1.0, "d 15.9", false),
            (7.43, 2.0, "d 8.5", false),
            (7.11, 2.0, "d 8.5", false),
            (2.29, 3.0, "s", false),
            (2.06, 3.0, "s", false),
        ],
    ),
    (
        "tert-butyl carbamate",
        309.4,
        &[
            (8.21, 1.0, "s", false),
            (7.64, 2.0, "d 8.2", false),
            (7.18, 2.0, "d 8.2", false),
            (4.41, 2.0, "s", false),
            (1.46, 9.0, "s", false),
        ],
    ),
    (
        "methoxyarene",
        346.4,
        &[
            (7.78, 1.0, "d 8.9", false),
            (7.14, 1.0, "dd 8.9 2.5", false),
            (7.09, 1.0, "d 2.5", false),
            (6.44, 1.0, "s", false),
            (3.91, 3.0, "s", false),
            (3.79, 3.0, "s", false),
            (3.41, 3.0, "s", false),
        ],
    ),
    (
        "dodecyl ether",
        396.6,
        &[
            (7.97, 2.0, "d 8.9", false),
            (6.92, 2.0, "d 8.9", false),
            (4.01, 2.0, "t 6.6", false),
            (1.80, 2.0, "quint 7.0", true),
            (1.45, 2.0, "quint 7.2", true),
            (1.31, 8.0, "quint 6.5", true),
            (1.27, 8.0, "quint 6.6", true),
            (0.88, 3.0, "t 6.9", false),
        ],
    ),
    (
        "diethylamino dye",
        363.4,
        &[
            (8.52, 1.0, "s", false),
            (7.40, 1.0, "d 9.0", false),
            (6.63, 1.0, "dd 9.0 2.5", false),
            (6.47, 1.0, "d 2.5", false),
            (3.46, 4.0, "q 7.1", false),
            (1.24, 6.0, "t 7.1", false),
        ],
    ),
    (
        "morpholine amide",
        301.3,
        &[
            (8.33, 1.0, "d 1.9", false),
            (7.92, 1.0, "dd 8.2 1.9", false),
            (7.48, 1.0, "d 8.2", false),
            (3.77, 4.0, "t 4.8", true),
            (3.69, 2.0, "t 4.7", true),
            (3.46, 2.0, "t 4.7", true),
        ],
    ),
    (
        "aliphatic forest",
        414.6,
        &[
            (5.37, 1.0, "dt 5.2 2.2", true),
            (4.61, 1.0, "tt 11.2 4.4", true),
            (2.33, 2.0, "dd 11.8 4.2", true),
            (2.01, 3.0, "dd 12.7 3.5", true),
            (1.86, 3.0, "dt 13.2 3.6", true),
            (1.57, 5.0, "dq 12.1 4.9", true),
            (1.34, 4.0, "dt 12.5 4.5", true),
            (1.13, 5.0, "dq 11.4 5.7", true),
            (1.02, 3.0, "s", true),
            (0.91, 3.0, "d 6.5", true),
            (0.68, 3.0, "s", false),
        ],
    ),
    (
        "plain biaryl",
        272.3,
        &[
            (8.74, 2.0, "d 4.6", false),
            (8.11, 1.0, "s", false),
            (7.83, 2.0, "d 8.1", false),
            (7.66, 2.0, "d 4.6", false),
            (7.55, 1.0, "t 7.8", false),
        ],
    ),
];
