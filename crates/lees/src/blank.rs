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
    /// ```
    /// use lees_spin::simulate::{Recipe, simulate};
    /// let only = Recipe { product: None, volatile: Vec::new(), ..Recipe::wet_dye() };
    /// let made = lees_core::Measurement::Spectrum(simulate(&only).expect("a sound recipe").spectrum);
    /// let bytes = lees_format::write::jcamp(&made, &Default::default()).bytes;
    /// let mut job = lees::Job::default();
    /// job.beside.blank = Some(job.measure_blank(&bytes, "blank.jdx")?);
    /// let blank = job.beside.blank.expect("measured");
    /// assert_eq!((blank.residual.as_str(), blank.ratios[0].name.as_str()), ("CHCl3 in CDCl3", "water"));
    /// # Ok::<(), lees::Error>(())
    /// ```
    pub fn measure_blank(&self, bytes: &[u8], name: &str) -> Result<Blank, Error> {
        let usage = |fault: &dyn std::fmt::Display| Error::Usage(format!("blank {name}: {fault}"));
        // These name the file themselves.
        let named = |fault: &dyn std::fmt::Display| Error::Usage(format!("blank {fault}"));
        let document = lees_format::read(bytes, name, &self.read).map_err(|fault| named(&fault))?;
        let chosen = document.measurements(self.prefer).map_err(|fault| named(&fault))?;
        let [only] = chosen.as_slice() else {
            return Err(usage(&format!("holds {} spectra; a blank is one", chosen.len())));
        };
        let processed = process(&only.measurement, &self.settings.process, &mut Workspace::new())
            .map_err(|fault| usage(&fault))?;
        let (tables, settings) = (&self.tables, &self.settings.matching);
        let explained = explain_beside(&processed, None, tables, settings, &Beside::default())
            .map_err(|fault| usage(&fault))?;
        let tube_to_tube = settings.weighed.tube_to_tube_percent / 100.0;
        Blank::of(&explained, name, &sha256(bytes), tube_to_tube).map_err(|fault| named(&fault))
    }
}
