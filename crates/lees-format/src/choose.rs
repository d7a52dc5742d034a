//! Which blocks of a document are worth checking.

use lees_core::Measurement;

use crate::document::{Block, Document};
use crate::error::{ErrorKind, FormatError};
use crate::jcamp::kind::Kind;

/// A measurement chosen from a document.
#[derive(Debug, Clone, PartialEq)]
pub struct Chosen {
    /// Where it comes from, such as `batch.zip/a.jdx, block 2 (crude)`.
    pub label: String,
    /// Index into the document's blocks.
    pub block: usize,
    /// The measurement.
    pub measurement: Measurement,
    /// Warnings of its block, and what had to be assumed.
    pub warnings: Vec<String>,
}

/// What to do when a file holds an FID and the spectrum made of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Prefer {
    /// The spectrum: the chemist phased and referenced it, and will compare with it.
    #[default]
    Spectrum,
    /// The FID.
    Fid,
    /// Both.
    Both,
}

impl Document {
    /// All 1D proton spectra and FIDs (nucleus 1H or not named) as measurements, in file order.
    ///
    /// An FID and a spectrum count as the same experiment when they come from the same file, at the same field
    /// and with the same title; then `prefer` decides.
    ///
    /// # Errors
    /// When there is none: the message says what is there instead. When a proton spectrum is there but cannot
    /// be placed on a shift axis.
    ///
    /// ```
    /// use lees_format::Prefer;
    /// let text = "# frequency = 400 MHz\n9.0\t1\n8.5\t1\n8.0\t2\n7.5\t1\n7.0\t1\n";
    /// let document = lees_format::read(text.as_bytes(), "a.txt", &Default::default())?;
    /// let chosen = document.measurements(Prefer::Spectrum)?;
    /// assert_eq!(chosen.len(), 1);
    /// assert!(chosen[0].warnings.iter().any(|said| said == "the nucleus is not named; 1H was assumed"));
    /// # Ok::<(), lees_format::FormatError>(())
    /// ```
    pub fn measurements(&self, prefer: Prefer) -> Result<Vec<Chosen>, FormatError> {
        let wanted: Vec<usize> = (0..self.blocks.len()).filter(|&at| self.is_wanted(at, prefer)).collect();
        let chosen: Result<Vec<Chosen>, FormatError> = wanted.into_iter().map(|at| self.choose(at)).collect();
        match chosen {
            Ok(list) if list.is_empty() => Err(self.nothing_to_check()),
            other => other,
        }
    }

    fn choose(&self, at: usize) -> Result<Chosen, FormatError> {
        let block = &self.blocks[at];
        let mut warnings = block.warnings.clone();
        warnings.extend(block.assumptions());
        Ok(Chosen { label: block.label(), block: at, measurement: block.measurement()?, warnings })
    }

    fn is_wanted(&self, at: usize, prefer: Prefer) -> bool {
        let block = &self.blocks[at];
        let other = match (prefer, block.kind) {
            _ if !is_proton(block) => return false,
            (Prefer::Spectrum, Kind::Fid) => Kind::Spectrum,
            (Prefer::Fid, Kind::Spectrum) => Kind::Fid,
            _ => return true,
        };
        !self.blocks.iter().any(|twin| twin.kind == other && is_proton(twin) && same_experiment(twin, block))
    }

    fn nothing_to_check(&self) -> FormatError {
        let inner = self.blocks.iter().filter(|block| block.kind != Kind::Link);
        let first = inner.clone().next().or(self.blocks.first());
        let read = match first.map(|block| block.measurement()) {
            Some(Err(error)) => return error.in_file(&self.name),
            _ => "no spectrum".to_owned(),
        };
        FormatError::new(ErrorKind::Refused, read, "one-dimensional 1H NMR spectra and FIDs")
            .in_file(&self.name)
    }
}

fn is_proton(block: &Block) -> bool {
    use lees_core::Nucleus;
    block.kind.is_measurable() && !matches!(block.nucleus, Some(Nucleus::Other(_)))
}

fn same_experiment(a: &Block, b: &Block) -> bool {
    a.source == b.source && a.title == b.title && a.field == b.field
}
