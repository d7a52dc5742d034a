//! From what was typed to what is meant, checked before any work starts.

pub(crate) mod job;
pub(crate) mod product;
pub(crate) mod range;
pub(crate) mod reading;
pub(crate) mod weighed;

use std::path::Path;

use crate::failure::Failure;

/// A text file that belongs to the request (product, settings, table, recipe).
pub(crate) fn text_file(path: &Path) -> Result<String, Failure> {
    std::fs::read_to_string(path).map_err(|fault| {
        let why = match fault.kind() {
            std::io::ErrorKind::InvalidData => {
                "is not written in UTF-8; save it with that encoding".to_owned()
            }
            _ => format!("cannot read: {fault}"),
        };
        Failure::usage(format!("{}: {why}", path.display()))
    })
}
