//! The whole request for commands that check.

use std::borrow::Cow;
use std::path::{Path, PathBuf};

use lees::{Job, Settings};
use lees_core::LimitSet;
use lees_match::Beside;
use lees_match::blank::Blank;
use lees_match::limits::Limits;
use lees_match::table::Tables;

use super::{product::product, reading, text_file, weighed};
use crate::args::{JudgeArgs, ProductArgs, ReadingArgs, SampleArgs, WeighedArgs};
use crate::failure::Failure;

/// Builds the job from flags and the files they name.
pub(crate) fn job(sample: &SampleArgs) -> Result<Job, Failure> {
    weighed_job(&sample.product, &sample.judge, &WeighedArgs::default(), &sample.reading)
}

/// The same with what was weighed.
pub(crate) fn weighed_job(
    product_args: &ProductArgs,
    judge: &JudgeArgs,
    weighed: &WeighedArgs,
    read: &ReadingArgs,
) -> Result<Job, Failure> {
    let mut tables = tables(&judge.table)?;
    let standard = weighed::standard_name(weighed, &mut tables)?;
    let settings = settings(judge, read, &tables)?;
    let standard = weighed::standard(weighed, standard, &settings.matching.weighed)?;
    let mut job = Job {
        product: product(product_args, judge)?,
        settings,
        tables,
        read: reading::options(read)?,
        beside: Beside { standard, blank: None },
        crude: weighed::crude(weighed)?,
        ..Job::default()
    };
    judge_by(&job)?;
    if let Some(path) = &judge.blank {
        job.beside.blank = Some(blank(&job, path)?);
    }
    Ok(job)
}

/// Refuses limits for unknown names here, once, instead of at every spectrum.
fn judge_by(job: &Job) -> Result<(), Failure> {
    let none = LimitSet::default();
    let own = job.product.as_ref().map_or(&none, |product| &product.limits);
    Limits::resolve(own, job.settings.matching.limits.as_deref(), &job.tables)
        .map(drop)
        .map_err(|fault| Failure::usage(format!("limits: {fault}")))
}

/// The NMR solvent alone, measured as the samples will be.
fn blank(job: &Job, path: &Path) -> Result<Blank, Failure> {
    let name = path.display().to_string();
    let bytes = std::fs::read(path)
        .map_err(|fault| Failure::usage(format!("--blank {name}: cannot read: {fault}")))?;
    job.measure_blank(&bytes, &name).map_err(|fault| Failure::usage(format!("--blank: {fault}")))
}

/// The bundled tables with the chemist's own rows.
pub(crate) fn tables(files: &[PathBuf]) -> Result<Cow<'static, Tables>, Failure> {
    let mut tables = Cow::Borrowed(Tables::bundled());
    for path in files {
        let name = path.display().to_string();
        tables = Cow::Owned(tables.with_rows(&text_file(path)?, &name).map_err(Failure::usage)?);
    }
    Ok(tables)
}

fn settings(judge: &JudgeArgs, read: &ReadingArgs, tables: &Tables) -> Result<Settings, Failure> {
    let mut settings = match &judge.settings {
        Some(path) => {
            Settings::from_toml(&text_file(path)?, &path.display().to_string()).map_err(Failure::usage)?
        }
        None => Settings::default(),
    };
    for assignment in &judge.set {
        settings.change(assignment).map_err(|fault| Failure::usage(format!("--set: {fault}")))?;
    }
    names_are_known(&settings, tables)?;
    if let Some(name) = &judge.limits {
        settings.matching.limits = Some(name.clone());
    }
    for text in &judge.t1 {
        match t1(text, tables)? {
            (None, seconds) => settings.matching.product_t1_s = Some(seconds),
            (Some(name), seconds) => {
                settings.matching.t1_s.insert(name, seconds);
            }
        }
    }
    if let Some(name) = &read.solvent {
        let solvent = tables
            .require_nmr_solvent(name)
            .map_err(|fault| Failure::usage(format!("--solvent: {fault}")))?;
        settings.matching.solvent = Some(solvent.name.clone());
    }
    Ok(settings)
}

/// Refuses unknown names among the settings here, once, instead of at every spectrum.
fn names_are_known(settings: &Settings, tables: &Tables) -> Result<(), Failure> {
    let matching = &settings.matching;
    let compound = |name: &String| tables.require_compound(name).map(drop);
    let t1 = |name: &String| if tables.standard(name).is_some() { Ok(()) } else { compound(name) };
    let checked = [
        ("exclude", matching.exclude.iter().try_for_each(compound)),
        ("used", matching.used.iter().try_for_each(compound)),
        ("t1_s", matching.t1_s.keys().try_for_each(t1)),
        ("solvent", matching.solvent.iter().try_for_each(|name| tables.require_nmr_solvent(name).map(drop))),
    ];
    for (setting, result) in checked {
        result.map_err(|fault| Failure::usage(format!("setting `match.{setting}`: {fault}")))?;
    }
    Ok(())
}

/// A compound's name, or none for the product, and its T1 in seconds.
fn t1(text: &str, tables: &Tables) -> Result<(Option<String>, f64), Failure> {
    let fault = || Failure::usage(format!("--t1 {text}: write NAME=SECONDS, such as dichloromethane=7.5"));
    let (name, seconds) = text.rsplit_once('=').ok_or_else(fault)?;
    let seconds = seconds.trim().trim_end_matches('s').trim().parse::<f64>().ok();
    let seconds = seconds.filter(|t| t.is_finite() && *t > 0.0).ok_or_else(fault)?;
    if name.trim() == "product" {
        return Ok((None, seconds));
    }
    if let Some(standard) = tables.standard(name.trim()) {
        return Ok((Some(standard.name.clone()), seconds));
    }
    let compound =
        tables.require_compound(name.trim()).map_err(|fault| Failure::usage(format!("--t1: {fault}")))?;
    Ok((Some(compound.name.clone()), seconds))
}
