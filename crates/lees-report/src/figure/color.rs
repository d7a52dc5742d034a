//! Colours after Okabe and Ito (Color Universal Design, 2008), darkened where text needs contrast. Each differs from
//! the next in lightness, so that a grey print tells them apart, and each comes with its own sign.

use plotters::style::RGBColor;

/// Trace and text.
pub(super) const INK: RGBColor = RGBColor(0x1c, 0x1f, 0x24);
/// The product's numbers.
pub(super) const BLUE: RGBColor = RGBColor(0x00, 0x5f, 0x98);
/// Volatiles.
pub(super) const VERMILION: RGBColor = RGBColor(0xc4, 0x4f, 0x00);
/// Unexplained signals.
pub(super) const PURPLE: RGBColor = RGBColor(0x9c, 0x3f, 0x7c);
/// What is not counted, and minor marks.
pub(super) const GREY: RGBColor = RGBColor(0x6a, 0x70, 0x78);
/// Integral curves.
pub(super) const GREEN: RGBColor = RGBColor(0x00, 0x7a, 0x5a);

/// Paper.
pub(super) const PAPER: RGBColor = RGBColor(0xff, 0xff, 0xff);

/// Traces laid over each other, each lighter than the last.
pub(super) const TRACES: [RGBColor; 5] = [
    INK,
    RGBColor(0x00, 0x72, 0xb2),
    RGBColor(0xd5, 0x5e, 0x00),
    RGBColor(0xcc, 0x79, 0xa7),
    RGBColor(0xe6, 0x9f, 0x00),
];

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance after WCAG 2.2 (W3C 2023).
    fn luminance(RGBColor(r, g, b): RGBColor) -> f64 {
        let linear = |c: u8| {
            let c = f64::from(c) / 255.0;
            if c <= 0.04045 { c / 12.92 } else { libm::pow((c + 0.055) / 1.055, 2.4) }
        };
        0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b)
    }

    fn contrast(a: RGBColor, b: RGBColor) -> f64 {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn signs_and_numbers_stand_out_from_paper() {
        for color in [INK, BLUE, VERMILION, PURPLE, GREY, GREEN] {
            assert!(contrast(color, PAPER) >= 4.5, "{color:?}");
        }
    }

    #[test]
    fn a_grey_print_tells_traces_apart() {
        for pair in TRACES.windows(2) {
            assert!(luminance(pair[1]) > luminance(pair[0]));
            assert!(contrast(pair[0], pair[1]) > 1.25, "{pair:?}");
        }
    }
}
