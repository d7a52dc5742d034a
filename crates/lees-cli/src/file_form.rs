//! A measurement in the file form that the output's name asks for.

use std::path::Path;

use lees_core::Measurement;
use lees_format::write::{self, WriteOptions, Written};

use crate::args::Encoding;
use crate::failure::Failure;
use crate::picture::ending;

/// The bytes of a measurement; `history` goes into comments.
pub(crate) fn bytes(
    measurement: &Measurement,
    output: &Path,
    encoding: Encoding,
    history: Vec<String>,
) -> Result<Written, Failure> {
    let options = WriteOptions { encoding: form(encoding), history, ..WriteOptions::default() };
    match ending(output).as_str() {
        "jdx" | "dx" | "jcamp" => Ok(write::jcamp(measurement, &options)),
        "txt" | "csv" | "tsv" | "asc" => Ok(write::text(measurement, &options)),
        _ => Err(Failure::usage(format!(
            "{}: the output's name ends in .jdx or .dx (JCAMP-DX) or .txt (columns)",
            output.display()
        ))),
    }
}

const fn form(encoding: Encoding) -> write::Encoding {
    match encoding {
        Encoding::Affn => write::Encoding::Affn,
        Encoding::Fix => write::Encoding::Fix,
        Encoding::Pac => write::Encoding::Pac,
        Encoding::Sqz => write::Encoding::Sqz,
        Encoding::Dif => write::Encoding::Dif,
        Encoding::Difdup => write::Encoding::DifDup,
    }
}
