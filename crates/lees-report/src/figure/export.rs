//! The same picture as PNG and PDF.

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree};

use super::ordered::ordered;
use super::{Svg, font};
use crate::ReportError;

/// Pixels an inch that SVG lengths are counted in (CSS).
const CSS_DPI: f64 = 96.0;
/// Lowest and highest resolution.
const RESOLUTIONS: std::ops::RangeInclusive<f64> = 36.0..=1200.0;

/// The picture read by the renderer, with the bundled typeface and no other.
pub(crate) fn tree(svg: &str, format: &'static str) -> Result<Tree, ReportError> {
    let mut options = Options { font_family: font::FAMILY.to_owned(), ..Options::default() };
    let fonts = options.fontdb_mut();
    fonts.load_font_data(font::REGULAR.to_vec());
    fonts.load_font_data(font::BOLD.to_vec());
    fonts.set_sans_serif_family(font::FAMILY);
    Tree::from_str(svg, &options).map_err(|error| ReportError::Export { format, why: error.to_string() })
}

/// PNG bytes at a resolution in dots an inch, on white paper.
///
/// # Errors
/// [`ReportError::Option`] for a resolution outside 36 to 1200, [`ReportError::Export`] when the renderer refuses.
///
/// ```
/// use lees_report::figure::{FigureOptions, draw, png};
/// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/checked_dye.rs")); }
/// # use made::*;
/// let check = checked_dye(); // a dye with 1.4 wt% 2-propanol
/// let svg = draw(&[&check], &FigureOptions::default())?;
/// assert!(png(&svg, 72.0)?.starts_with(b"\x89PNG"));
/// assert!(png(&svg, 9600.0).is_err(), "more than any printer needs");
/// # Ok::<(), lees_report::ReportError>(())
/// ```
pub fn png(svg: &Svg, dpi: f64) -> Result<Vec<u8>, ReportError> {
    if !RESOLUTIONS.contains(&dpi) {
        let read = format!("{dpi} dpi");
        return Err(ReportError::Option { what: "the resolution", read, allowed: "36 to 1200 dpi" });
    }
    let failed = |why: &str| ReportError::Export { format: "PNG", why: why.to_owned() };
    let tree = tree(svg.as_str(), "PNG")?;
    let scale = (dpi / CSS_DPI) as f32;
    let size = tree.size().to_int_size().scale_by(scale).ok_or_else(|| failed("no size"))?;
    let mut pixmap = Pixmap::new(size.width(), size.height()).ok_or_else(|| failed("too large"))?;
    pixmap.fill(resvg::tiny_skia::Color::WHITE);
    resvg::render(&tree, Transform::from_scale(scale, scale), &mut pixmap.as_mut());
    pixmap.encode_png().map_err(|error| failed(&error.to_string()))
}

/// PDF bytes, one page of the picture's own size, fonts embedded.
///
/// # Errors
/// [`ReportError::Export`] when the converter refuses.
///
/// ```
/// use lees_report::figure::{FigureOptions, draw, pdf};
/// # mod made { include!(concat!(env!("CARGO_MANIFEST_DIR"), "/doc/checked_dye.rs")); }
/// # use made::*;
/// let check = checked_dye(); // a dye with 1.4 wt% 2-propanol
/// assert!(pdf(&draw(&[&check], &FigureOptions::default())?)?.starts_with(b"%PDF"));
/// # Ok::<(), lees_report::ReportError>(())
/// ```
pub fn pdf(svg: &Svg) -> Result<Vec<u8>, ReportError> {
    let tree = tree(svg.as_str(), "PDF")?;
    let page = svg2pdf::PageOptions { dpi: CSS_DPI as f32 };
    svg2pdf::to_pdf(&tree, svg2pdf::ConversionOptions::default(), page)
        .map(ordered)
        .map_err(|error| ReportError::Export { format: "PDF", why: error.to_string() })
}
