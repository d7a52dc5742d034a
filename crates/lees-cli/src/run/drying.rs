//! `lees drying`.

use std::path::PathBuf;

use lees::drying::{Series, hours_in_name, series};
use lees_core::check::Check;
use lees_report::figure::{DryingChart, DryingPoint, drying as chart};
use lees_report::terminal;

use super::checks::checks;
use crate::args::{CheckFormat, DryingArgs};
use crate::batch::drying_times;
use crate::failure::{Ending, Failure};
use crate::place::place;
use crate::request::job::job;
use crate::{out, picture, screen};

/// Dots per inch of a PNG.
const DPI: f64 = 300.0;

/// Follows the content over a drying series.
pub(crate) fn drying(args: &DryingArgs) -> Result<Ending, Failure> {
    let form = args.output.as_deref().map(picture::form).transpose()?;
    let output = args.output.as_deref().map(place).transpose()?;
    let (files, hours) = times(args)?;
    if let Some((file, wrong)) = files.iter().zip(&hours).find(|(_, h)| !(h.is_finite() && **h >= 0.0)) {
        return Err(Failure::usage(format!(
            "{}: a drying time of {wrong} h; allowed: hours from 0",
            file.display()
        )));
    }
    if let Some(twice) = files.iter().enumerate().find(|(k, file)| files[..*k].contains(file)) {
        return Err(Failure::usage(format!(
            "{} is given twice; allowed is each spectrum once",
            twice.1.display()
        )));
    }
    let job = job(&args.sample)?;
    if job.product.is_none() {
        return Err(Failure::usage(
            "a drying series needs the product described (--product), for contents in wt%",
        ));
    }
    let checks = checks(&job, &files)?;
    let timed = timed(&files, &hours, &checks.done)?;
    let of = args
        .of
        .as_deref()
        .map(|name| job.tables.require_compound(name))
        .transpose()
        .map_err(Failure::usage)?;
    let found = series(&timed, of.map(|compound| compound.name.as_str())).map_err(Failure::usage)?;
    if let (Some(output), Some(form)) = (&output, form) {
        let svg = chart(&figure(&found)).map_err(Failure::input)?;
        picture::write(svg, form, DPI, output)?;
    }
    out::print(&match args.format {
        CheckFormat::Json => serde_json::to_string(&found).map_err(Failure::input)? + "\n",
        CheckFormat::Text => terminal::drying(&story(&found), &screen::style(args.color)),
    })?;
    Ok(checks.ending)
}

/// Files and their hours, from the sheet, the flag or the file names.
fn times(args: &DryingArgs) -> Result<(Vec<PathBuf>, Vec<f64>), Failure> {
    if let Some(sheet) = &args.sheet {
        return drying_times(sheet);
    }
    if args.times.is_empty() {
        let hours = args.files.iter().map(|file| {
            let name = file.display().to_string();
            hours_in_name(&name).ok_or_else(|| {
                Failure::usage(format!("{name}: the name tells no drying time; give --times or --sheet"))
            })
        });
        return Ok((args.files.clone(), hours.collect::<Result<_, _>>()?));
    }
    if args.times.len() != args.files.len() {
        let (times, files) = (args.times.len(), args.files.len());
        return Err(Failure::usage(format!(
            "--times holds {times} and there are {files} files; give one for each, in their order: --times 0,2,6"
        )));
    }
    Ok((args.files.clone(), args.times.clone()))
}

/// Each result with its hours; a file that failed was said and is left out.
fn timed<'a>(
    files: &[PathBuf],
    hours: &[f64],
    checks: &'a [Check],
) -> Result<Vec<(f64, &'a Check)>, Failure> {
    let each = checks.iter().map(|check| {
        let at = files.iter().position(|file| file.display().to_string() == check.input.path);
        let at =
            at.ok_or_else(|| Failure::usage(format!("{}: one spectrum a file, please", check.input.path)))?;
        Ok((hours[at], check))
    });
    each.collect()
}

fn story(series: &Series) -> terminal::DryingStory {
    let forecast = series.drying.forecast.as_ref();
    terminal::DryingStory {
        of: series.of.clone(),
        rows: series.members.iter().map(|m| (m.hours, m.path.clone(), m.wt_percent)).collect(),
        law: series.drying.laws.first().map(|law| (law.curve.law().words().to_owned(), law.weight)),
        sentence: forecast.map_or_else(
            || "No limit was given, so no time to it can be said.".to_owned(),
            |forecast| forecast.sentence.clone(),
        ),
        warnings: series.drying.warnings.clone(),
    }
}

fn figure(series: &Series) -> DryingChart {
    let members = series.members.iter().map(|m| DryingPoint {
        hours: m.hours,
        wt_percent: m.wt_percent.value,
        low: m.wt_percent.low,
        high: m.wt_percent.high,
    });
    let curve = series.drying.curve.iter().map(|p| DryingPoint {
        hours: p.hours,
        wt_percent: p.wt_percent,
        low: p.low,
        high: p.high,
    });
    DryingChart {
        title: series.of.clone(),
        points: members.collect(),
        curve: curve.collect(),
        limit: series.limit_wt_percent,
        reached: series.drying.forecast.as_ref().and_then(|forecast| forecast.hours),
    }
}
