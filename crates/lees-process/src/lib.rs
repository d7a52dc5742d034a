//! From FID to lines: processing. Knows no solvent table.
