//! An SVG in the form that the output's name asks for.

use std::ffi::OsStr;
use std::path::Path;

use lees_report::figure::{Svg, pdf, png};

use crate::failure::Failure;
use crate::out;

/// Forms of a picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Form {
    Svg,
    Png,
    Pdf,
}

/// The form by the ending of the output's name; asked before any work starts.
pub(crate) fn form(output: &Path) -> Result<Form, Failure> {
    match ending(output).as_str() {
        "svg" => Ok(Form::Svg),
        "png" => Ok(Form::Png),
        "pdf" => Ok(Form::Pdf),
        _ => {
            Err(Failure::usage(format!("{}: a picture's name ends in .svg, .png or .pdf", output.display())))
        }
    }
}

/// The ending of a name in lower case, without the dot.
pub(crate) fn ending(path: &Path) -> String {
    path.extension().and_then(OsStr::to_str).unwrap_or_default().to_ascii_lowercase()
}

/// Writes a picture.
pub(crate) fn write(svg: Svg, form: Form, dpi: f64, output: &Path) -> Result<(), Failure> {
    let bytes = match form {
        Form::Svg => svg.into_string().into_bytes(),
        Form::Png => png(&svg, dpi).map_err(Failure::input)?,
        Form::Pdf => pdf(&svg).map_err(Failure::input)?,
    };
    out::write_file(output, &bytes)
}
