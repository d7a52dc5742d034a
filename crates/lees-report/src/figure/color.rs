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

/// Traces laid over each other, darkest first.
pub(super) const TRACES: [RGBColor; 6] = [
    INK,
    VERMILION,
    RGBColor(0x00, 0x72, 0xb2),
    RGBColor(0xcc, 0x79, 0xa7),
    RGBColor(0x00, 0x9e, 0x73),
    RGBColor(0xe6, 0x9f, 0x00),
];
