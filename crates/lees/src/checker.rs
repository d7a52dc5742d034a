//! The whole story, on one screen.

use std::borrow::Cow;
use std::collections::BTreeMap;

use lees_core::check::{Check, Provenance};
use lees_format::{Chosen, Document};
use lees_match::blank::itemise;
use lees_match::{Beside, explain_beside};
use lees_process::{Processed, Workspace, process};

use crate::{Error, Job, sha256, unlisted, weighed};

/// Checks spectra one after another, with transform plans and scratch memory kept between them.
///
/// The same bytes and job give the same result, whatever was checked before.
pub struct Checker<'a> {
    job: &'a Job,
    workspace: Workspace,
    provenance: Provenance,
}

/// A result with the processed spectrum it rests on.
#[derive(Debug, Clone)]
pub struct Traced {
    /// The result.
    pub check: Check,
    /// Baseline, noise, lines and model, before the shift axis was set.
    pub processed: Processed,
}

impl<'a> Checker<'a> {
    /// A checker for one job.
    ///
    /// # Errors
    /// When the job contradicts itself.
    ///
    /// ```
    /// use lees::{Checker, Error, Job};
    /// assert!(Checker::new(&Job::default()).is_ok(), "volatiles without a product");
    /// let yield_of_nothing = Job { crude: Some(lees::Crude { mass_g: 1.2, theoretical_g: None }), ..Job::default() };
    /// assert!(matches!(Checker::new(&yield_of_nothing), Err(Error::Usage(_))), "a yield needs a product");
    /// ```
    pub fn new(job: &'a Job) -> Result<Self, Error> {
        Ok(Self { job, workspace: Workspace::new(), provenance: job.provenance()? })
    }

    /// Checks every proton spectrum or FID in the bytes of one file. `name` is used in messages and results.
    ///
    /// # Errors
    /// When the file cannot be read or holds nothing to check. A spectrum that cannot be processed or matched
    /// fails alone, in its place.
    ///
    /// ```
    /// use lees_core::check::Verdict;
    /// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/wet_dye.rs")); }
    /// # use made::*;
    /// let (bytes, job) = (wet_dye(), dye_job()); // a JCAMP-DX file; its product, and a limit of 0.5 wt%
    /// let mut checker = lees::Checker::new(&job)?;
    /// for check in checker.check(&bytes, "wet-dye.jdx")? {
    ///     let check = check?;
    ///     assert_eq!((check.input.path.as_str(), check.verdict), ("wet-dye.jdx", Verdict::NeedsDrying));
    ///     assert_eq!(check.volatiles[0].name, "2-propanol");
    /// }
    /// # Ok::<(), lees::Error>(())
    /// ```
    pub fn check(&mut self, bytes: &[u8], name: &str) -> Result<Vec<Result<Check, Error>>, Error> {
        let traced = self.traced(bytes, name)?;
        Ok(traced.into_iter().map(|result| result.map(|traced| traced.check)).collect())
    }

    /// As [`Checker::check`], with the processed spectra, for a trace.
    ///
    /// # Errors
    /// As [`Checker::check`].
    ///
    /// ```
    /// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/wet_dye.rs")); }
    /// # use made::*;
    /// let (bytes, job) = (wet_dye(), dye_job()); // a JCAMP-DX file; its product, and a limit of 0.5 wt%
    /// let traced = lees::Checker::new(&job)?.traced(&bytes, "wet-dye.jdx")?.remove(0)?;
    /// assert_eq!(traced.processed.baseline.len(), traced.check.spectrum.real.len());
    /// # Ok::<(), lees::Error>(())
    /// ```
    pub fn traced(&mut self, bytes: &[u8], name: &str) -> Result<Vec<Result<Traced, Error>>, Error> {
        let document = lees_format::read(bytes, name, &self.job.read)?;
        let chosen = document.measurements(self.job.prefer)?;
        let digest = sha256(bytes);
        let paths = paths(&document, &chosen);
        let each = chosen.into_iter().zip(paths).map(|(chosen, path)| {
            let mut traced = self.one(&chosen, &path, &digest)?;
            let check = &mut traced.check;
            check.input.path = path;
            check.input.sha256.clone_from(&digest);
            let mut warnings = document.warnings.clone();
            let of_block = chosen.warnings.into_iter().filter(|warning| !document.warnings.contains(warning));
            warnings.extend(of_block);
            warnings.extend(self.job.product.as_ref().and_then(unlisted::warning));
            warnings.append(&mut check.warnings);
            check.warnings = warnings;
            Ok(traced)
        });
        Ok(each.collect())
    }

    fn one(&mut self, chosen: &Chosen, path: &str, digest: &str) -> Result<Traced, Error> {
        let job = self.job;
        let beside = beside(job, digest);
        let (product, settings) = (job.product.as_ref(), &job.settings);
        let processed = process(&chosen.measurement, &settings.process, &mut self.workspace)
            .map_err(|source| Error::Process { name: path.to_owned(), source: Box::new(source) })?;
        let found = explain_beside(&processed, product, &job.tables, &settings.matching, &beside)
            .map_err(|source| Error::Match { name: path.to_owned(), source: Box::new(source) })?;
        let mut check = found.check;
        match (&job.beside.blank, &beside.blank) {
            (_, Some(blank)) => {
                itemise(&mut check, blank);
                check.warnings.extend(blank.doubts.iter().cloned());
            }
            (Some(_), None) => check.warnings.push(ITSELF.to_owned()),
            (None, None) => {}
        }
        if let Some(crude) = &job.crude {
            weighed::correct_yield(&mut check, crude, &job.tables)?;
        }
        check.settings = settings.listing();
        check.provenance = self.provenance.clone();
        Ok(Traced { check, processed })
    }
}

/// The name of each spectrum: the file's, or the archive's with the member's, numbered where a file has several.
fn paths(document: &Document, chosen: &[Chosen]) -> Vec<String> {
    let sources: Vec<&str> =
        chosen.iter().map(|chosen| document.blocks[chosen.block].source.as_str()).collect();
    let mut all: BTreeMap<&str, usize> = BTreeMap::new();
    sources.iter().for_each(|source| *all.entry(source).or_default() += 1);
    let mut so_far: BTreeMap<&str, usize> = BTreeMap::new();
    let named = sources.iter().map(|source| {
        let number = so_far.entry(source).or_default();
        *number += 1;
        if all[source] > 1 { format!("{source}#{number}") } else { (*source).to_owned() }
    });
    named.collect()
}

/// Said of a blank among the samples.
const ITSELF: &str = "this is the blank itself: nothing was subtracted";

/// What lies beside a sample; the blank is not taken off itself.
fn beside<'a>(job: &'a Job, digest: &str) -> Cow<'a, Beside> {
    match &job.beside.blank {
        Some(blank) if blank.sha256 == digest => Cow::Owned(Beside { blank: None, ..job.beside.clone() }),
        _ => Cow::Borrowed(&job.beside),
    }
}
