//! Which job and which facts belong to which input.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use lees::batch::Source;
use lees::{Job, sha256};
use lees_core::rack::Tags;

use super::Want;
use super::sheet::{Entry, Sheet};
use crate::args::{CheckArgs, ProductArgs, SampleArgs};
use crate::failure::Failure;
use crate::request::job::{job, weighed_job};

/// The jobs of a run and the sheet that tells them apart.
pub(crate) struct Plan {
    /// The job of the command line first, then one for each product of the sheet.
    jobs: Vec<Job>,
    keys: Vec<String>,
    by_product: BTreeMap<PathBuf, usize>,
    sheet: Option<Sheet>,
    trace: Option<PathBuf>,
}

impl Plan {
    /// Builds every job before any input is read.
    pub(super) fn new(args: &CheckArgs) -> Result<Self, Failure> {
        let sheet = args.rack.sheet.as_deref().map(Sheet::read).transpose()?;
        let mut plan = Self::single(check_job(args, &args.product)?)?;
        let products =
            sheet.iter().flat_map(|sheet| &sheet.entries).filter_map(|entry| entry.product.as_ref());
        for path in products {
            if !plan.by_product.contains_key(path) {
                let product = ProductArgs { product: Some(path.clone()), ..ProductArgs::default() };
                plan.by_product.insert(path.clone(), plan.jobs.len());
                plan.add(check_job(args, &product)?)?;
            }
        }
        plan.sheet = sheet;
        plan.trace.clone_from(&args.trace);
        Ok(plan)
    }

    /// One job for every input.
    pub(crate) fn single(job: Job) -> Result<Self, Failure> {
        let mut plan = Self {
            jobs: Vec::new(),
            keys: Vec::new(),
            by_product: BTreeMap::new(),
            sheet: None,
            trace: None,
        };
        plan.add(job)?;
        Ok(plan)
    }

    /// One job from the flags every checking command shares.
    pub(crate) fn of(sample: &SampleArgs) -> Result<Self, Failure> {
        Self::single(job(sample)?)
    }

    fn add(&mut self, job: Job) -> Result<(), Failure> {
        let provenance = job.provenance().map_err(Failure::usage)?;
        self.keys.push([provenance.version, provenance.tables, provenance.settings].join(" "));
        self.jobs.push(job);
        Ok(())
    }

    /// Where the intermediates of every spectrum go.
    pub(crate) fn trace(&self) -> Option<&Path> {
        self.trace.as_deref()
    }

    pub(crate) fn jobs(&self) -> &[Job] {
        &self.jobs
    }

    /// The index of the job for a source.
    pub(crate) fn job_of(&self, source: &Source) -> usize {
        let product = self.entry(source).and_then(|entry| entry.product.as_ref());
        product.and_then(|path| self.by_product.get(path)).copied().unwrap_or(0)
    }

    /// What the sheet says of a source.
    pub(crate) fn tags(&self, source: &Source) -> Tags {
        self.entry(source).map(|entry| entry.tags.clone()).unwrap_or_default()
    }

    fn entry(&self, source: &Source) -> Option<&Entry> {
        self.sheet.as_ref()?.find(source)
    }

    /// A text that changes whenever the result for a source could.
    pub(crate) fn key(&self, source: &Source, want: Want) -> String {
        let tags = serde_json::to_string(&self.tags(source)).unwrap_or_default();
        let job = self.keys.get(self.job_of(source)).map(String::as_str).unwrap_or_default();
        sha256([job, &tags, want.word()].join("\n").as_bytes())
    }

    /// The files of the sheet, in its order.
    pub(super) fn sheet_files(&self) -> Vec<PathBuf> {
        self.sheet.iter().flat_map(|sheet| &sheet.entries).map(|entry| entry.file.clone()).collect()
    }

    /// Files of the sheet that were not among the inputs.
    pub(super) fn unused<'a>(&'a self, seen: &'a [bool]) -> impl Iterator<Item = &'a Path> {
        let entries = self.sheet.iter().flat_map(|sheet| &sheet.entries);
        entries.zip(seen).filter(|(_, seen)| !**seen).map(|(entry, _)| entry.file.as_path())
    }

    /// The sheet's row for a source.
    pub(super) fn sheet_row(&self, source: &Source) -> Option<usize> {
        self.sheet.as_ref()?.position(source)
    }

    pub(super) fn sheet_len(&self) -> usize {
        self.sheet.as_ref().map_or(0, |sheet| sheet.entries.len())
    }
}

fn check_job(args: &CheckArgs, product: &ProductArgs) -> Result<Job, Failure> {
    weighed_job(product, &args.judge, &args.weighed, &args.reading)
}
