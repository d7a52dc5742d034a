//! A sheet of paper: groups of shapes, each drawn with plotters, in units of a hundredth of a millimetre.

use plotters::coord::Shift;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::{Svg, font};
use crate::{ReportError, clean};

/// Units in a millimetre.
pub(crate) const MM: f64 = 100.0;
/// Units in a printer's point (1/72 inch).
pub(crate) const PT: f64 = 25.4 / 72.0 * MM;
/// Plotters divides a font size by this before it writes it.
const PLOTTERS_FONT_RATIO: f64 = 1.24;
/// Where plotters puts the baseline below a text anchored at its top, in ems.
const PLOTTERS_TOP: f64 = 0.76;

/// Lengths in sheet units from millimetres.
pub(super) fn mm(length: f64) -> f64 {
    length * MM
}

/// How a text looks.
#[derive(Clone, Copy)]
pub(super) struct Look {
    pub(super) size: f64,
    pub(super) bold: bool,
    pub(super) color: RGBColor,
    pub(super) align: HPos,
    pub(super) upright: bool,
}

impl Look {
    pub(super) const fn new(size: f64, color: RGBColor) -> Self {
        Self { size, bold: false, color, align: HPos::Center, upright: false }
    }

    pub(super) const fn bold(self) -> Self {
        Self { bold: true, ..self }
    }

    pub(super) const fn align(self, align: HPos) -> Self {
        Self { align, ..self }
    }

    /// Reads from bottom to top.
    pub(super) const fn upright(self) -> Self {
        Self { upright: true, align: HPos::Left, ..self }
    }
}

pub(super) struct Sheet {
    width: u32,
    height: u32,
    body: String,
}

impl Sheet {
    pub(super) fn new(width: f64, height: f64) -> Self {
        Self { width: width.round() as u32, height: height.round() as u32, body: String::new() }
    }

    /// Adds a group with a class and further attributes, drawn by `draw`.
    pub(super) fn group(
        &mut self,
        class: &str,
        attributes: &[(&str, String)],
        draw: impl FnOnce(&Pen<'_, '_>) -> Result<(), ReportError>,
    ) -> Result<(), ReportError> {
        let mut buffer = String::new();
        {
            let area = SVGBackend::with_string(&mut buffer, (self.width, self.height)).into_drawing_area();
            draw(&Pen { area: &area })?;
            area.present().map_err(refused)?;
        }
        self.body.push_str(&format!("<g class=\"{}\"", escape(class)));
        for (name, value) in attributes {
            self.body.push_str(&format!(" {name}=\"{}\"", escape(value)));
        }
        self.body.push_str(&format!(">\n{}</g>\n", inner(&buffer)));
        Ok(())
    }

    /// The whole picture, with fonts embedded when `style` holds them.
    pub(super) fn finish(self, title: &str, style: &str) -> Svg {
        let (w, h) = (self.width, self.height);
        let (width_mm, height_mm) = (f64::from(w) / MM, f64::from(h) / MM);
        let style = if style.is_empty() { String::new() } else { format!("<style>{style}</style>\n") };
        let text = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width_mm}mm\" height=\"{height_mm}mm\" \
             viewBox=\"0 0 {w} {h}\" role=\"img\" stroke-linejoin=\"round\">\n<title>{}</title>\n{style}{}</svg>\n",
            escape(&clean(title)),
            self.body
        );
        Svg { text, width_mm, height_mm }
    }
}

/// What stands between the outer tags.
fn inner(svg: &str) -> &str {
    let start = svg.find('>').map_or(0, |at| at + 1);
    let end = svg.rfind("</svg>").unwrap_or(svg.len());
    svg.get(start..end).unwrap_or_default().trim_start()
}

/// Text for XML and HTML, in content and in quoted attributes.
pub(crate) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}

/// Draws into one group.
pub(super) struct Pen<'a, 'b> {
    area: &'a DrawingArea<SVGBackend<'b>, Shift>,
}

impl Pen<'_, '_> {
    /// An open path; `width` in units.
    pub(super) fn path(&self, points: &[(f64, f64)], width: f64, color: RGBColor) -> Result<(), ReportError> {
        let points: Vec<_> = points.iter().map(|&p| round(p)).collect();
        self.area.draw(&PathElement::new(points, color.stroke_width(width.round() as u32))).map_err(refused)
    }

    /// A filled shape.
    pub(super) fn shape(&self, points: &[(f64, f64)], color: RGBColor) -> Result<(), ReportError> {
        let points: Vec<_> = points.iter().map(|&p| round(p)).collect();
        self.area.draw(&Polygon::new(points, color.filled())).map_err(refused)
    }

    /// A circle, filled or as a ring.
    pub(super) fn circle(
        &self,
        at: (f64, f64),
        r: f64,
        color: RGBColor,
        fill: bool,
    ) -> Result<(), ReportError> {
        let style = ShapeStyle { color: color.to_rgba(), filled: fill, stroke_width: 20 };
        self.area.draw(&Circle::new(round(at), r.round() as i32, style)).map_err(refused)
    }

    /// A text whose baseline starts, centres or ends at a point.
    pub(super) fn text(&self, text: &str, at: (f64, f64), look: Look) -> Result<(), ReportError> {
        let font =
            FontDesc::new(FontFamily::Name(font::STACK), look.size * PLOTTERS_FONT_RATIO, weight(look));
        let font = if look.upright { font.transform(FontTransform::Rotate270) } else { font };
        let down = PLOTTERS_TOP * look.size;
        let at = if look.upright { (at.0 - down, at.1) } else { (at.0, at.1 - down) };
        let style = TextStyle::from(font).color(&look.color).pos(Pos::new(look.align, VPos::Top));
        self.area.draw(&Text::new(clean(text), round(at), style)).map_err(refused)
    }
}

/// The drawing library's refusal in our words.
fn refused(error: impl std::fmt::Display) -> ReportError {
    ReportError::Draw(error.to_string())
}

fn weight(look: Look) -> FontStyle {
    if look.bold { FontStyle::Bold } else { FontStyle::Normal }
}

fn round(point: (f64, f64)) -> (i32, i32) {
    (point.0.round() as i32, point.1.round() as i32)
}
