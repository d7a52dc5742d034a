//! The bundled typeface: a Latin and Greek subset of Fira Sans (SIL Open Font Licence 1.1), renamed.

use base64::Engine as _;
use ttf_parser::Face;

use crate::ReportError;

/// The family's name in every picture.
pub(crate) const FAMILY: &str = "Lees Sans";
/// With fallbacks, for programs that don't read embedded fonts.
pub(crate) const STACK: &str = "Lees Sans, Fira Sans, Helvetica, Arial, sans-serif";

pub(crate) const REGULAR: &[u8] = include_bytes!("../../assets/lees-sans-regular.ttf");
pub(crate) const BOLD: &[u8] = include_bytes!("../../assets/lees-sans-bold.ttf");
const REGULAR_WEB: &[u8] = include_bytes!("../../assets/lees-sans-regular.woff2");
const BOLD_WEB: &[u8] = include_bytes!("../../assets/lees-sans-bold.woff2");

/// Style rules that embed both weights.
pub(crate) fn css() -> String {
    let rule = |weight: &str, bytes: &[u8]| {
        let data = base64::engine::general_purpose::STANDARD.encode(bytes);
        format!(
            "@font-face{{font-family:\"{FAMILY}\";font-weight:{weight};\
             src:url(data:font/woff2;base64,{data}) format(\"woff2\")}}"
        )
    };
    rule("400", REGULAR_WEB) + &rule("700", BOLD_WEB)
}

/// Measures text in both weights.
pub(crate) struct Ruler {
    regular: Face<'static>,
    bold: Face<'static>,
}

impl Ruler {
    pub(crate) fn new() -> Result<Self, ReportError> {
        let face = |bytes| Face::parse(bytes, 0).map_err(|error| ReportError::Font(error.to_string()));
        Ok(Self { regular: face(REGULAR)?, bold: face(BOLD)? })
    }

    /// The advance width of a text at a font size, in the unit of the size.
    pub(crate) fn width(&self, text: &str, size: f64, bold: bool) -> f64 {
        let face = if bold { &self.bold } else { &self.regular };
        let em = f64::from(face.units_per_em());
        text.chars().map(|c| f64::from(advance(face, c)) / em * size).sum()
    }
}

/// A character the font lacks is drawn by a fallback; an em is the widest it gets.
fn advance(face: &Face<'_>, c: char) -> u16 {
    face.glyph_index(c).and_then(|id| face.glyph_hor_advance(id)).unwrap_or(face.units_per_em())
}
