//! How much of an input is read before it is refused.

/// Upper bounds for hostile or mistaken inputs. Every field may be raised by the caller.
///
/// Memory needed is of the order of the input plus eight bytes for each point really present: nothing is
/// reserved because a file merely claims a size.
///
/// ```
/// let limits = lees_format::Limits { points: 1 << 24, ..Default::default() };
/// assert!(limits.points > lees_format::Limits::default().points);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Bytes of an input as given. 256 MiB: a hundred times the largest 1D export seen.
    pub input_bytes: usize,
    /// Bytes of one member after unpacking. 64 MiB.
    pub unpacked_bytes: usize,
    /// Unpacked bytes allowed for each packed byte once [`Limits::unpacked_free`] is used up. Real spectra
    /// shrink by 2 to 20; bombs by 1000.
    pub unpack_ratio: usize,
    /// Unpacked bytes allowed whatever the ratio. 4 MiB.
    pub unpacked_free: usize,
    /// Members read from one archive.
    pub members: usize,
    /// Archives inside archives.
    pub archive_depth: usize,
    /// Points of one table. 4 Mi: sixteen times a large 1D spectrum.
    pub points: usize,
    /// Points of all tables of one input. 8 Mi.
    pub total_points: usize,
    /// Bytes of one line. 16 MiB: a whole table on one line still fits.
    pub line_bytes: usize,
    /// Blocks of one input.
    pub blocks: usize,
    /// Blocks within blocks.
    pub block_depth: usize,
    /// Labelled records of one input.
    pub records: usize,
    /// Bytes of a record's value that are kept as metadata; the rest is cut.
    pub value_bytes: usize,
    /// Warnings kept; further ones are only counted.
    pub warnings: usize,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            input_bytes: 256 << 20,
            unpacked_bytes: 64 << 20,
            unpack_ratio: 100,
            unpacked_free: 4 << 20,
            members: 1000,
            archive_depth: 2,
            points: 4 << 20,
            total_points: 8 << 20,
            line_bytes: 16 << 20,
            blocks: 4096,
            block_depth: 16,
            records: 200_000,
            value_bytes: 4096,
            warnings: 50,
        }
    }
}

impl Limits {
    /// The same limits, each size and count `factor` times as large; depths stay.
    ///
    /// ```
    /// let usual = lees_format::Limits::default();
    /// assert_eq!(usual.raised(4).points, 4 * usual.points);
    /// ```
    #[must_use]
    pub fn raised(self, factor: usize) -> Self {
        let times = |bound: usize| bound.saturating_mul(factor);
        Self {
            input_bytes: times(self.input_bytes),
            unpacked_bytes: times(self.unpacked_bytes),
            unpack_ratio: times(self.unpack_ratio),
            unpacked_free: times(self.unpacked_free),
            members: times(self.members),
            points: times(self.points),
            total_points: times(self.total_points),
            line_bytes: times(self.line_bytes),
            blocks: times(self.blocks),
            records: times(self.records),
            value_bytes: times(self.value_bytes),
            ..self
        }
    }
}
