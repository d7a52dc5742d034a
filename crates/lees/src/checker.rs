//! The whole story, on one screen.

use lees_core::check::{Check, Provenance};
use lees_format::Chosen;
use lees_process::{Workspace, process};

use crate::{Error, Job, provenance, sha256};

/// Checks spectra one after another, with transform plans and scratch memory kept between them.
///
/// The same bytes and job give the same result, whatever was checked before.
pub struct Checker<'a> {
    job: &'a Job,
    workspace: Workspace,
    provenance: Provenance,
}

impl<'a> Checker<'a> {
    /// A checker for one job.
    ///
    /// # Errors
    /// When the job contradicts itself.
    pub fn new(job: &'a Job) -> Result<Self, Error> {
        Ok(Self { job, workspace: Workspace::new(), provenance: provenance::of(job)? })
    }

    /// Checks every proton spectrum or FID in the bytes of one file. `name` is used in messages and results.
    ///
    /// # Errors
    /// When the file cannot be read or holds nothing to check. A spectrum that cannot be processed or matched
    /// fails alone, in its place.
    pub fn check(&mut self, bytes: &[u8], name: &str) -> Result<Vec<Result<Check, Error>>, Error> {
        let document = lees_format::read(bytes, name, &self.job.read)?;
        let chosen = document.measurements(self.job.prefer)?;
        let digest = sha256(bytes);
        let several = chosen.len() > 1;
        let each = chosen.into_iter().enumerate().map(|(at, chosen)| {
            let path = if several { format!("{name}#{}", at + 1) } else { name.to_owned() };
            let mut check = self.one(&chosen, &path)?;
            check.input.path = path;
            check.input.sha256.clone_from(&digest);
            let mut warnings = document.warnings.clone();
            warnings.extend(chosen.warnings);
            warnings.append(&mut check.warnings);
            check.warnings = warnings;
            Ok(check)
        });
        Ok(each.collect())
    }

    fn one(&mut self, chosen: &Chosen, path: &str) -> Result<Check, Error> {
        let job = self.job;
        let processed = process(&chosen.measurement, &job.settings.process, &mut self.workspace)
            .map_err(|source| Error::Process { name: path.to_owned(), source })?;
        let mut check =
            lees_match::identify(&processed, job.product.as_ref(), &job.tables, &job.settings.matching)
                .map_err(|source| Error::Match { name: path.to_owned(), source })?;
        check.settings = job.settings.listing();
        check.provenance = self.provenance.clone();
        Ok(check)
    }
}
