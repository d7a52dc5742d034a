//! The group delay of a digital receiver filter.
//!
//! Newer files state it. Older ones give a decimation factor and a filter version; the delays for those were
//! published by W. M. Westler and F. Abildgaard (1996, technical note on digital filters and off-line
//! processing). The values below are from memory of that table, for the versions 10 to 12.

use crate::document::Block;

const DECIMATIONS: [u32; 21] =
    [2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64, 96, 128, 192, 256, 384, 512, 768, 1024, 1536, 2048];

const VERSION_10: [f64; 21] = [
    44.75,
    33.5,
    66.625,
    59.083_333,
    68.5625,
    60.375,
    69.531_25,
    61.020_833,
    70.015_625,
    61.343_75,
    70.257_812_5,
    61.505_208,
    70.378_906,
    61.585_937_5,
    70.439_453,
    61.626_302,
    70.469_727,
    61.646_484,
    70.484_863,
    61.656_576,
    70.492_432,
];

const VERSION_11: [f64; 21] = [
    46.0, 36.5, 48.0, 50.166_667, 53.25, 69.5, 72.25, 70.166_667, 72.75, 70.5, 73.0, 70.666_667, 72.5,
    71.333_333, 72.25, 71.666_667, 72.125, 71.833_333, 72.062_5, 71.916_667, 72.031_25,
];

/// Known up to a decimation of 128.
const VERSION_12: [f64; 13] =
    [46.311, 36.53, 47.87, 50.229, 53.289, 69.551, 71.6, 70.184, 72.138, 70.528, 72.348, 70.7, 72.524];

impl Block {
    /// The group delay of an FID in points, or `None` when the file does not say enough.
    #[must_use]
    pub(crate) fn group_delay(&self) -> Option<f64> {
        match self.number("$GRPDLY") {
            Some(stated) if stated > 0.0 => Some(stated),
            _ => tabulated(self.number("$DECIM")?, self.number("$DSPFVS")?),
        }
    }
}

fn tabulated(decimation: f64, version: f64) -> Option<f64> {
    let at = DECIMATIONS.iter().position(|d| f64::from(*d) == decimation)?;
    let delays: &[f64] = match version as u32 {
        10 => &VERSION_10,
        11 => &VERSION_11,
        12 => &VERSION_12,
        _ => return None,
    };
    delays.get(at).copied()
}

#[cfg(test)]
mod tests {
    use super::tabulated;

    #[test]
    fn only_known_pairs_have_a_delay() {
        assert_eq!(tabulated(24.0, 10.0), Some(61.020_833));
        assert_eq!(tabulated(16.0, 12.0), Some(71.6));
        assert_eq!(tabulated(256.0, 12.0), None);
        assert_eq!(tabulated(24.0, 20.0), None);
        assert_eq!(tabulated(4106.67, 10.0), None);
    }
}
