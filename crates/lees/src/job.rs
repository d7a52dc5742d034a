//! What is asked of the library, the same for every spectrum of a run.

use std::borrow::Cow;

use lees_core::Product;
use lees_core::check::Provenance;
use lees_format::{Prefer, ReadOptions};
use lees_match::Beside;
use lees_match::table::Tables;
use serde::Serialize;

use crate::{Crude, Error, Settings, provenance, weighed};

/// A request: the product, how to judge, how to read. The default asks for volatiles without a product.
#[derive(Debug, Clone)]
pub struct Job {
    /// What the sample should be; without it amounts are mole ratios among the volatiles.
    pub product: Option<Product>,
    /// Every tunable number.
    pub settings: Settings,
    /// The reference tables, with the chemist's own rows.
    pub tables: Cow<'static, Tables>,
    /// How to read files.
    pub read: ReadOptions,
    /// What to check when a file holds a FID and the spectrum made from it.
    pub prefer: Prefer,
    /// The internal standard weighed into every sample (its absolute purity follows) and the NMR solvent alone (its
    /// water is subtracted, see [`Job::measure_blank`]).
    pub beside: Beside,
    /// The weighed mass of the whole batch, for a corrected yield.
    pub crude: Option<Crude>,
}

impl Default for Job {
    fn default() -> Self {
        Self {
            product: None,
            settings: Settings::default(),
            tables: Cow::Borrowed(Tables::bundled()),
            read: ReadOptions::default(),
            prefer: Prefer::default(),
            beside: Beside::default(),
            crude: None,
        }
    }
}

/// The part of a job that decides numbers, in a form to be hashed.
#[derive(Serialize)]
pub(crate) struct Request<'a> {
    product: Option<&'a Product>,
    settings: &'a Settings,
    beside: &'a Beside,
    crude: Option<&'a Crude>,
    read: String,
}

impl Job {
    /// Version, tables and settings that produce the results of this job: two jobs with the same provenance give the
    /// same result for the same bytes.
    ///
    /// # Errors
    /// When the job contradicts itself, or holds a number that cannot be written down.
    ///
    /// ```
    /// use lees::Job;
    /// let plain = Job::default().provenance()?;
    /// let mut job = Job::default();
    /// job.settings.change("process.baseline.period_hz=900")?;
    /// let other = job.provenance()?;
    /// assert_eq!(plain.tables, other.tables);
    /// assert_ne!(plain.settings, other.settings, "other settings, other results");
    /// # Ok::<(), lees::Error>(())
    /// ```
    pub fn provenance(&self) -> Result<Provenance, Error> {
        weighed::validate(self)?;
        if let Some(words) = self.settings.contradiction() {
            return Err(Error::Usage(words));
        }
        provenance::of(self)
    }

    pub(crate) fn request(&self) -> Request<'_> {
        Request {
            product: self.product.as_ref(),
            settings: &self.settings,
            beside: &self.beside,
            crude: self.crude.as_ref(),
            read: format!("{:?} {:?}", self.read, self.prefer),
        }
    }
}
