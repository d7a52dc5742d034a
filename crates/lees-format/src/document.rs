//! What a file holds, before any of it is taken as a measurement.

use std::collections::BTreeMap;

use lees_core::{BlockSummary, Megahertz, Nucleus};

use crate::jcamp::kind::Kind;
use crate::jcamp::table::Table;
use crate::sum::exact_sum;

/// A file, or all files of an archive.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Document {
    /// The name given to the reader.
    pub name: String,
    /// Blocks in the order in which they open.
    pub blocks: Vec<Block>,
    /// Deviations that were tolerated, guesses that were made, and what was done about each.
    pub warnings: Vec<String>,
}

/// One block of a file: metadata and tables as the file has them, factors applied.
#[derive(Debug, Clone, PartialEq)]
pub struct Block {
    /// Place in the file, such as `2.1` for the first block inside the second.
    pub number: String,
    /// The file, or archive and member, it comes from.
    pub source: String,
    /// Title, fit for a terminal.
    pub title: String,
    /// DATA TYPE as written.
    pub data_type: String,
    /// What it is.
    pub kind: Kind,
    /// The nucleus; `None` when the file does not name it.
    pub nucleus: Option<Nucleus>,
    /// Observe frequency; `None` when neither the file nor the caller gives it.
    pub field: Option<Megahertz>,
    /// NMR solvent as labelled.
    pub solvent: Option<String>,
    /// Unit of the abscissa as written.
    pub x_unit: Option<String>,
    /// All tables that were read.
    pub tables: Vec<Table>,
    /// Index of the table with real ordinates.
    pub real: Option<usize>,
    /// Index of the table with imaginary ordinates.
    pub imaginary: Option<usize>,
    /// All short records by normalised label; private ones keep their `$`.
    pub labels: BTreeMap<String, String>,
    /// Deviations within this block.
    pub warnings: Vec<String>,
    /// How the layout and the axis were understood.
    pub notes: Vec<String>,
    /// Line on which it opens.
    pub line: usize,
}

/// First, last, smallest, largest and sum of ordinates; gaps are left out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OrdinateSummary {
    /// First.
    pub first: f64,
    /// Last.
    pub last: f64,
    /// Smallest.
    pub min: f64,
    /// Largest.
    pub max: f64,
    /// Exactly rounded sum.
    pub sum: f64,
}

impl OrdinateSummary {
    /// Of ordinates; `None` when there are none.
    ///
    /// ```
    /// let summary = lees_format::OrdinateSummary::of(&[1.0, f64::NAN, 5.0, 2.0]).expect("three known values");
    /// assert_eq!((summary.first, summary.last, summary.max, summary.sum), (1.0, 2.0, 5.0, 8.0));
    /// assert_eq!(lees_format::OrdinateSummary::of(&[]), None);
    /// ```
    #[must_use]
    pub fn of(ordinates: &[f64]) -> Option<Self> {
        let known: Vec<f64> = ordinates.iter().copied().filter(|y| y.is_finite()).collect();
        let (first, last) = (*known.first()?, *known.last()?);
        let min = known.iter().copied().fold(f64::INFINITY, f64::min);
        let max = known.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        Some(Self { first, last, min, max, sum: exact_sum(&known) })
    }
}

impl Block {
    /// The table with the real (or only) ordinates.
    ///
    /// ```
    /// let document = lees_format::read(b"9.0\t1\n8.5\t3\n8.0\t5\n7.5\t4\n7.0\t2\n", "a.txt", &Default::default())?;
    /// assert_eq!(document.blocks[0].real_table().expect("one table").y, [1.0, 3.0, 5.0, 4.0, 2.0]);
    /// # Ok::<(), lees_format::FormatError>(())
    /// ```
    #[must_use]
    pub fn real_table(&self) -> Option<&Table> {
        self.tables.get(self.real?)
    }

    /// The table with the imaginary ordinates.
    #[must_use]
    pub(crate) fn imaginary_table(&self) -> Option<&Table> {
        self.tables.get(self.imaginary?)
    }

    /// Number of (complex) points; `None` without a table.
    ///
    /// ```
    /// let document = lees_format::read(b"9.0\t1\n8.5\t3\n8.0\t5\n7.5\t4\n7.0\t2\n", "a.txt", &Default::default())?;
    /// assert_eq!(document.blocks[0].points(), Some(5));
    /// # Ok::<(), lees_format::FormatError>(())
    /// ```
    #[must_use]
    pub fn points(&self) -> Option<usize> {
        self.real_table().map(|table| table.y.len())
    }

    /// What `lees inspect` shows of it.
    ///
    /// ```
    /// let text = ["TITLE=a", "DATA TYPE=NMR SPECTRUM", ".OBSERVE FREQUENCY=400", "XUNITS=HZ", "FIRSTX=20",
    ///     "LASTX=0", "NPOINTS=3", "XYDATA=(X++(Y..Y))\n20 1 5 2", "END="].map(|l| format!("##{l}\n")).concat();
    /// let document = lees_format::read(text.as_bytes(), "a.jdx", &Default::default())?;
    /// let summary = document.blocks[0].summary();
    /// assert_eq!((summary.points, summary.y_sum), (Some(3), Some(8.0)));
    /// # Ok::<(), lees_format::FormatError>(())
    /// ```
    #[must_use]
    pub fn summary(&self) -> BlockSummary {
        let table = self.real_table();
        let y = table.and_then(|table| OrdinateSummary::of(&table.y));
        BlockSummary {
            title: self.title.clone(),
            data_type: self.data_type.clone(),
            kind: self.kind.name().to_owned(),
            nucleus: self.nucleus.as_ref().map(|n| n.name().to_owned()),
            field_mhz: self.field.map(Megahertz::value),
            solvent: self.solvent.clone(),
            points: self.points(),
            x_unit: self.x_unit.clone(),
            first_x: table.and_then(|table| table.stated.0.or(table.first_x())),
            last_x: table.and_then(|table| table.stated.1.or(table.last_x())),
            y_first: y.map(|y| y.first),
            y_last: y.map(|y| y.last),
            y_min: y.map(|y| y.min),
            y_max: y.map(|y| y.max),
            y_sum: y.map(|y| y.sum),
            has_imaginary: self.imaginary.is_some(),
        }
    }

    /// How to point at this block in a message: file, place in the file when it has several, title.
    #[must_use]
    pub(crate) fn label(&self) -> String {
        match self.title.as_str() {
            "" => format!("{}, block {}", self.source, self.number),
            title => format!("{}, block {} ({title})", self.source, self.number),
        }
    }
}
