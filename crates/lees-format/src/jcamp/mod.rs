//! JCAMP-DX: labelled records in, blocks out.
//!
//! Written from the published protocols: McDonald and Wilks, Appl. Spectrosc. 1988, 42, 151 (4.24); Davies and
//! Lampen, Appl. Spectrosc. 1993, 47, 1093 (NMR, 5.00); Lampen et al., Appl. Spectrosc. 1994, 48, 1545
//! (NTUPLES); Lampen et al., Pure Appl. Chem. 1999, 71, 1549 (5.01); IUPAC drafts for 6.00.

pub(crate) mod asdf;
pub(crate) mod assign;
pub(crate) mod axis;
pub(crate) mod block;
pub(crate) mod digits;
pub(crate) mod form;
pub(crate) mod kind;
pub(crate) mod label;
pub(crate) mod meta;
pub(crate) mod ntuples;
pub(crate) mod number;
pub(crate) mod pairs;
pub(crate) mod reader;
pub(crate) mod record;
pub(crate) mod table;
pub(crate) mod tables;
