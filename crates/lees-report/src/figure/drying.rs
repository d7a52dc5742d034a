//! Content against drying time.

use super::color::{BLUE, GREY, INK, VERMILION};
use super::font::Ruler;
use super::sheet::{Look, PT, Pen, Sheet, mm};
use super::{Svg, font};
use crate::{ReportError, number};
use plotters::style::RGBColor;
use plotters::style::text_anchor::HPos;

/// A value in wt% with its 95 % interval after some hours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DryingPoint {
    /// Hours since drying began.
    pub hours: f64,
    /// Content.
    pub wt_percent: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// What the chart shows.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct DryingChart {
    /// What dries, such as `all volatiles`.
    pub title: String,
    /// The measured contents.
    pub points: Vec<DryingPoint>,
    /// The fitted law with its 95 % band, in order of time.
    pub curve: Vec<DryingPoint>,
    /// The limit, wt%.
    pub limit: Option<f64>,
    /// When the limit is expected to be reached, hours.
    pub reached: Option<f64>,
}

/// Light fill of the band, which still differs from paper in grey print.
const BAND: RGBColor = RGBColor(0xd9, 0xe6, 0xf2);
/// What the band is called.
const BAND_WORDS: &str = "fit with 95 % band";
/// Width of the fitted law, in units.
const LAW: f64 = 25.0;
/// Font size in points.
const TEXT_PT: f64 = 8.0;
/// Width and height in mm: a journal column.
const SIZE_MM: (f64, f64) = (84.0, 64.0);
/// Left, top, right and bottom margins in mm.
const MARGINS_MM: (f64, f64, f64, f64) = (14.0, 10.5, 4.0, 12.0);
/// Height of the line that says what is drawn, over everything that is, in mm.
const KEY_MM: f64 = 8.2;
/// Width of a sample in that line, and of the paper behind it and behind its words, in mm.
const SAMPLE_MM: (f64, f64, f64) = (6.0, 1.2, 4.0);
/// A dash and the paper behind it, in mm.
const DASH_MM: (f64, f64) = (2.0, 1.5);
/// About as many numbers on an axis.
const NUMBERS: f64 = 6.0;

/// Draws the chart.
///
/// ```
/// use lees_report::figure::{DryingChart, DryingPoint, drying};
/// let point = |hours, wt_percent| DryingPoint { hours, wt_percent, low: 0.9 * wt_percent, high: 1.1 * wt_percent };
/// let points = vec![point(0.0, 2.0), point(2.0, 0.9), point(6.0, 0.2)];
/// let svg = drying(&DryingChart { points, limit: Some(0.5), ..DryingChart::default() })?;
/// assert!(svg.as_str().contains("drying time / h"));
/// # Ok::<(), lees_report::ReportError>(())
/// ```
///
/// # Errors
/// [`ReportError`] when there is no point or the drawing library refuses.
pub fn drying(chart: &DryingChart) -> Result<Svg, ReportError> {
    if chart.points.is_empty() {
        return Err(ReportError::Empty);
    }
    let frame = Frame::of(chart);
    let mut sheet = Sheet::new(mm(SIZE_MM.0), mm(SIZE_MM.1));
    sheet.group("band", &[], |pen| frame.band(pen, chart))?;
    sheet.group("axes", &[], |pen| frame.axes(pen))?;
    sheet.group("limit", &[], |pen| frame.limit(pen, chart))?;
    sheet.group("points", &[], |pen| frame.points(pen, chart))?;
    let heading = Look::new(TEXT_PT * PT, INK).bold().align(HPos::Left);
    sheet.group("heading", &[], |pen| pen.text(&chart.title, (frame.left, mm(4.0)), heading))?;
    let ruler = Ruler::new()?;
    sheet.group("key", &[], |pen| frame.key(pen, chart, &ruler))?;
    Ok(sheet.finish(&format!("Drying: {}", chart.title), &font::css()))
}

/// From hours and wt% to places on the sheet.
struct Frame {
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
    hours: f64,
    content: f64,
}

impl Frame {
    fn of(chart: &DryingChart) -> Self {
        let all = || chart.points.iter().chain(&chart.curve);
        let hours = all().map(|p| p.hours).chain(chart.reached).fold(0.0, f64::max).max(1.0);
        let highest = chart.points.iter().map(|p| p.high).chain(chart.curve.iter().map(|p| p.wt_percent));
        let content = highest.chain(chart.limit).fold(0.0, f64::max).max(1e-3);
        let (left, top, right, bottom) = MARGINS_MM;
        Self {
            left: mm(left),
            right: mm(SIZE_MM.0 - right),
            top: mm(top),
            bottom: mm(SIZE_MM.1 - bottom),
            hours: 1.03 * hours,
            content: 1.08 * content,
        }
    }

    fn x(&self, hours: f64) -> f64 {
        self.left + (self.right - self.left) * (hours / self.hours).clamp(0.0, 1.0)
    }

    fn y(&self, content: f64) -> f64 {
        self.bottom - (self.bottom - self.top) * (content / self.content).clamp(0.0, 1.0)
    }

