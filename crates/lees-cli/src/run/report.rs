//! `lees report`.

use lees_report::page::{PageOptions, html, pdf};

use super::checks::checks;
use crate::args::ReportArgs;
use crate::failure::{Ending, Failure};
use crate::place::place;
use crate::request::job::weighed_job;
use crate::{out, picture};

/// Writes one page for all spectra.
pub(crate) fn report(args: &ReportArgs) -> Result<Ending, Failure> {
    let ending = picture::ending(&args.output);
    if !matches!(ending.as_str(), "html" | "htm" | "pdf") {
        return Err(Failure::usage(format!(
            "{}: a report's name ends in .html or .pdf",
            args.output.display()
        )));
    }
    let output = place(&args.output)?;
    let sample = &args.sample;
    let job = weighed_job(&sample.product, &sample.judge, &args.weighed, &sample.reading)?;
    let checks = checks(&job, &args.files)?;
    let options = PageOptions::default();
    let bytes = if ending == "pdf" {
        pdf(&checks.all(), &options).map_err(Failure::input)?
    } else {
        html(&checks.all(), &options).map_err(Failure::input)?.into_bytes()
    };
    out::write_file(&output, &bytes)?;
    Ok(checks.ending)
}
