//! `lees convert`.

use std::path::Path;

use lees::batch::{Reader, list};
use lees_core::Measurement;
use lees_format::{Chosen, Prefer};
use lees_process::Workspace;
use lees_process::fid::{FidSettings, transform};
use lees_process::phase::{PhaseSettings, automatic};

use crate::args::ConvertArgs;
use crate::failure::{Ending, Failure};
use crate::place::{place, spare};
use crate::{file_form, out, request};

/// Writes one spectrum or FID of a file in another form.
pub(crate) fn convert(args: &ConvertArgs) -> Result<Ending, Failure> {
    let output = place(&args.output)?;
    let chosen = chosen(args, &output)?;
    chosen.warnings.iter().for_each(out::say);
    let mut history = vec![format!("read from {}", chosen.label)];
    let measurement = match chosen.measurement {
        Measurement::Fid(fid) if !args.keep_fid => {
            let name = args.file.display();
            let (spectrum, steps) =
                spectrum(&fid).map_err(|fault| Failure::input(format!("{name}: {fault}")))?;
            history.extend(steps);
            Measurement::Spectrum(spectrum)
        }
        other => other,
    };
    let written = file_form::bytes(&measurement, &args.output, args.encoding, history)?;
    if written.rounding > 0.0 {
        out::say(format!("values were rounded to whole steps, by {:.3e} at most", written.rounding));
    }
    out::write_file(&output, &written.bytes)?;
    Ok(Ending::Well)
}

fn chosen(args: &ConvertArgs, output: &Path) -> Result<Chosen, Failure> {
    let options = request::reading::options(&args.reading)?;
    let mut sources = list(std::slice::from_ref(&args.file));
    let (Some(source), true) = (sources.pop(), sources.is_empty()) else {
        return Err(Failure::usage(format!(
            "{}: give one file, not a folder of several",
            args.file.display()
        )));
    };
    let source = source.map_err(Failure::input)?;
    spare(output, [&source])?;
    let bytes = Reader::default().read(&source).map_err(Failure::input)?;
    let document = lees_format::read(&bytes, &source.name(), &options).map_err(Failure::input)?;
    let mut all = document.measurements(Prefer::Both).map_err(Failure::input)?;
    let count = all.len();
    if args.block == 0 || args.block > count {
        return Err(Failure::usage(format!("--block {}: the file holds {count}", args.block)));
    }
    Ok(all.swap_remove(args.block - 1))
}

fn spectrum(fid: &lees_core::Fid) -> Result<(lees_core::Spectrum, Vec<String>), lees_process::ProcessError> {
    let mut workspace = Workspace::new();
    let mut made = transform(fid, &FidSettings::default(), &mut workspace)?;
    let phase = automatic(&mut made.spectrum, &PhaseSettings::default(), &mut workspace);
    made.report.warnings.iter().chain(&phase.warnings).for_each(out::say);
    let steps = vec![
        format!("transformed, zero filled to {} points", made.spectrum.axis.points()),
        format!("phased: ph0 {:.2} degrees, ph1 {:.2} degrees", phase.ph0_deg, phase.ph1_deg),
    ];
    Ok((made.spectrum, steps))
}