    fn band(&self, pen: &Pen<'_, '_>, chart: &DryingChart) -> Result<(), ReportError> {
        if chart.curve.len() < 2 {
            return Ok(());
        }
        let upper = chart.curve.iter().map(|p| (self.x(p.hours), self.y(p.high)));
        let lower = chart.curve.iter().rev().map(|p| (self.x(p.hours), self.y(p.low)));
        pen.shape(&upper.chain(lower).collect::<Vec<_>>(), BAND)?;
        let law: Vec<_> = chart.curve.iter().map(|p| (self.x(p.hours), self.y(p.wt_percent))).collect();
        pen.path(&law, LAW, BLUE)
    }

    fn axes(&self, pen: &Pen<'_, '_>) -> Result<(), ReportError> {
        let corner = [(self.left, self.top), (self.left, self.bottom), (self.right, self.bottom)];
        pen.path(&corner, 18.0, INK)?;
        let look = Look::new(TEXT_PT * PT, INK);
        for (value, text) in numbers(self.hours) {
            let x = self.x(value);
            pen.path(&[(x, self.bottom), (x, self.bottom + mm(1.0))], 18.0, INK)?;
            pen.text(&text, (x, self.bottom + mm(4.3)), look)?;
        }
        for (value, text) in numbers(self.content) {
            let y = self.y(value);
            pen.path(&[(self.left - mm(1.0), y), (self.left, y)], 18.0, INK)?;
            pen.text(&text, (self.left - mm(1.8), y + mm(1.0)), look.align(HPos::Right))?;
        }
        pen.text("drying time / h", ((self.left + self.right) / 2.0, self.bottom + mm(9.0)), look)?;
        let middle = (self.top + self.bottom) / 2.0 + mm(7.0);
        pen.text("content / wt%", (mm(4.0), middle), look.upright())
    }

    fn limit(&self, pen: &Pen<'_, '_>, chart: &DryingChart) -> Result<(), ReportError> {
        let Some(limit) = chart.limit else { return Ok(()) };
        let y = self.y(limit);
        dashed(pen, self.left, self.right, y)?;
        if let Some(hours) = chart.reached {
            let x = self.x(hours);
            pen.path(&[(x, y), (x, self.bottom)], 12.0, GREY)?;
        }
        Ok(())
    }

    /// Says over the chart, where nothing else is drawn, what the band and the dashes are.
    fn key(&self, pen: &Pen<'_, '_>, chart: &DryingChart, ruler: &Ruler) -> Result<(), ReportError> {
        let size = TEXT_PT * PT;
        let (foot, middle) = (mm(KEY_MM), mm(KEY_MM) - 0.26 * size);
        let (sample, gap, apart) = (mm(SAMPLE_MM.0), mm(SAMPLE_MM.1), mm(SAMPLE_MM.2));
        let mut x = self.left;
        let look = Look::new(size, INK).align(HPos::Left);
        if chart.curve.len() > 1 {
            let half = 0.4 * size;
            let (top, bottom, end) = (middle - half, middle + half, x + sample);
            pen.shape(&[(x, top), (end, top), (end, bottom), (x, bottom)], BAND)?;
            pen.path(&[(x, middle), (end, middle)], LAW, BLUE)?;
            pen.text(BAND_WORDS, (end + gap, foot), look)?;
            x = end + gap + ruler.width(BAND_WORDS, size, false) + apart;
        }
        if let Some(limit) = chart.limit {
            dashed(pen, x, x + sample, middle)?;
            let text = format!("limit {} wt%", number::limit(limit));
            pen.text(&text, (x + sample + gap, foot), Look::new(size, VERMILION).align(HPos::Left))?;
        }
        Ok(())
    }

    fn points(&self, pen: &Pen<'_, '_>, chart: &DryingChart) -> Result<(), ReportError> {
        for point in &chart.points {
            let x = self.x(point.hours);
            pen.path(&[(x, self.y(point.low)), (x, self.y(point.high))], 18.0, INK)?;
            pen.circle((x, self.y(point.wt_percent)), mm(0.9), INK, true)?;
        }
        Ok(())
    }
}

/// The line of the limit between two places.
fn dashed(pen: &Pen<'_, '_>, left: f64, right: f64, y: f64) -> Result<(), ReportError> {
    let mut x = left;
    while x < right {
        pen.path(&[(x, y), ((x + mm(DASH_MM.0)).min(right), y)], 18.0, VERMILION)?;
        x += mm(DASH_MM.0 + DASH_MM.1);
    }
    Ok(())
}

/// Round numbers from zero up to `end`.
fn numbers(end: f64) -> Vec<(f64, String)> {
    let rough = end / NUMBERS;
    let power = libm::pow(10f64, libm::log10(rough).floor());
    let step = [1.0, 2.0, 5.0, 10.0].iter().map(|m| m * power).find(|s| *s >= rough).unwrap_or(10.0 * power);
    let decimals = (-libm::log10(step).floor()).max(0.0) as usize;
    let count = (end / step + 1e-9).floor() as usize;
    (0..=count).map(|k| k as f64 * step).map(|value| (value, format!("{value:.decimals$}"))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn axes_carry_round_numbers() {
        let texts: Vec<String> = numbers(16.5).into_iter().map(|(_, text)| text).collect();
        assert_eq!(texts, ["0", "5", "10", "15"]);
        assert_eq!(numbers(0.56)[1].1, "0.1");
    }

    #[test]
    fn nothing_to_draw_is_an_error() {
        assert!(drying(&DryingChart::default()).is_err());
    }
}
