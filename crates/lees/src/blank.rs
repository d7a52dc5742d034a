//! The spectrum of the NMR solvent alone.

use lees_match::blank::Blank;
use lees_match::{Beside, explain_beside};
use lees_process::{Workspace, process};

use crate::{Error, Job, sha256};

impl Job {
    /// Measures a blank, the NMR solvent alone, by the settings and tables of this job; put it into [`Job::beside`].
    ///
    /// # Errors
    /// When it cannot be read, holds no proton spectrum, shows no residual line of its NMR solvent or much besides.
    ///
    /// ```no_run
    /// # fn main() -> Result<(), Box<dyn std::error::Error>> {
    /// let mut job = lees::Job::default();
    /// job.beside.blank = Some(job.measure_blank(&std::fs::read("blank.jdx")?, "blank.jdx")?);
    /// # Ok(())
    /// # }
    /// ```
    pub fn measure_blank(&self, bytes: &[u8], name: &str) -> Result<Blank, Error> {
        let usage = |fault: &dyn std::fmt::Display| Error::Usage(format!("blank {name}: {fault}"));
        let document = lees_format::read(bytes, name, &self.read).map_err(|fault| usage(&fault))?;
        let chosen = document.measurements(self.prefer).map_err(|fault| usage(&fault))?;
        let [only] = chosen.as_slice() else {
            return Err(usage(&format!("holds {} spectra; a blank is one", chosen.len())));
        };
        let processed = process(&only.measurement, &self.settings.process, &mut Workspace::new())
            .map_err(|fault| usage(&fault))?;
        let (tables, settings) = (&self.tables, &self.settings.matching);
        let explained = explain_beside(&processed, None, tables, settings, &Beside::default())
            .map_err(|fault| usage(&fault))?;
        let tube_to_tube = settings.weighed.tube_to_tube_percent / 100.0;
        Blank::of(&explained, name, &sha256(bytes), tube_to_tube).map_err(|fault| usage(&fault))
    }
}
